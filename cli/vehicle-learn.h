/* SPDX-License-Identifier: MIT */
/* `nodoff vehicle learn`. argv[0] is "learn"; returns an exit status. */
#ifndef NOD_VEHICLE_LEARN_H
#define NOD_VEHICLE_LEARN_H

int nod_vehicle_learn_command(int argc, char **argv);

#endif
