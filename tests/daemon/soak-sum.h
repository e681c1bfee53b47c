/* SPDX-License-Identifier: MIT */
/* A sum over all frames that were fed, or read again. */
#ifndef SOAK_SUM_H
#define SOAK_SUM_H

#include <stddef.h>
#include <stdint.h>

#include "frame.h"
#include "hash.h"

struct sum {
	uint64_t frames, digest;
	uint8_t heard[256]; /* interfaces by the order in which they were first heard, */
	size_t heard_count; /* as a recording that is read numbers them */
};

static inline void add_bytes(struct sum *sum, const void *data, size_t size)
{
	sum->digest = nod_hash_add(sum->digest, data, size);
}

static inline uint8_t place_of(struct sum *sum, uint8_t interface)
{
	size_t i = 0;

	while (i < sum->heard_count && sum->heard[i] != interface)
		i++;
	if (i == sum->heard_count)
		sum->heard[sum->heard_count++] = interface;
	return (uint8_t)i;
}

static inline void add_frame(struct sum *sum, const struct nod_frame *frame)
{
	int64_t us = frame->time.ns / NOD_NS_PER_US;
	uint8_t place = place_of(sum, frame->interface);

	if (!sum->frames++)
		sum->digest = UINT64_C(0xcbf29ce484222325);
	add_bytes(sum, &us, sizeof(us));
	add_bytes(sum, &frame->id, sizeof(frame->id));
	add_bytes(sum, &place, 1);
	add_bytes(sum, &frame->length, 1);
	add_bytes(sum, frame->data, frame->length);
}

#endif
