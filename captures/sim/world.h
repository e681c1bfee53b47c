/* SPDX-License-Identifier: MIT */
/* Worlds: what cars have in common that were made after one way of thinking. World 1 is
 * the one that strengths were tuned in; the others differ in structure. */
#ifndef SIM_WORLD_H
#define SIM_WORLD_H

#include "sim.h"

/* In percent of the cases, where nothing else is said. 0 everywhere: world 1. */
struct sim_world {
	const char *help;
	bool independent; /* a gateway passes messages on, but lets each network sleep by itself,
			   * unless the situation is about just that */
	unsigned line;    /* of networks without NM that a master or producers would rule: units
			   * stay up while one of them holds a wake-up line, and then run on */
	unsigned thins;   /* of networks without NM: who needs it no more says less */
	int run_on_s[2];  /* how long units run on */
	int startup_ms[2];
	unsigned same_id;      /* of routed messages: they keep their ID */
	unsigned value_parked; /* of measured values: they move in a parked car */
	unsigned flickers;     /* of messages: the lowest bit of a steady value comes and goes */
	unsigned blinks;       /* of messages: a lamp or a heartbeat in an innocent's data */
	unsigned pages;        /* of messages: contents take turns */
	unsigned states;       /* of messages: an input moves a whole byte */
	unsigned clocks;       /* of messages: a clock's seconds */
	bool drops; /* who needs a network no more leaves messages out, at the old pace */
	unsigned map_missing, map_moved; /* of lines of the map */
	int late_mark_s;                 /* a person writes down what was done so late, at most */
	unsigned holes;                  /* of recordings: a short time in which nobody listened */
	unsigned people;                 /* of cars: a door that nobody noted while it settles */
};

#define SIM_WORLDS 4
extern const struct sim_world sim_worlds[SIM_WORLDS];

/* Changes the invented car; `passes_on`: its situation needs a gateway that ties the
 * networks together. */
void sim_world_shape(struct sim *sim, bool passes_on);

/* Changes what a person and the recording do, once the situation is laid out. */
void sim_world_disturb(struct sim *sim);

/* What the map says of a message: its line is missing, or it stands at another module
 * (the index of which is returned); the module itself when all is well, -1: missing. */
int sim_world_mapped(const struct sim *sim, int message);
bool sim_world_node_mapped(const struct sim *sim, int module);

#endif
