/* SPDX-License-Identifier: MIT */
#include "time-axis.h"

#include <math.h>
#include <stdio.h>

#include "moment-text.h"

struct nod_axis nod_axis_of(const struct nod_findings *f, double left, double width)
{
	struct nod_axis axis = {f->start, f->end, f->lock, nod_moment_zero(f), left, width};

	if (!nod_time_is_set(axis.from))
		axis.from = axis.to = axis.zero = (nod_time){0};
	if (axis.to.ns <= axis.from.ns)
		axis.to = nod_time_after(axis.from, nod_seconds(1));
	return axis;
}

double nod_axis_x(const struct nod_axis *axis, nod_time time)
{
	double share = (double)nod_time_since(time, axis->from).ns /
		       (double)nod_time_since(axis->to, axis->from).ns;

	return axis->left + axis->width * fmax(0, fmin(1, share));
}

nod_time nod_axis_time(const struct nod_axis *axis, double x)
{
	double share = fmax(0, fmin(1, (x - axis->left) / axis->width));

	if (share >= 1)
		return axis->to;
	return nod_time_after(
		axis->from,
		(nod_duration){(int64_t)(share * (double)nod_time_since(axis->to, axis->from).ns)});
}

nod_duration nod_axis_step(const struct nod_axis *axis, unsigned most)
{
	static const int64_t tenths[] = {
		1,    2,    5,    10,    20,    50,    100,    150,    300,    600,    1200,
		3000, 6000, 9000, 18000, 36000, 72000, 108000, 216000, 432000, 864000, 1728000};
	const size_t count = sizeof(tenths) / sizeof(tenths[0]);
	int64_t length = nod_time_since(axis->to, axis->from).ns;

	for (size_t i = 0; i < count; i++)
		if (length / most <= tenths[i] * (NOD_NS_PER_S / 10))
			return (nod_duration){tenths[i] * (NOD_NS_PER_S / 10)};
	int64_t day = 86400 * NOD_NS_PER_S;
	return (nod_duration){(length / most / day + 1) * day};
}

nod_time nod_axis_first_tick(const struct nod_axis *axis, nod_duration step)
{
	int64_t before = nod_time_since(axis->from, axis->zero).ns;
	int64_t steps = before / step.ns;

	if (before > steps * step.ns)
		steps++;
	return nod_time_after(axis->zero, (nod_duration){steps * step.ns});
}

char *nod_axis_tick_text(char buf[NOD_TIME_TEXT], const struct nod_axis *axis, nod_duration d,
			 nod_duration step)
{
	static const struct {
		int64_t from_s, unit_s; /* steps from so long on are counted in the unit */
		const char *name;
	} units[] = {{86400, 86400, "d"}, {1800, 3600, "h"}, {30, 60, "min"}, {0, 1, "s"}};
	size_t u = 0;

	if (!d.ns) {
		snprintf(buf, NOD_TIME_TEXT, "%s", axis->zero_name);
		return buf;
	}
	while (step.ns < units[u].from_s * NOD_NS_PER_S)
		u++;
	snprintf(buf, NOD_TIME_TEXT, "%.4g %s",
		 (double)d.ns / (double)(units[u].unit_s * NOD_NS_PER_S), units[u].name);
	return buf;
}
