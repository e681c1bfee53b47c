/* How long a car has to sleep until a fix counts as proved. */
#include <math.h>
#include <stdlib.h>

#include "compare.h"
#include "intervals.h"

/* Silence between two spans of a network, or after the last one. */
static nod_duration silence(const struct nod_findings *f, const struct nod_network_finding *n,
			    size_t i)
{
	const struct nod_span_finding *s = &n->spans[i];
	nod_time next = nod_span_silence_end(n, i, f->end);

	if (s->open || !s->silence_known || next.ns <= f->lock.ns)
		return (nod_duration){0};
	nod_duration d = nod_time_since(next, s->to.ns > f->lock.ns ? s->to : f->lock);
	return d.ns >= n->quiet_time.ns ? d : (nod_duration){0};
}

/* A waker may come at any time of all the sleep there was; that a network can
 * sleep shows in one piece. */
nod_duration nod_proof_slept(const struct nod_findings *f, const struct nod_network_finding *n,
			     enum nod_verdict fault)
{
	nod_duration longest = {0};

	if (fault == NOD_VERDICT_WOKEN)
		return n->asleep_known.ns > 0 ? n->asleep_known : (nod_duration){0};
	for (size_t i = 0; i < n->span_count; i++) {
		nod_duration d = silence(f, n, i);
		if (d.ns > longest.ns)
			longest = d;
	}
	return longest;
}

/* Of the wake-ups of this network that nothing explains. */
static struct nod_intervals wake_intervals(const struct nod_findings *f,
					   const struct nod_network_finding *n)
{
	struct nod_intervals in = NOD_INTERVALS_NONE;
	const struct nod_wake_finding *wake = NULL; /* the last one that began before the span */

	for (size_t i = 0, k = 0; i < n->span_count; i++) {
		const struct nod_span_finding *span = &n->spans[i];
		for (; k < f->wake_count && f->wakes[k].time.ns <= span->from.ns; k++)
			wake = &f->wakes[k];
		if (span->slept_before && span->from.ns > f->lock.ns && wake && !*wake->cause)
			nod_intervals_add(&in, span->from);
	}
	return in;
}

/* As if by a clock. */
static bool is_regular(const struct nod_intervals *in)
{
	if (in->count < 3)
		return false;
	double mean = in->sum / (double)in->count;
	double deviation = sqrt(fmax(0, in->squares / (double)in->count - mean * mean));
	return deviation <= NOD_PROOF_REGULAR * mean;
}

static nod_duration seconds(double s)
{
	return (nod_duration){(int64_t)ceil(fmin(s, 1e9)) * NOD_NS_PER_S};
}

/* With n wake-ups in a time T the rate is only about known; averaged over what it
 * may be, the chance of none in a time t is (T / (T + t))^n. */
static nod_duration irregular(struct nod_arena *arena, unsigned n, nod_duration watched,
			      const char **why)
{
	char text[NOD_TIME_TEXT], need[NOD_TIME_TEXT];
	double t = (double)watched.ns / NOD_NS_PER_S;
	nod_duration needed = seconds(t * (pow(1 / NOD_PROOF_CHANCE, 1.0 / n) - 1));

	*why = nod_arena_printf(
		arena,
		"before, it was woken %u time%s in %s, not by a clock; only after %s "
		"of sleep is the chance below 5 %% that such a waker is still there "
		"and just did not come",
		n, n == 1 ? "" : "s", nod_duration_print(text, watched),
		nod_duration_print(need, needed));
	return needed;
}

static nod_duration woken(struct nod_arena *arena, const struct nod_findings *f,
			  const struct nod_network_finding *n, const char **why)
{
	struct nod_intervals in = wake_intervals(f, n);
	nod_time slept = nod_time_is_set(n->first_slept_at) ? n->first_slept_at : f->lock;
	double longest = (double)in.longest.ns / NOD_NS_PER_S;
	char text[NOD_TIME_TEXT];

	if (!is_regular(&in))
		return irregular(arena, n->wakes ? n->wakes : 1, nod_time_since(f->end, slept),
				 why);
	*why = nod_arena_printf(
		arena,
		"before, it was woken as if by a clock, every %s at most; twice that "
		"without a wake-up shows that the clock has stopped",
		nod_duration_print(text, seconds(longest)));
	return seconds(2 * longest);
}

nod_duration nod_proof_needed(struct nod_arena *arena, const struct nod_findings *f,
			      const struct nod_network_finding *n, const char **why)
{
	*why = "";
	switch (n->verdict) {
	case NOD_VERDICT_WOKEN: return woken(arena, f, n, why);
	case NOD_VERDICT_KEPT_AWAKE:
		*why = "before, it was kept awake; ten minutes of sleep in one piece are more than "
		       "twice what most networks take to settle, so it is not a pause";
		return nod_seconds(NOD_PROOF_SLEEP_S);
	default: return NOD_DURATION_NONE;
	}
}

double nod_proof_chance(unsigned n1, double t1, unsigned n2, double t2)
{
	unsigned n = n1 + n2;
	double p = t2 / (t1 + t2), sum = 0;

	if (t1 <= 0 || t2 <= 0)
		return 1;
	for (unsigned k = 0; k <= n2; k++)
		sum += exp(lgamma(n + 1.0) - lgamma(k + 1.0) - lgamma(n - k + 1.0) + k * log(p) +
			   (n - k) * log1p(-p));
	return fmin(1, sum);
}
