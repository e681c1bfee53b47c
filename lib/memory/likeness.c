/* SPDX-License-Identifier: MIT */
#include "likeness.h"

#include "rhythm.h"

#define OTHER_PACE 0.5
#define NOT_CYCLIC 0.25

/* Fewer messages (by weight) tell no car from another: a few common IDs would do. Chosen. */
#define WEIGHT_MIN 6

/* More networks are not looked at. Chosen: no car has as many. */
#define NETWORKS_MAX 12

struct network {
	const struct nod_car_message *first;
	size_t count;
	bool paired;
};

struct share {
	double both, all;
};

static size_t networks_of(struct network list[NETWORKS_MAX], const struct nod_car *car)
{
	size_t count = 0;

	for (size_t i = 0; i < car->message_count; i++) {
		const struct nod_car_message *m = &car->messages[i];
		if (i && m->network == m[-1].network) {
			list[count - 1].count++;
			continue;
		}
		if (count == NETWORKS_MAX)
			break;
		list[count++] = (struct network){m, 1, false};
	}
	return count;
}

static double weight(const struct nod_car_message *m)
{
	return m->period_us ? 1 : NOT_CYCLIC;
}

static double same(const struct nod_car_message *a, const struct nod_car_message *b)
{
	double low = a->period_us, high = b->period_us;

	if (!a->period_us || !b->period_us)
		return NOT_CYCLIC;
	return low > NOD_PERIOD_RATIO * high || high > NOD_PERIOD_RATIO * low ? OTHER_PACE : 1;
}

static struct share share_of(const struct network *a, const struct network *b)
{
	struct share s = {0, 0};
	size_t i = 0, k = 0;

	while (i < a->count || k < b->count) {
		const struct nod_car_message *x = i < a->count ? &a->first[i] : NULL;
		const struct nod_car_message *y = k < b->count ? &b->first[k] : NULL;
		if (x && y && x->id == y->id) {
			double both = same(x, y);
			s.both += both;
			s.all += both == NOT_CYCLIC ? NOT_CYCLIC : 1;
			i++;
			k++;
		} else if (x && (!y || x->id < y->id)) {
			s.all += weight(x);
			i++;
		} else {
			s.all += weight(y);
			k++;
		}
	}
	return s;
}

/* The likest two networks that have no partner yet; false: there are none. */
static bool pair(struct network *a, size_t a_count, struct network *b, size_t b_count,
		 struct share *sum)
{
	struct network *x = NULL, *y = NULL;
	struct share best = {-1, 1};

	for (size_t i = 0; i < a_count; i++)
		for (size_t k = 0; k < b_count; k++) {
			if (a[i].paired || b[k].paired)
				continue;
			struct share s = share_of(&a[i], &b[k]);
			if (s.both * best.all > best.both * s.all) {
				best = s;
				x = &a[i];
				y = &b[k];
			}
		}
	if (!x)
		return false;
	x->paired = y->paired = true;
	sum->both += best.both;
	sum->all += best.all;
	return true;
}

double nod_car_likeness(const struct nod_car *a, const struct nod_car *b)
{
	struct network left[NETWORKS_MAX], right[NETWORKS_MAX];
	size_t left_count = networks_of(left, a), right_count = networks_of(right, b);
	struct share sum = {0, 0};

	while (pair(left, left_count, right, right_count, &sum))
		;
	return sum.all < WEIGHT_MIN ? -1 : sum.both / sum.all;
}
