/* SPDX-License-Identifier: MIT */
/* Whether the others started because of the first one's frame, or with it. Who is woken by a frame
 * counts its time from that frame: each is as late as it is by itself. Who starts
 * on a wake-up line together with the one that merely starts fastest: the moment from which
 * they are measured then scatters as theirs do, and all are late or early together. So the
 * share that is common to all in how late they are tells, however slow anybody is. And who is woken
 * by a frame needs its whole time for starting after it, while on a line the first one's own is
 * taken off: where some follow at once and others late, they rather started together. */
#include "posterior-internal.h"

#include <math.h>

#define ROWS 16
#define COLUMNS (NOD_SPAN_STARTERS - 1)

/* The moment of a frame is no better known than this, frames waiting for each other. Chosen: a
 * short frame at 500 kbit/s. */
#define FLOOR_NS 200000.

/* So often modules start in another way than either of these: each in one car of twenty. Chosen. */
#define OTHERWISE 0.05

/* Who scatters by so much more (variance) than the middle one of those who scatter less is left
 * out. Chosen. */
#define IRREGULAR 10

/* How far the first one's own start scatters, as shares of how far the others' do (variances).
 * Each as likely. Chosen. */
#define SCATTERS 3
static const double scatter[SCATTERS] = {0.25, 1, 4};

/* How late whom (columns) spoke in which wake-up (rows), ns; NAN: not among the first. */
struct delays {
	double after[ROWS][COLUMNS];
	double squares[COLUMNS]; /* by column, ns^2: how much it scatters */
	int senders[COLUMNS];
	int rows, columns;
};

static int column_of(struct delays *d, int sender, bool may_add)
{
	for (int c = 0; c < d->columns; c++)
		if (d->senders[c] == sender)
			return c;
	if (!may_add || d->columns == COLUMNS)
		return NOD_NONE;
	d->senders[d->columns] = sender;
	return d->columns++;
}

static void add_row(struct delays *d, const struct nod_findings *f,
		    const struct nod_span_finding *span, int first)
{
	double *row = d->after[d->rows];

	for (int c = 0; c < COLUMNS; c++)
		row[c] = NAN;
	for (int k = 1; k < span->first_count; k++) {
		int sender = f->idents[span->first[k].ident].sender;
		int c = sender == first ? NOD_NONE : column_of(d, sender, d->rows == 0);
		if (c != NOD_NONE && isnan(row[c]))
			row[c] = (double)nod_time_since(span->first[k].time, span->from).ns;
	}
	d->rows++;
}

static void gather(struct delays *d, const struct nod_weighing *w, int first)
{
	const struct nod_findings *f = w->a->f;

	for (size_t i = 0; i < f->wake_count && d->rows < ROWS; i++) {
		const struct nod_wake_finding *wake = &f->wakes[i];
		const struct nod_span_finding *span = NULL;
		if (wake->network == w->n->network && wake->sender == first && !*wake->cause)
			span = nod_analysis_span_at(w->n, wake->time);
		if (span && span->first_count > 1)
			add_row(d, f, span, first);
	}
}

static void move(struct delays *d, int from, int to)
{
	d->squares[to] = d->squares[from];
	for (int r = 0; r < d->rows; r++)
		d->after[r][to] = d->after[r][from];
}

/* Keeps whom each wake-up tells of, as what is over its own mean; the most regular first. */
static int centre(struct delays *d)
{
	int kept = 0;

	for (int c = 0; c < d->columns; c++) {
		double sum = 0, squares = 0, column[ROWS];
		for (int r = 0; r < d->rows; r++)
			sum += d->after[r][c];
		if (isnan(sum))
			continue;
		for (int r = 0; r < d->rows; r++) {
			column[r] = d->after[r][c] - sum / d->rows;
			squares += column[r] * column[r];
		}
		int at = kept++;
		for (; at > 0 && squares < d->squares[at - 1]; at--)
			move(d, at - 1, at);
		d->squares[at] = squares;
		for (int r = 0; r < d->rows; r++)
			d->after[r][at] = column[r];
	}
	return kept;
}

/* Some begin at any phase of a message: they would hide what the others have in common. */
static int regular(const struct delays *d, int columns)
{
	int count = columns < 2 ? columns : 2;

	while (count < columns && d->squares[count] < IRREGULAR * d->squares[count / 2])
		count++;
	return count;
}

/* The quotient of the variance common to all to that of each for itself. */
static double quotient(const struct delays *d, int columns)
{
	double common = 0, own = 0;

	for (int r = 0; r < d->rows; r++) {
		double mean = 0;
		for (int c = 0; c < columns; c++)
			mean += d->after[r][c] / columns;
		common += columns * mean * mean;
		for (int c = 0; c < columns; c++)
			own += pow(d->after[r][c] - mean, 2);
	}
	common /= d->rows - 1;
	own /= (double)(d->rows - 1) * (columns - 1);
	return (common + FLOOR_NS * FLOOR_NS) / (own + FLOOR_NS * FLOOR_NS);
}

/* Density of Fisher's F distribution but for a constant. */
static double density(double x, double over, double under)
{
	return pow(x, over / 2 - 1) * pow(1 + over * x / under, -(over + under) / 2);
}

double nod_common_start(const struct nod_weighing *w, int first)
{
	struct delays d = {.rows = 0, .columns = 0};

	gather(&d, w, first);
	int columns = d.rows > 1 ? regular(&d, centre(&d)) : 0;
	if (columns < 2)
		return 0;
	double x = quotient(&d, columns), over = d.rows - 1, under = over * (columns - 1);
	double by_frame = density(x, over, under), with_it = 0;
	for (size_t i = 0; i < SCATTERS; i++) {
		double wider = 1 + columns * scatter[i];
		with_it += density(x / wider, over, under) / wider / SCATTERS;
	}
	return log(((1 - OTHERWISE) * with_it + OTHERWISE * by_frame) /
		   ((1 - OTHERWISE) * by_frame + OTHERWISE * with_it));
}

/* ---- how late whom ---- */

/* How much the times that modules need from being woken to their first frame differ: standard
 * deviations of their logarithm, each as likely as the others. Chosen: from modules of one kind to
 * some that wake in milliseconds beside others that boot for a second. */
#define SPREADS 4
static const double spread[SPREADS] = {0.3, 0.5, 0.8, 1.2};

/* What the first one itself may have needed, as shares of the middle one of the others' delays:
 * from 2 % on, by steps of a fifth, to fifty times. */
#define OWN_FROM 0.02
#define OWN_STEP 1.22
#define OWN_STEPS 40

/* A frame and the next: no delay is shorter. */
#define DELAY_LEAST_NS 200000.

/* Log-likelihood of such times, in a car of which nothing is known beforehand. */
static double of_times(const double *time, int count)
{
	double sum = 0, squares = 0, best = -INFINITY;

	for (int i = 0; i < count; i++)
		sum += log(time[i]) / count;
	for (int i = 0; i < count; i++)
		squares += pow(log(time[i]) - sum, 2);
	for (size_t i = 0; i < SPREADS; i++)
		best = nod_log_add(best, -squares / (2 * spread[i] * spread[i]) -
						 (count - 1) * log(spread[i]));
	return best - count * sum - (count - 1) * log(2 * M_PI) / 2 - log(count) / 2;
}

/* ... if all were woken together, and these are so much later than the first of them. */
static double of_delays(const double *delay, int count)
{
	double time[COLUMNS + 1], sum = -INFINITY;

	for (int i = 0; i < OWN_STEPS; i++) {
		double own = OWN_FROM * pow(OWN_STEP, i) * delay[count / 2];
		time[count] = own;
		for (int c = 0; c < count; c++)
			time[c] = delay[c] + own;
		sum = nod_log_add(sum, of_times(time, count + 1) + log(own * log(OWN_STEP)));
	}
	return sum + log(count + 1); /* any of them may be the first */
}

/* How late the modules of the map were on average that spoke each time. */
static int mean_delays(const struct delays *d, const struct nod_findings *f, double *delay)
{
	int count = 0;

	for (int c = 0; c < d->columns; c++) {
		double sum = 0;
		for (int r = 0; r < d->rows; r++)
			sum += d->after[r][c] / d->rows;
		if (!isnan(sum) && f->senders[d->senders[c]].kind == NOD_SENDER_MODULE)
			delay[count++] = fmax(sum, DELAY_LEAST_NS);
	}
	return count;
}

double nod_start_order(const struct nod_weighing *w, int first)
{
	struct delays d = {.rows = 0, .columns = 0};
	double delay[COLUMNS];

	if (w->a->f->senders[first].kind != NOD_SENDER_MODULE)
		return NAN; /* what its other messages are is not known */
	gather(&d, w, first);
	int count = d.rows ? mean_delays(&d, w->a->f, delay) : 0;
	if (count < 2)
		return NAN;
	double with_it = exp(of_delays(delay, count) - of_times(delay, count));
	return log(((1 - OTHERWISE) * with_it + OTHERWISE) / (1 - OTHERWISE + OTHERWISE * with_it));
}
