/* SPDX-License-Identifier: MIT */
/* `nodoff vehicle import`. argv[0] is "import"; returns an exit status. */
#ifndef NOD_VEHICLE_IMPORT_H
#define NOD_VEHICLE_IMPORT_H

int nod_vehicle_import_command(int argc, char **argv);

#endif
