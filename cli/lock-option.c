/* SPDX-License-Identifier: MIT */
#include "lock-option.h"

#include <stdio.h>

#include "command.h"
#include "when.h"

/* Chosen: an evening's lock and a recording from the next day's noon on. */
#define BEFORE_MAX_S (24 * 3600)

int nod_lock_parse(nod_time *lock, const char *option, const char *text, nod_time start,
		   nod_time end)
{
	struct nod_when_base base = {.lock = start, .start = start, .end = end};
	struct nod_error err = {""};
	char when[NOD_WHEN_TEXT], apart[NOD_TIME_TEXT];

	if (nod_when_parse(lock, text, &base, &err))
		return nod_usage(NULL, "%s: %s", option, err.text);
	nod_duration before = nod_time_since(start, *lock);
	if (before.ns <= BEFORE_MAX_S * NOD_NS_PER_S)
		return NOD_EXIT_OK;
	return nod_usage(NULL,
			 "%s: `%s` is %s, %s before the recording begins; if that is meant, "
			 "say %s start: what was not recorded says nothing",
			 option, text, nod_when_print(when, *lock, NULL),
			 nod_duration_print(apart, before), option);
}
