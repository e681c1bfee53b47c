/* SPDX-License-Identifier: MIT */
/* The lower lines of a timeline in text: who sends when, and the current. */
#include <errno.h>
#include <math.h>

#include "quantity.h"
#include "timeline-text-internal.h"

#define SENDERS 16
#define FLOOR_UA 1e3 /* below: clamps show nothing. Chosen: 1 mA */

/* ---- senders ---- */

/* The bins that touch a column. */
static void bins_of(const struct nod_drawing *d, int column, size_t *from, size_t *to)
{
	nod_time origin = nod_timeline_origin(d->timeline);
	int64_t length = nod_timeline_bin(d->timeline).ns;
	int64_t a = nod_time_since(nod_axis_time(&d->axis, column), origin).ns;
	int64_t b = nod_time_since(nod_axis_time(&d->axis, column + 1), origin).ns - 1;
	size_t used = nod_timeline_bins(d->timeline);

	*from = a > 0 ? (size_t)(a / length) : 0;
	*to = b > 0 ? (size_t)(b / length) + 1 : 1;
	if (*to > used || column + 1 == d->columns)
		*to = used;
}

static void print_sender(struct nod_drawing *d, int sender)
{
	uint64_t counts[NOD_TIMELINE_BINS] = {0}, most = 1;
	size_t from, to;

	nod_timeline_add_sender(d->timeline, d->f, sender, counts);
	for (size_t i = 0; i < NOD_TIMELINE_BINS; i++)
		most = counts[i] > most ? counts[i] : most;
	for (int c = 0; c < d->columns; c++) {
		uint64_t highest = 0;
		bins_of(d, c, &from, &to);
		for (size_t i = from; i < to; i++)
			highest = counts[i] > highest ? counts[i] : highest;
		d->line[c] =
			d->signs->level[highest ? 1 + (int)(7.0 * (double)highest / (double)most)
						: 0];
	}
	nod_drawing_line(d, d->f->senders[sender].name);
}

void nod_drawing_senders(struct nod_drawing *d)
{
	int senders[SENDERS];
	size_t count = nod_timeline_senders(d->f, senders, SENDERS);

	d->starved |= errno == ENOMEM;
	if (count)
		fprintf(d->out, "\nwho sends when\n");
	for (size_t i = 0; i < count; i++)
		print_sender(d, senders[i]);
	if (d->f->sender_count > count)
		fprintf(d->out, "... and %zu senders more\n", d->f->sender_count - count);
}

/* ---- current ---- */

struct range {
	double low, high; /* log10 of microamps */
};

static struct range range_of(const struct nod_drawing *d)
{
	const struct nod_timeline_current *c = nod_timeline_currents(d->timeline);
	struct range r = {99, 0};

	for (size_t i = 0; i < nod_timeline_bins(d->timeline); i++) {
		if (!c[i].count)
			continue;
		r.low = fmin(r.low, log10(fmax((double)c[i].low, FLOOR_UA)));
		r.high = fmax(r.high, log10(fmax((double)c[i].high, FLOOR_UA)));
	}
	if (r.high <= r.low)
		r.high = r.low + 1;
	return r;
}

static void print_extreme(struct nod_drawing *d, const struct range *r, bool high)
{
	const struct nod_timeline_current *c = nod_timeline_currents(d->timeline);
	size_t from, to;

	nod_drawing_clear(d);
	for (int k = 0; k < d->columns; k++) {
		double value = high ? -INFINITY : INFINITY;
		bins_of(d, k, &from, &to);
		for (size_t i = from; i < to; i++)
			if (c[i].count)
				value = high ? fmax(value, (double)c[i].high)
					     : fmin(value, (double)c[i].low);
		if (!isfinite(value))
			continue;
		double share = (log10(fmax(value, FLOOR_UA)) - r->low) / (r->high - r->low);
		d->line[k] = d->signs->level[1 + (int)(7 * share + 0.5)];
	}
	nod_drawing_line(d, high ? "highest" : "lowest");
}

void nod_drawing_current(struct nod_drawing *d)
{
	char low[NOD_QUANTITY_TEXT], high[NOD_QUANTITY_TEXT];

	if (!nod_timeline_currents(d->timeline))
		return;
	struct range r = range_of(d);
	fprintf(d->out, "\nbattery current, %s %s to %s %s by tens\n", d->signs->level[1],
		nod_quantity_print(low, llround(pow(10, r.low)), NOD_UNIT_AMPERE),
		d->signs->level[8],
		nod_quantity_print(high, llround(pow(10, r.high)), NOD_UNIT_AMPERE));
	print_extreme(d, &r, true);
	print_extreme(d, &r, false);
}
