/* SPDX-License-Identifier: MIT */
/* Invented traffic of one network, for what finds its management. */
#ifndef NM_TRAFFIC_H
#define NM_TRAFFIC_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "nm-detect.h"

#define MS NOD_NS_PER_MS

/* From here on the engine believes a detection. */
#define BELIEVED 0.8

struct traffic {
	struct nod_nm_detect *detect;
	int64_t now;
	uint64_t seed;
};

static inline struct traffic traffic_new(uint64_t seed)
{
	struct traffic t = {nod_nm_detect_new(), 0, seed * 2654435761u + 88172645463325252u};

	assert_non_null(t.detect);
	return t;
}

static inline uint64_t random_next(struct traffic *t)
{
	t->seed ^= t->seed << 13;
	t->seed ^= t->seed >> 7;
	t->seed ^= t->seed << 17;
	return t->seed >> 11;
}

static inline void send(struct traffic *t, uint32_t id, uint64_t data)
{
	struct nod_frame f = {.time = {t->now}, .id = id, .length = 8};

	for (int i = 0; i < 8; i++)
		f.data[i] = (uint8_t)(data >> (56 - 8 * i));
	nod_nm_detect_feed(t->detect, &f);
}

static inline struct nod_nm_detection result_of(struct traffic *t)
{
	struct nod_nm_detection r;

	nod_nm_detect_result(t->detect, &r);
	return r;
}

/* An invented application message: constant bytes, zeros, a counter, noise. */
struct message {
	uint32_t id;
	int64_t period, next;
	uint64_t data, noise;
};

static inline void make_messages(struct traffic *t, struct message *m, unsigned count,
				 bool extended)
{
	static const int periods[] = {10, 20, 50, 100, 100, 200, 500, 1000};

	for (unsigned i = 0; i < count; i++) {
		uint64_t r = random_next(t);
		m[i] = (struct message){
			.id = (uint32_t)(extended ? NOD_ID_EXTENDED | (r & 0x1FFFFFFF) : r & 0x7FF),
			.period = periods[r >> 32 & 7] * MS,
			.next = (int64_t)(r >> 40 & 1023) * MS,
			.data = random_next(t) << 20 ^ random_next(t),
		};
		if (r >> 50 & 1) /* small constants and single bits */
			m[i].data &= m[i].data >> 1 & 0x0F1F071F0F1F071F;
		for (unsigned k = 0; k < 8; k++) { /* many bytes are zero, few change */
			uint64_t byte = UINT64_C(0xFF) << 8 * k;
			unsigned what = (unsigned)random_next(t) % 8;
			m[i].data &= what < 4 ? ~byte : ~UINT64_C(0);
			m[i].noise |= what == 7 ? byte : 0;
		}
	}
}

static inline void run_messages(struct traffic *t, struct message *m, unsigned count, int64_t until)
{
	while (t->now < until) {
		unsigned first = 0;
		for (unsigned i = 1; i < count; i++)
			if (m[i].next < m[first].next)
				first = i;
		t->now = m[first].next;
		m[first].next += m[first].period;
		send(t, m[first].id, m[first].data ^ (random_next(t) & m[first].noise));
	}
}

#endif
