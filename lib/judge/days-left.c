/* SPDX-License-Identifier: MIT */
#include "days-left.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "current-trace.h"

/* The deadline of the network that may take longest. */
static nod_time last_deadline(const struct nod_findings *f)
{
	nod_time last = f->lock;

	for (size_t i = 0; i < f->network_count; i++)
		if (nod_time_is_set(f->networks[i].deadline) && f->networks[i].frames &&
		    f->networks[i].deadline.ns > last.ns)
			last = f->networks[i].deadline;
	return last;
}

static void find_drain(struct nod_outlook *o, const struct nod_findings *f,
		       const struct nod_timeline *timeline)
{
	const struct nod_current_findings *c = f->current;
	nod_time from = last_deadline(f);

	o->basis = "";
	if (!c)
		return;
	o->uncertainty_ua = (double)c->wander_ua;
	if (nod_time_since(f->end, from).ns >= nod_seconds(NOD_OUTLOOK_SHORTEST_S).ns &&
	    nod_timeline_mean_current(timeline, from, f->end, &o->drain_ua)) {
		o->drain_known = true;
		o->basis = "mean since the settle deadline";
	} else if (c->quiescent_known) {
		o->drain_known = true;
		o->drain_ua = c->quiescent_ua;
		o->uncertainty_ua = c->quiescent_uncertainty_ua;
		o->basis = "level at rest";
	}
}

static void take_battery(struct nod_battery_input *in, const struct nod_battery_data *data)
{
	*in = nod_battery_input_unknown();
	if (data->type && nod_battery_type_parse(&in->type, data->type))
		in->type = NOD_BATTERY_ANY;
	if (data->capacity_mah)
		in->capacity_uah = data->capacity_mah * 1000;
	if (data->reserve_minutes)
		in->reserve_s = data->reserve_minutes * 60;
}

void nod_outlook_find(struct nod_outlook *o, const struct nod_findings *f,
		      const struct nod_timeline *timeline)
{
	struct nod_error err = {""};

	memset(o, 0, sizeof(*o));
	find_drain(o, f, timeline);
	take_battery(&o->input, &f->vehicle->battery);
	o->missing = "";
	if (!f->has_current)
		o->missing = "the battery current was not recorded";
	else if (!o->drain_known)
		o->missing = "the recording ends before the car had settled";
	else if (o->input.capacity_uah == NOD_BATTERY_UNKNOWN &&
		 o->input.reserve_s == NOD_BATTERY_UNKNOWN)
		o->missing = "the vehicle file does not give the battery's capacity";
	if (*o->missing)
		return;
	o->input.current_ua = llround(fabs(o->drain_ua));
	o->input.current_uncertainty_ua = llround(fabs(o->uncertainty_ua));
	if (nod_battery_judge(&o->battery, &o->input, &err))
		o->missing = "these values cannot be those of a car's battery";
}

char *nod_outlook_time(char buf[32], int64_t seconds)
{
	double days = (double)seconds / 86400;

	if (seconds == NOD_BATTERY_NO_LIMIT)
		snprintf(buf, 32, "no limit");
	else if (days < 2)
		snprintf(buf, 32, "%.0f hours", floor(days * 24));
	else if (days < 20)
		snprintf(buf, 32, "%.1f days", floor(days * 10) / 10);
	else
		snprintf(buf, 32, "%.0f days", floor(days));
	return buf;
}
