/* SPDX-License-Identifier: MIT */
/* The words of the findings. */
#include "findings.h"

const char *nod_verdict_name(enum nod_verdict verdict)
{
	static const char *const names[] = {"cannot tell",
					    "sleeps in time",
					    "kept awake",
					    "woken again",
					    "draws current while asleep",
					    "slept late"};
	return names[verdict];
}

const char *nod_lock_source_name(enum nod_lock_source source)
{
	static const char *const names[] = {"start of the recording", "journal", "capture header",
					    "option"};
	return names[source];
}

const char *nod_network_state_name(enum nod_network_state state)
{
	static const char *const names[] = {"nothing heard", "awake", "asleep", "unknown"};
	return names[state];
}

const char *nod_role_name(enum nod_role role)
{
	static const char *const names[] = {"holder", "waker", "drain", "tester", "other"};
	return names[role];
}

nod_time nod_span_silence_end(const struct nod_network_finding *n, size_t i, nod_time end)
{
	return i + 1 < n->span_count             ? n->spans[i + 1].from
	       : nod_time_is_set(n->slept_until) ? n->slept_until
						 : end;
}

bool nod_span_slept_after(const struct nod_network_finding *n, size_t i)
{
	return n->spans[i].slept_after;
}

nod_duration nod_span_silence_known(const struct nod_network_finding *n, size_t i, nod_time end)
{
	const struct nod_span_finding *s = &n->spans[i];
	nod_duration all = nod_time_since(nod_span_silence_end(n, i, end), s->to);

	if (nod_time_is_set(s->hole_from))
		all.ns -= nod_time_since(s->hole_to, s->hole_from).ns;
	return all;
}
