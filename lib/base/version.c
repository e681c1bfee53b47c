/* SPDX-License-Identifier: MIT */
#include "version.h"

const char *nod_version(void)
{
	return NOD_VERSION;
}
