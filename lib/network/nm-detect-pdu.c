/* SPDX-License-Identifier: MIT */
/* Whether one ID may be an AUTOSAR NM message, by itself or beside another. */
#include "autosar-nm.h"
#include "nm-detect-internal.h"

/* Frames of an ID before its bytes can be called constant. */
#define FRAMES_LEAST 3

/* Every message has an OSEK operation code, and hands a ring on or names itself: so do the
 * first ones of CanNm, with the repeat message bit, but not for long. Who does nothing but
 * name itself has a constant there. */
#define RING_FRAMES_LEAST 12

static bool is_of_a_ring(const struct nod_nm_id *id)
{
	return id->frames >= RING_FRAMES_LEAST && nod_nm_may_ring(id) &&
	       ((id->handed > 2 && id->handed > id->dropped) ||
		(id->alive && id->alive < id->operations && id->alive_base != UINT32_MAX));
}

bool nod_nm_may_be_pdu(const struct nod_nm_id *id)
{
	if (id->frames < FRAMES_LEAST || !id->one_length || id->over || is_of_a_ring(id))
		return false;
	unsigned period = nod_nm_period_ms(id);
	return !period || period >= NOD_NM_PERIOD_LEAST_MS || id->run <= 12;
}

/* What may change or differ: the two bytes at the front, one of which holds control bits,
 * and two of partial network info. */
#define FRONT UINT64_C(0xFFFF)
#define APART_MOST 2

/* Bytes that have another value in each, or change in one and never in the other. */
static unsigned bytes_apart(const struct nod_nm_id *a, const struct nod_nm_id *b)
{
	uint64_t differ = nod_nm_bytes_set((a->word ^ b->word) & ~(a->changed | b->changed));
	uint64_t one_changes = nod_nm_bytes_set(a->changed) ^ nod_nm_bytes_set(b->changed);

	return nod_nm_bytes_in((differ | one_changes) & ~FRONT);
}

bool nod_nm_is_alike(const struct nod_nm_id *a, const struct nod_nm_id *b)
{
	uint32_t away = a->id > b->id ? a->id - b->id : b->id - a->id;

	if (away > NOD_NM_BLOCK || a->length != b->length)
		return false;
	unsigned apart = bytes_apart(a, b);
	if (apart > APART_MOST || apart + NOD_NM_BARE_CHANGES > a->length)
		return false;
	unsigned p = nod_nm_period_ms(a), q = nod_nm_period_ms(b);
	return p < 2 * q && q < 2 * p;
}

/* Control bits, the value at start, or a number. */
static bool may_stand_in_front(const struct nod_nm_id *id, int byte)
{
	return !(id->bits[byte] & NOD_AUTOSAR_NM_RESERVED) || id->bits[byte] == 0xFF ||
	       nod_nm_is_constant(id, byte);
}

bool nod_nm_may_be_bare(const struct nod_nm_id *id)
{
	return nod_nm_may_be_pdu(id) && nod_nm_period_ms(id) >= NOD_NM_BARE_PERIOD_LEAST_MS &&
	       nod_nm_bytes_changed(id) <= NOD_NM_BARE_CHANGES && may_stand_in_front(id, 0) &&
	       may_stand_in_front(id, 1);
}
