/* SPDX-License-Identifier: MIT */
/* Vehicle files that are refused, and where and why. */
#ifndef REFUSED_H
#define REFUSED_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "vehicle.h"

#define NETWORK "networks:\n  body: { interfaces: [can0] }\n"

struct bad {
	const char *text, *place, *says;
};

static inline void check(const char *text, size_t length, const char *place, const char *says)
{
	struct nod_error err = {""};
	struct nod_vehicle *v = nod_vehicle_parse(text, length, "car.yaml", &err);

	if (v || errno != EINVAL || strncmp(err.text, place, strlen(place)) ||
	    !strstr(err.text, says))
		fail_msg("\"%s\" (errno %d) lacks %s ... %s in:\n%.300s", err.text, errno, place,
			 says, text);
}

static inline void check_all(const struct bad *cases, size_t count)
{
	for (size_t i = 0; i < count; i++)
		check(cases[i].text, strlen(cases[i].text), cases[i].place, cases[i].says);
}
#define CHECK_ALL(cases) check_all(cases, sizeof(cases) / sizeof((cases)[0]))

#endif
