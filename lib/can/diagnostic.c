/* SPDX-License-Identifier: MIT */
#include "diagnostic.h"

#define TESTER_ADDRESS 0xF1
#define TESTER_PRESENT 0x3E /* ISO 14229-1, as tabled in a published article */
#define ANSWER_BIT 0x40     /* service identifiers of answers; from memory */

static struct nod_isotp single(const struct nod_frame *f)
{
	unsigned length = f->data[0] & 15u, start = 1;

	if (!length && f->length > 8) {
		length = f->data[1];
		start = 2;
		if (length <= 7) /* would have fitted the short form */
			return (struct nod_isotp){0};
	}
	if (!length || length + start > f->length || length > 62)
		return (struct nod_isotp){0};
	return (struct nod_isotp){NOD_ISOTP_SINGLE, length, (uint8_t)start, 0};
}

static struct nod_isotp first(const struct nod_frame *f)
{
	uint32_t length = (f->data[0] & 15u) << 8 | f->data[1];
	uint8_t start = 2;

	if (f->length < 8)
		return (struct nod_isotp){0};
	if (!length) {
		length = (uint32_t)f->data[2] << 24 | (uint32_t)f->data[3] << 16 |
			 (uint32_t)f->data[4] << 8 | f->data[5];
		start = 6;
		if (length <= 4095)
			return (struct nod_isotp){0};
	}
	if (length <= (f->length > 8 ? f->length - 2u : 7u)) /* would have fitted a single frame */
		return (struct nod_isotp){0};
	return (struct nod_isotp){NOD_ISOTP_FIRST, length, start, 0};
}

struct nod_isotp nod_isotp_decode(const struct nod_frame *f)
{
	uint8_t number = f->data[0] & 15;

	if (f->length < 2 || f->length > 64)
		return (struct nod_isotp){0};
	switch (f->data[0] >> 4) {
	case 0:
		return single(f);
	case 1:
		return first(f);
	case 2:
		return (struct nod_isotp){NOD_ISOTP_CONSECUTIVE, 0, 0, number};
	case 3:
		if (f->length >= 3 && number <= 2)
			return (struct nod_isotp){NOD_ISOTP_FLOW_CONTROL, 0, 0, number};
	}
	return (struct nod_isotp){0};
}

enum direction { NOBODY, TO_ALL, TO_ONE, FROM_MODULE };

static enum direction direction_of(uint32_t id)
{
	if (id & NOD_ID_EXTENDED) {
		uint32_t target = id >> 8 & 255, source = id & 255;
		if ((id & UINT32_C(0x1FFF0000)) == UINT32_C(0x18DB0000))
			return source == TESTER_ADDRESS ? TO_ALL : NOBODY;
		if (source == TESTER_ADDRESS && target != TESTER_ADDRESS)
			return TO_ONE;
		return target == TESTER_ADDRESS && source != TESTER_ADDRESS ? FROM_MODULE : NOBODY;
	}
	return id == 0x7DF ? TO_ALL : id & 8 ? FROM_MODULE : TO_ONE;
}

static bool is_keep_alive(const struct nod_frame *f, const struct nod_isotp *tp)
{
	return tp->kind == NOD_ISOTP_SINGLE && tp->length == 2 &&
	       f->data[tp->start] == TESTER_PRESENT && !(f->data[tp->start + 1] & 0x7F);
}

/* TesterPresent without a number of its own, with one that asks for an answer or for none (ISO
 * 14229-1: 00h and 80h; its forerunner ISO 14230-3: none, 01h, 02h; from memory). */
static bool is_present(const uint8_t *message, unsigned length)
{
	if (length < 1 || length > 2 || message[0] != TESTER_PRESENT)
		return false;
	return length == 1 || !(message[1] & 0x7F) || message[1] == 1 || message[1] == 2;
}

/* What fills a frame is the same byte throughout (ISO 15765-2; from memory). */
static bool is_filled(const struct nod_frame *f, unsigned from)
{
	for (unsigned i = from + 1; i < f->length; i++)
		if (f->data[i] != f->data[from])
			return false;
	return true;
}

bool nod_diagnostic_is_presence(const struct nod_frame *frame)
{
	for (unsigned at = 0; at < 2; at++) {
		unsigned length = at + 1 < frame->length ? frame->data[at] : 0;
		if (length && at + 1 + length <= frame->length && frame->length <= 8 &&
		    is_present(frame->data + at + 1, length) && is_filled(frame, at + 1 + length))
			return true;
	}
	return false;
}

/* Whether a visible service identifier fits the direction. */
static bool service_fits(const struct nod_frame *f, const struct nod_isotp *tp,
			 enum direction direction)
{
	if (tp->kind != NOD_ISOTP_SINGLE && tp->kind != NOD_ISOTP_FIRST)
		return true;
	uint8_t service = f->data[tp->start];
	return direction == FROM_MODULE ? (service & ANSWER_BIT) != 0 : !(service & ANSWER_BIT);
}

enum nod_diagnostic_kind nod_diagnostic_classify(const struct nod_frame *frame)
{
	if (frame->id & (NOD_ID_REMOTE | NOD_ID_ERROR) || !nod_diagnostic_may_be(frame->id))
		return NOD_DIAGNOSTIC_NONE;
	enum direction direction = direction_of(frame->id);
	struct nod_isotp tp = nod_isotp_decode(frame);

	if (direction == NOBODY || tp.kind == NOD_ISOTP_INVALID ||
	    !service_fits(frame, &tp, direction))
		return NOD_DIAGNOSTIC_NONE;
	if (direction == FROM_MODULE)
		return NOD_DIAGNOSTIC_RESPONSE;
	if (is_keep_alive(frame, &tp))
		return NOD_DIAGNOSTIC_KEEP_ALIVE;
	if (direction == TO_ONE)
		return NOD_DIAGNOSTIC_PHYSICAL;
	/* What is sent to all must fit one frame: nobody could control the flow. */
	return tp.kind == NOD_ISOTP_SINGLE ? NOD_DIAGNOSTIC_FUNCTIONAL : NOD_DIAGNOSTIC_NONE;
}
