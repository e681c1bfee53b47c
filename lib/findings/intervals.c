/* SPDX-License-Identifier: MIT */
#include "intervals.h"

#include <math.h>

#include "chance.h"

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

bool nod_intervals_are_regular(const struct nod_intervals *in)
{
	if (in->count < 3)
		return false;
	double mean = in->sum / (double)in->count;
	double deviation = sqrt(fmax(0, in->squares / (double)in->count - mean * mean));
	return deviation <= NOD_INTERVALS_REGULAR * mean;
}

double nod_intervals_chance(const struct nod_intervals *in, unsigned n, nod_duration watched,
			    nod_duration silent)
{
	if (!nod_intervals_are_regular(in))
		return nod_chance_none(n, (double)watched.ns, (double)silent.ns);
	double missed = (double)silent.ns / (double)in->longest.ns - 1;
	return missed <= 0 ? 1 : pow(NOD_PROOF_CHANCE, missed);
}

nod_duration nod_intervals_silence(const struct nod_intervals *in, unsigned n, nod_duration watched)
{
	double s = nod_intervals_are_regular(in)
			   ? 2 * (double)in->longest.ns / NOD_NS_PER_S
			   : nod_chance_silence(n, (double)watched.ns / NOD_NS_PER_S);

	return (nod_duration){(int64_t)ceil(fmin(s, 1e9)) * NOD_NS_PER_S};
}
