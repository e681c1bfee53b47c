/* SPDX-License-Identifier: MIT */
/* Words of the live view, for its screen and its events. */
#include <limits.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "client.h"
#include "live-screen.h"

/* a - b, as far as it fits: times come from the other end of a socket. */
long long nod_live_between(long long a, long long b)
{
	long long result;

	if (!__builtin_sub_overflow(a, b, &result) && result != LLONG_MIN)
		return result;
	return a < b ? -LLONG_MAX : LLONG_MAX;
}

const char *nod_live_clock(char buf[16], long long ns)
{
	time_t seconds = (time_t)(ns / NOD_NS_PER_S);
	struct tm local;

	buf[0] = 0;
	if (ns != INT64_MIN && localtime_r(&seconds, &local))
		strftime(buf, 16, "%H:%M:%S", &local);
	return buf;
}

const char *nod_live_span(char buf[NOD_TIME_TEXT], long long ns)
{
	/* whole seconds: nothing on the screen should flicker */
	return nod_duration_print(buf, (nod_duration){ns / NOD_NS_PER_S * NOD_NS_PER_S});
}

const char *nod_live_state(const json_t *network)
{
	if (!nod_client_true(network, "listening"))
		return "not listening";
	if (!strcmp(nod_client_text(network, "state"), "nothing heard"))
		return "nothing heard here";
	return nod_client_text(network, "state");
}

const char *nod_live_time_left(char buf[NOD_TIME_TEXT + 16], const json_t *view,
			       const json_t *network)
{
	long long deadline = nod_client_integer(network, "deadline_ns");
	long long left = nod_live_between(deadline, nod_client_integer(view, "now_ns"));
	char length[NOD_TIME_TEXT];

	buf[0] = 0;
	if (deadline == INT64_MIN || !strcmp(nod_live_state(network), "asleep"))
		return buf; /* it has done what was expected */
	if (left >= 0)
		return strcpy(buf, nod_live_span(length, left));
	snprintf(buf, NOD_TIME_TEXT + 16, "over by %s", nod_live_span(length, -left));
	return buf;
}
