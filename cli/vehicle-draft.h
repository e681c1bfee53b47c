/* SPDX-License-Identifier: MIT */
/* `nodoff vehicle draft`. */
#ifndef NOD_VEHICLE_DRAFT_H
#define NOD_VEHICLE_DRAFT_H

/* argv[0] is "draft". Returns an exit status. */
int nod_vehicle_draft_command(int argc, char **argv);

#endif
