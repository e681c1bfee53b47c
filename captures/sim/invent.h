/* SPDX-License-Identifier: MIT */
/* Inventing a vehicle: networks, modules, IDs, fuses, from the seed. */
#ifndef SIM_INVENT_H
#define SIM_INVENT_H

#include "sim.h"

/* What a situation needs of the vehicle; the rest is left to the seed. */
struct sim_wish {
	int scheme;   /* enum nod_nm_scheme of the network concerned, -1: any */
	int follow;   /* enum sim_follow, -1: any */
	bool gateway; /* there must be one */
	bool no_gateway;
	bool partial; /* AUTOSAR partial networking */
	bool truck;
	bool hidden;   /* one more network that the adapter does not reach */
	unsigned tags; /* some module with these tags must exist */
};

/* Fills in the vehicle; returns the index of the network concerned. */
int sim_invent(struct sim *sim, const struct sim_wish *wish);

/* Parts of it, in this order. */
void sim_invent_networks(struct sim *sim, const struct sim_wish *wish, int concerned);
void sim_invent_modules(struct sim *sim, const struct sim_wish *wish);
void sim_invent_fuses(struct sim *sim);
void sim_invent_messages(struct sim *sim);

/* Stretches periods so that a session stays near sim->frame_target frames; by
 * as much whatever happens to the car, so that its recordings compare. */
void sim_invent_thin(struct sim *sim);

#endif
