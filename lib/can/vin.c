/* SPDX-License-Identifier: MIT */
#include "vin.h"

#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "id-table.h"

/* Frames that one VIN may be spread over: at least one character each. */
#define CHAIN_MAX 32

/* Different characters and digits that a VIN has at least. */
#define DIFFERENT_MIN 6
#define DIGITS_MIN 4

struct part {
	uint64_t frame; /* place in the order of all frames */
	uint64_t bytes; /* bit n: byte n */
};

/* A run of characters that goes on through the last frames of one ID. */
struct chain {
	struct part parts[CHAIN_MAX];
	unsigned count;
	unsigned length; /* characters */
	uint64_t seen;   /* characters among them, as bits */
	unsigned digits;
	bool letter, noted; /* noted: the parts so far are in the list already */
};

struct ident {
	struct chain chains[2]; /* without and with a byte in front of every part */
};

struct nod_vin_finder {
	struct ident *idents;
	size_t ident_count, ident_room;
	struct nod_id_table numbers; /* of idents: index + 1 */
	struct part *found;
	size_t found_count, found_room, next;
	uint64_t frames;
};

static int character(unsigned c)
{
	if (c >= '0' && c <= '9')
		return (int)(c - '0');
	if (c >= 'A' && c <= 'Z' && c != 'I' && c != 'O' && c != 'Q')
		return (int)(c - 'A') + 10;
	return -1;
}

static void chain_clear(struct chain *chain)
{
	chain->count = chain->length = chain->digits = 0;
	chain->seen = 0;
	chain->letter = chain->noted = false;
}

static void chain_take(struct chain *chain, const uint8_t *bytes, unsigned from, unsigned to)
{
	for (unsigned i = from; i < to; i++) {
		int c = character(bytes[i]);
		chain->length++;
		chain->seen |= UINT64_C(1) << c;
		chain->digits += c < 10;
		chain->letter |= c >= 10;
	}
}

static bool chain_is_vin(const struct chain *chain)
{
	return chain->length >= NOD_VIN_LENGTH && chain->letter && chain->digits >= DIGITS_MIN &&
	       __builtin_popcountll(chain->seen) >= DIFFERENT_MIN;
}

unsigned nod_vin_mask_text(char *text)
{
	unsigned found = 0;

	for (size_t i = 0; text[i];) {
		struct chain chain = {.count = 0};
		size_t begin = i;
		while (character((unsigned char)text[i]) >= 0)
			i++;
		if (i == begin) {
			i++;
			continue;
		}
		chain_take(&chain, (const uint8_t *)text, (unsigned)begin, (unsigned)i);
		if (chain_is_vin(&chain)) {
			memset(text + begin, NOD_VIN_MASK, i - begin);
			found++;
		}
	}
	return found;
}

struct nod_vin_finder *nod_vin_finder_new(void)
{
	return calloc(1, sizeof(struct nod_vin_finder));
}

void nod_vin_finder_free(struct nod_vin_finder *finder)
{
	if (!finder)
		return;
	free(finder->idents);
	nod_id_table_free(&finder->numbers);
	free(finder->found);
	free(finder);
}

/* Room for one more, cleared. */
static struct ident *add_ident(struct nod_vin_finder *finder)
{
	if (finder->ident_count == finder->ident_room) {
		size_t room = finder->ident_room ? 2 * finder->ident_room : 64;
		struct ident *grown = reallocarray(finder->idents, room, sizeof(*grown));
		if (!grown)
			return NULL;
		finder->idents = grown;
		finder->ident_room = room;
	}
	return memset(&finder->idents[finder->ident_count], 0, sizeof(struct ident));
}

static struct ident *find_ident(struct nod_vin_finder *finder, uint32_t id, uint8_t interface)
{
	uint32_t number = nod_id_table_find(&finder->numbers, interface, id);

	if (number)
		return &finder->idents[number - 1];
	struct ident *ident = add_ident(finder);
	if (!ident ||
	    nod_id_table_add(&finder->numbers, interface, id, (uint32_t)finder->ident_count + 1))
		return NULL;
	finder->ident_count++;
	return ident;
}

static int note(struct nod_vin_finder *finder, struct part part)
{
	if (finder->found_count == finder->found_room) {
		size_t room = finder->found_room ? 2 * finder->found_room : 64;
		struct part *grown = reallocarray(finder->found, room, sizeof(*grown));
		if (!grown)
			return -ENOMEM;
		finder->found = grown;
		finder->found_room = room;
	}
	finder->found[finder->found_count++] = part;
	return 0;
}

static uint64_t bits(unsigned from, unsigned to)
{
	return (to == 64 ? UINT64_MAX : (UINT64_C(1) << to) - 1) & ~((UINT64_C(1) << from) - 1);
}

/* Adds a run to the chain, and notes its parts once it is a VIN. */
static int chain_add(struct nod_vin_finder *finder, struct chain *chain, const uint8_t *bytes,
		     unsigned from, unsigned to)
{
	if (from == to)
		return 0;
	if (chain->count == CHAIN_MAX)
		chain_clear(chain);
	chain->parts[chain->count++] = (struct part){finder->frames, bits(from, to)};
	chain_take(chain, bytes, from, to);
	if (!chain_is_vin(chain))
		return 0;
	for (unsigned i = chain->noted ? chain->count - 1 : 0; i < chain->count; i++)
		if (note(finder, chain->parts[i]))
			return -ENOMEM;
	chain->noted = true;
	return 0;
}

/* Takes a frame into the chain of which every part begins at byte `head`. */
static int chain_feed(struct nod_vin_finder *finder, struct chain *chain,
		      const struct nod_frame *frame, unsigned head)
{
	unsigned length = frame->length, i = head < length ? head : length;
	int result = 0;

	/* What goes on from the frame before, then the runs after it. */
	while (!result && i < length) {
		unsigned begin = i;
		while (i < length && character(frame->data[i]) >= 0)
			i++;
		result = chain_add(finder, chain, frame->data, begin, i);
		if (i < length)
			chain_clear(chain);
		i++;
	}
	return result;
}

int nod_vin_finder_feed(struct nod_vin_finder *finder, const struct nod_frame *frame)
{
	int result = 0;

	if (!(frame->id & (NOD_ID_REMOTE | NOD_ID_ERROR)) && frame->length) {
		struct ident *ident = find_ident(finder, frame->id, frame->interface);
		if (!ident)
			return -ENOMEM;
		for (unsigned head = 0; !result && head < 2; head++)
			result = chain_feed(finder, &ident->chains[head], frame, head);
	}
	finder->frames++;
	return result;
}

static int compare(const void *a, const void *b)
{
	uint64_t x = ((const struct part *)a)->frame, y = ((const struct part *)b)->frame;

	return x < y ? -1 : x > y;
}

size_t nod_vin_finder_finish(struct nod_vin_finder *finder)
{
	size_t frames = 0;

	if (finder->found_count)
		qsort(finder->found, finder->found_count, sizeof(*finder->found), compare);
	for (size_t i = 0; i < finder->found_count; i++)
		frames += !i || finder->found[i].frame != finder->found[i - 1].frame;
	finder->frames = 0;
	return frames;
}

void nod_vin_mask_frame(struct nod_vin_finder *finder, struct nod_frame *frame)
{
	for (; finder->next < finder->found_count &&
	       finder->found[finder->next].frame == finder->frames;
	     finder->next++)
		for (unsigned i = 0; i < frame->length; i++)
			if (finder->found[finder->next].bytes >> i & 1)
				frame->data[i] = NOD_VIN_MASK;
	finder->frames++;
}
