#include "late.h"

#include <errno.h>
#include <stdlib.h>

#include "journal.h"

/* As the engine does: in use from "unlocked" to the next lock. */
static bool restarts(enum nod_mark_kind kind)
{
	return nod_mark_disturbs(kind) || kind == NOD_MARK_TESTER_OFF;
}

struct nod_late *nod_late_of(const struct nod_findings *f, const struct nod_network_finding *n,
			     size_t *count)
{
	struct nod_late *late = malloc((f->mark_count + 1) * sizeof(*late));
	nod_duration sleeps_within = nod_time_since(n->deadline, f->clock_from);
	nod_time clock = f->lock;
	bool in_use = false;

	*count = 0;
	if (!late || !nod_time_is_set(n->deadline) || !nod_time_is_set(f->clock_from)) {
		errno = late ? 0 : ENOMEM;
		free(late);
		return NULL;
	}
	for (size_t i = 0; i <= f->mark_count; i++) {
		const struct nod_mark_finding *m = i < f->mark_count ? &f->marks[i] : NULL;
		nod_time next = m ? m->time : f->end;
		if (m && (next.ns <= f->lock.ns || !restarts((enum nod_mark_kind)m->kind)))
			continue;
		nod_time deadline = nod_time_after(clock, sleeps_within);
		if (!in_use && deadline.ns < next.ns)
			late[(*count)++] = (struct nod_late){deadline, next};
		clock = next;
		in_use = m ? m->kind == NOD_MARK_UNLOCKED : in_use;
	}
	errno = 0;
	return late;
}
