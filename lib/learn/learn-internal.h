/* SPDX-License-Identifier: MIT */
/* Shared by the parts of the learning. Internal. */
#ifndef NOD_LEARN_INTERNAL_H
#define NOD_LEARN_INTERNAL_H

#include <stdio.h>

#include "arena.h"
#include "isolation.h"
#include "learn.h"

/* What the isolations of one subject say of one ID. */
struct nod_learn_link {
	struct nod_learn_link *next;
	int subject;
	/* Natural logs of the probabilities of what was seen: it hangs on the
	 * subject; does not, and it was accident; or it follows what does. */
	double belongs, accident, follows;
	bool follower; /* in one isolation at least there was something to follow */
	unsigned silent, went_on, came_back;
	unsigned clear; /* silent ones in which there was nothing to follow */
	double missed;
	nod_duration after_refit; /* of the latest silence: from the mark to the first frame */
	bool back;                /* ... and whether there was one in time */
};

/* A start or stop of an ID that the network did not share. */
struct nod_learn_edge {
	unsigned session;
	bool start;
	nod_time time;
	int64_t silent_ns; /* time the network was awake in the silence it bounds */
};

/* Chosen: more starts and stops say no more about who belongs together. */
#define NOD_LEARN_EDGES 64

struct nod_learn_id {
	const char *network;
	uint32_t id;
	int source_address; /* -1 */
	bool tester;
	struct nod_learn_link *links;
	struct nod_learn_edge *edges;
	size_t edge_count;
	int64_t interval_ns; /* the longest mean interval of any session; 0: unknown */
	int64_t awake_ns;    /* of its network, in the sessions in which it was heard */
	bool dropped_edges;
};

struct nod_learn_subject {
	const char *name;
	enum nod_learned_kind kind;
	unsigned isolations, judged;
};

struct nod_learn {
	struct nod_arena arena;
	unsigned sessions;
	struct nod_learn_id **ids; /* in order of appearance */
	size_t id_count, id_room;
	void *tree; /* the same, by network and ID (tsearch) */
	struct nod_learn_subject *subjects;
	size_t subject_count, subject_room;
	struct nod_learned_input *inputs; /* every bit that moved */
	size_t input_count, input_room;
	struct nod_lesson lesson;
	struct nod_arena conclusions;
};

/* One more item in an array: room is grown as needed. 0 or -ENOMEM. */
int nod_learn_grow(void **items, size_t count, size_t *room, size_t size);

/* The record of an ID, made when new; NULL when memory ran out. */
struct nod_learn_id *nod_learn_id(struct nod_learn *learn, const char *network, uint32_t id);

/* learn-isolations.c, learn-groups.c, learn-inputs.c: what one recording adds, of
 * one heard ID or of all; and what follows from all of them. */
int nod_learn_isolations_add(struct nod_learn *learn, const struct nod_findings *f,
			     const struct nod_heard *heard, const struct nod_interfaces *names);
int nod_learn_edges_add(struct nod_learn *learn, struct nod_learn_id *id,
			const struct nod_findings *f, const struct nod_network_finding *n,
			const struct nod_heard_id *heard);
int nod_learn_inputs_add(struct nod_learn *learn, const struct nod_findings *f);
int nod_learn_groups_conclude(struct nod_learn *learn, const struct nod_vehicle *vehicle);
int nod_learn_inputs_conclude(struct nod_learn *learn);

/* Lines about the inputs of a lesson, and signals for those without one. */
void nod_learn_write_inputs(FILE *out, const struct nod_lesson *lesson);

/* A remark of a vehicle file, wrapped; `lead` begins each line. */
__attribute__((format(printf, 3, 4))) void nod_learn_remark(FILE *out, const char *lead,
							    const char *format, ...);

/* A copy without control characters. Returns buf. */
const char *nod_learn_clean(char *buf, size_t size, const char *text);

/* The module of the map that claims it, NOD_NONE. */
int nod_learn_owner(const struct nod_vehicle *vehicle, const char *network, uint32_t id);

#endif
