/* SPDX-License-Identifier: MIT */
/* Which nodoff this is. */
#ifndef NOD_VERSION_H
#define NOD_VERSION_H

/* The version of the library that runs, as "0.1.0". */
const char *nod_version(void);

#endif
