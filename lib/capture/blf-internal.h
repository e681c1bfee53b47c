/* SPDX-License-Identifier: MIT */
/* Shared by the files that read BLF. */
#ifndef NOD_BLF_INTERNAL_H
#define NOD_BLF_INTERNAL_H

#include "other-log.h"
#include "source-private.h"

#define NOD_BLF_OBJECT_TIMED 32 /* with flags and time, versions 1 and 2 (the latter longer) */
#define NOD_BLF_CONTAINER 10    /* the type of a container */

struct nod_blf_source {
	struct nod_source base;
	struct nod_other_log names; /* of channels */
	int64_t start_ns;
	uint8_t *bytes; /* unpacked objects, from `at` to `end` */
	size_t at, end, room;
	uint64_t objects;
	bool ended;
};

static inline uint16_t nod_blf_u16(const uint8_t *p)
{
	return (uint16_t)(p[0] | p[1] << 8);
}

static inline uint32_t nod_blf_u32(const uint8_t *p)
{
	return (uint32_t)nod_blf_u16(p) | (uint32_t)nod_blf_u16(p + 2) << 16;
}

static inline uint64_t nod_blf_u64(const uint8_t *p)
{
	return nod_blf_u32(p) | (uint64_t)nod_blf_u32(p + 4) << 32;
}

/* 1 with an event, 0 for an object that is no frame. */
int nod_blf_take_object(struct nod_blf_source *s, const uint8_t *object, size_t size,
			const struct nod_event **event);

#endif
