#include "intervals.h"

void nod_intervals_add(struct nod_intervals *in, nod_time time)
{
	if (nod_time_is_set(in->first)) {
		nod_duration between = nod_time_since(time, in->last);
		double s = (double)between.ns / NOD_NS_PER_S;
		in->count++;
		in->sum += s;
		in->squares += s * s;
		in->longest.ns = between.ns > in->longest.ns ? between.ns : in->longest.ns;
	} else {
		in->first = time;
	}
	in->last = time;
}

struct nod_intervals nod_intervals_of_wakes(const struct nod_findings *f, int network,
					    nod_time until)
{
	struct nod_intervals in = NOD_INTERVALS_NONE;

	for (size_t i = 0; i < f->wake_count && f->wakes[i].time.ns < until.ns; i++) {
		const struct nod_wake_finding *w = &f->wakes[i];
		if (!*w->cause && (network == NOD_NONE || w->network == network))
			nod_intervals_add(&in, w->time);
	}
	return in;
}
