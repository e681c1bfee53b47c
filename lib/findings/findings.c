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
