/* SPDX-License-Identifier: MIT */
#include "vin-heard.h"

#include <string.h>

#include "diagnostic.h"
#include "j1939.h"

#define PGN_VEHICLE_IDENTIFICATION 0x0FEECu
#define PGN_TRANSPORT_CONTROL 0x0EC00u
#define PGN_TRANSPORT_DATA 0x0EB00u
#define CONTROL_TO_ONE 0x10u /* RTS */
#define CONTROL_TO_ALL 0x20u /* BAM */

static void count(struct nod_vin_heard *heard, const uint8_t characters[NOD_VIN_LENGTH])
{
	char vin[NOD_VIN_LENGTH + 1], whole[NOD_VIN_LENGTH + 1];

	memcpy(whole, characters, NOD_VIN_LENGTH);
	whole[NOD_VIN_LENGTH] = '\0';
	if (!nod_vin_find_text(vin, whole))
		return;
	for (unsigned i = 0; i < NOD_VINS; i++) {
		if (heard->counts[i] && strcmp(heard->vins[i], vin) != 0)
			continue;
		memcpy(heard->vins[i], vin, sizeof(vin));
		heard->counts[i]++;
		return;
	}
}

/* Takes the bytes of an answer, which began with `bytes`. */
static void take_whole(struct nod_vin_heard *heard, const uint8_t *bytes, bool j1939)
{
	static const uint8_t pid[] = {0x49, 0x02, 0x01}, identifier[] = {0x62, 0xF1, 0x90};

	if (j1939 || !memcmp(bytes, pid, 3) || !memcmp(bytes, identifier, 3))
		count(heard, bytes + (j1939 ? 0 : 3));
}

static void add(struct nod_vin_heard *heard, struct nod_vin_answer *answer, const uint8_t *bytes,
		unsigned length)
{
	for (unsigned i = 0; i < length && answer->have < answer->length; i++)
		answer->bytes[answer->have++] = bytes[i];
	if (answer->have < answer->length)
		return;
	take_whole(heard, answer->bytes, answer->j1939);
	answer->open = false;
	heard->open--;
}

static struct nod_vin_answer *find(struct nod_vin_heard *heard, uint32_t id, uint8_t interface,
				   bool j1939)
{
	for (unsigned i = 0; i < NOD_VIN_ANSWERS; i++) {
		struct nod_vin_answer *a = &heard->answers[i];
		if (a->open && a->id == id && a->interface == interface && a->j1939 == j1939)
			return a;
	}
	return NULL;
}

/* A new answer in the place of the same sender's, else of the oldest. */
static struct nod_vin_answer *begin(struct nod_vin_heard *heard, uint32_t id, uint8_t interface,
				    bool j1939)
{
	struct nod_vin_answer *a = find(heard, id, interface, j1939);

	if (!a)
		a = &heard->answers[heard->next++ % NOD_VIN_ANSWERS];
	heard->open += !a->open;
	*a = (struct nod_vin_answer){.id = id,
				     .interface = interface,
				     .number = 1,
				     .length = NOD_VIN_ANSWER_BYTES,
				     .j1939 = j1939,
				     .open = true};
	return a;
}

/* What follows in its order; out of it, the answer is lost. */
static void go_on(struct nod_vin_heard *heard, struct nod_vin_answer *a, uint8_t number,
		  const uint8_t *bytes, unsigned length)
{
	if (number == a->number) {
		a->number++;
		add(heard, a, bytes, length);
		return;
	}
	a->open = false;
	heard->open--;
}

static void take_j1939(struct nod_vin_heard *heard, const struct nod_frame *f,
		       const struct nod_j1939 *j)
{
	uint8_t control = f->data[0];
	bool data = j->pgn == PGN_TRANSPORT_DATA;
	struct nod_vin_answer *a = data ? find(heard, j->source, f->interface, true) : NULL;

	if (a)
		go_on(heard, a, f->data[0], f->data + 1, 7);
	if (data || (control != CONTROL_TO_ALL && control != CONTROL_TO_ONE) ||
	    nod_j1939_pgn_decode(f->data + 5) != PGN_VEHICLE_IDENTIFICATION)
		return;
	unsigned length = f->data[1] | (unsigned)f->data[2] << 8;
	if (length == NOD_VIN_LENGTH || length == NOD_VIN_LENGTH + 1)
		begin(heard, j->source, f->interface, true)->length = NOD_VIN_LENGTH;
}

static void take_transport(struct nod_vin_heard *heard, const struct nod_frame *f)
{
	struct nod_isotp tp = nod_isotp_decode(f);
	struct nod_vin_answer *a;

	if (tp.kind == NOD_ISOTP_SINGLE && tp.length == NOD_VIN_ANSWER_BYTES)
		take_whole(heard, f->data + tp.start, false);
	else if (tp.kind == NOD_ISOTP_FIRST && tp.length == NOD_VIN_ANSWER_BYTES)
		add(heard, begin(heard, f->id, f->interface, false), f->data + tp.start,
		    f->length - (unsigned)tp.start);
	else if (tp.kind == NOD_ISOTP_CONSECUTIVE && heard->open &&
		 (a = find(heard, f->id, f->interface, false)) != NULL)
		go_on(heard, a, tp.number, f->data + 1, f->length - 1u);
}

void nod_vin_heard_take(struct nod_vin_heard *heard, const struct nod_frame *frame)
{
	struct nod_j1939 j;

	if (frame->id & (NOD_ID_REMOTE | NOD_ID_ERROR) || frame->length < 2 || frame->length > 64)
		return;
	if (frame->length == 8 && nod_j1939_decode(&j, frame->id) &&
	    (j.pgn == PGN_TRANSPORT_CONTROL || j.pgn == PGN_TRANSPORT_DATA))
		take_j1939(heard, frame, &j);
	else
		take_transport(heard, frame);
}

const char *nod_vin_heard_text(const struct nod_vin_heard *heard)
{
	unsigned best = 0, times = 0;

	for (unsigned i = 0; i < NOD_VINS; i++) {
		if (heard->counts[i] > heard->counts[best])
			best = i;
	}
	for (unsigned i = 0; i < NOD_VINS; i++)
		times += heard->counts[i] == heard->counts[best];
	return heard->counts[best] && times == 1 ? heard->vins[best] : NULL;
}

bool nod_vin_find_text(char vin[NOD_VIN_LENGTH + 1], const char *text)
{
	char masked[NOD_VIN_LENGTH + 1];

	*vin = '\0';
	while (*text) {
		size_t length = strspn(text, "0123456789ABCDEFGHJKLMNPRSTUVWXYZ");
		if (length == NOD_VIN_LENGTH) {
			memcpy(masked, text, length);
			masked[length] = '\0';
			if (nod_vin_mask_text(masked)) {
				memcpy(vin, text, length);
				vin[length] = '\0';
				return true;
			}
		}
		text += length ? length : 1;
	}
	return false;
}
