/* SPDX-License-Identifier: MIT */
#include "timeline-json.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "answer-json-internal.h"
#include "json-build.h"

static json_t *count(uint64_t n)
{
	return json_integer((json_int_t)n);
}

static json_t *spans(const struct nod_network_finding *n)
{
	json_t *array = json_array();

	for (size_t i = 0; i < n->span_count; i++) {
		json_t *o = json_object();
		nod_json_put(&o, "from", nod_answer_moment(n->spans[i].from));
		nod_json_put(&o, "to", nod_answer_moment(n->spans[i].to));
		nod_json_put(&o, "open", json_boolean(n->spans[i].open));
		nod_json_put(&o, "slept_after", json_boolean(n->spans[i].slept_after));
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *networks(const struct nod_findings *f)
{
	json_t *array = json_array();

	for (size_t i = 0; i < f->network_count; i++) {
		const struct nod_network_finding *n = &f->networks[i];
		json_t *o = json_object();
		nod_json_put(&o, "name", nod_json_text(n->name));
		nod_json_put(&o, "verdict", nod_json_text(nod_verdict_name(n->verdict)));
		nod_json_put(&o, "deadline", nod_answer_moment(n->deadline));
		nod_json_put(&o, "awake", spans(n));
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *wakes(const struct nod_findings *f)
{
	json_t *array = json_array();

	for (size_t i = 0; i < f->wake_count; i++) {
		const struct nod_wake_finding *w = &f->wakes[i];
		json_t *o = json_object();
		nod_json_put(&o, "time", nod_answer_moment(w->time));
		nod_json_put(&o, "network", nod_json_text(f->networks[w->network].name));
		nod_json_put(&o, "sender", nod_json_text(f->senders[w->sender].name));
		nod_json_put(&o, "cause", *w->cause ? nod_json_text(w->cause) : json_null());
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *sender(const struct nod_findings *f, const struct nod_timeline *t, int index)
{
	uint64_t counts[NOD_TIMELINE_BINS] = {0};
	json_t *o = json_object(), *frames = json_array();

	nod_timeline_add_sender(t, f, index, counts);
	for (size_t bin = 0; bin < nod_timeline_bins(t); bin++)
		nod_json_append(&frames, count(counts[bin]));
	nod_json_put(&o, "name", nod_json_text(f->senders[index].name));
	nod_json_put(&o, "frames", frames);
	return o;
}

/* Suspects first, as in the text. */
static json_t *senders(const struct nod_findings *f, const struct nod_timeline *t)
{
	json_t *array = json_array();
	int *list = calloc(f->sender_count + 1, sizeof(*list));
	size_t n = list ? nod_timeline_senders(f, list, f->sender_count) : 0;

	if (!list || (!n && errno == ENOMEM))
		nod_json_append(&array, NULL);
	for (size_t i = 0; i < n; i++)
		nod_json_append(&array, sender(f, t, list[i]));
	free(list);
	return array;
}

static json_t *current(const struct nod_timeline *t)
{
	const struct nod_timeline_current *bins = nod_timeline_currents(t);
	json_t *array = bins ? json_array() : json_null();

	for (size_t i = 0; bins && i < nod_timeline_bins(t); i++) {
		json_t *o = bins[i].count ? json_object() : json_null();
		if (bins[i].count) {
			nod_json_put(&o, "low_ua", json_integer(bins[i].low));
			nod_json_put(&o, "mean_ua",
				     nod_json_number(round(bins[i].sum / (double)bins[i].count)));
			nod_json_put(&o, "high_ua", json_integer(bins[i].high));
		}
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *lost(const struct nod_timeline *t)
{
	json_t *array = json_array();

	for (size_t bin = 0; bin < nod_timeline_bins(t); bin++)
		nod_json_append(&array, count(nod_timeline_losses(t)[bin]));
	return array;
}

static json_t *deaf(const struct nod_timeline *t)
{
	json_t *array = json_array();

	for (size_t i = 0; i < nod_timeline_gap_count(t); i++) {
		json_t *o = json_object();
		nod_json_put(&o, "from", nod_answer_moment(nod_timeline_gap(t, i)->from));
		nod_json_put(&o, "to", nod_answer_moment(nod_timeline_gap(t, i)->to));
		nod_json_append(&array, o);
	}
	return array;
}

json_t *nod_timeline_json(const struct nod_findings *f, const struct nod_timeline *t)
{
	json_t *o = json_object();

	nod_json_put(&o, "start", nod_answer_moment(f->start));
	nod_json_put(&o, "end", nod_answer_moment(f->end));
	nod_json_put(&o, "lock", nod_answer_moment(f->lock));
	nod_json_put(&o, "verdict", nod_json_text(nod_verdict_name(f->verdict)));
	nod_json_put(&o, "networks", networks(f));
	nod_json_put(&o, "wakes", wakes(f));
	nod_json_put(&o, "journal", nod_answer_journal(f));
	nod_json_put(&o, "bins_from", nod_answer_moment(nod_timeline_origin(t)));
	nod_json_put(&o, "bin", nod_answer_seconds(nod_timeline_bin(t)));
	nod_json_put(&o, "bins", count(nod_timeline_bins(t)));
	nod_json_put(&o, "senders", senders(f, t));
	nod_json_put(&o, "frames_not_shown", count(nod_timeline_unshown(t)));
	nod_json_put(&o, "current", current(t));
	nod_json_put(&o, "lost", lost(t));
	nod_json_put(&o, "not_listened", deaf(t));
	return o;
}
