/* SPDX-License-Identifier: MIT */
#include "nm-scheme.h"

#include <assert.h>

static const struct nod_nm_scheme_row rows[] = {
	[NOD_NM_UNKNOWN] = {NOD_NM_UNKNOWN, "unknown", "none seen", "management to be detected",
			    false, false},
	[NOD_NM_NONE] = {NOD_NM_NONE, "none", "none", "no management", false, false},
	[NOD_NM_AUTOSAR] = {NOD_NM_AUTOSAR, "autosar", "AUTOSAR CanNm", "AUTOSAR NM", true, true},
	[NOD_NM_OSEK] = {NOD_NM_OSEK, "osek", "OSEK/VDX NM", "OSEK NM", true, false},
	[NOD_NM_J1939] = {NOD_NM_J1939, "j1939", "J1939 (no agreed bus sleep)", "J1939", false,
			  false},
};
_Static_assert(sizeof(rows) / sizeof(rows[0]) == NOD_NM_SCHEMES, "a row for each scheme");

const struct nod_nm_scheme_row *nod_nm_scheme_row(enum nod_nm_scheme scheme)
{
	assert(scheme < NOD_NM_SCHEMES && rows[scheme].scheme == scheme);
	return &rows[scheme];
}
