/* SPDX-License-Identifier: MIT */
/* What modules are called, by what they do: generic functions, no makes. */
#ifndef SIM_NAMES_H
#define SIM_NAMES_H

#include <stddef.h>

enum sim_realm { SIM_REALM_BODY, SIM_REALM_DRIVE, SIM_REALM_MEDIA };

struct sim_role {
	const char *name, *place;
	const char *inputs[3];
	enum sim_realm realm;
	unsigned tags; /* enum sim_tag */
	int awake_ma_low, awake_ma_high;
	int source_address; /* trucks: the preferred address of that function */
};

extern const struct sim_role sim_car_roles[];
extern const size_t sim_car_role_count;
extern const struct sim_role sim_truck_roles[];
extern const size_t sim_truck_role_count;

#endif
