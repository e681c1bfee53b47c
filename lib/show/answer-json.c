/* SPDX-License-Identifier: MIT */
/* The answer as one JSON object, version 1. Points in time are strings of
 * decimal seconds (they do not fit a double), lengths are numbers of seconds,
 * probabilities and loads 0..1; what does not apply is null.
 *
 * { "nodoff": 1, "verdict": "...", "sentence": "...", "culprits": [name...],
 *   "facts": [...], "fact_kinds": [name of each...], "next": "...", "cautions": [...],
 *   "doubts": [...], "doubt_kinds": [name of each...], "record_longer": seconds|null,
 *   "recording": {start, end, frames, lost, errors, gaps, clock_steps,
 *      defects},
 *   "lock": {time, source, settle_clock_from, settle_clock_cause},
 *   "networks": [{name, state, since, verdict, reason, deadline,
 *      deadline_is_default, slept_at, awake_late, wakes, wakes_explained, load,
 *      management, frames, lost, errors, spans: [{from, to, open,
 *      slept_before, silence_known, slept_after, asleep, frames, bits, first: [{id, sender, time}], last: [...], alone, alone_from}]}],
 *   "holes": [{from, to, network (null: all), torn, probability, text}],
 *   "wakes": [{time, network, id, sender, lead, awake_for, networks, cause}],
 *   "suspects": [{name, kind, role, probability, network, in_map, proved, ids,
 *      fuses, evidence: [{kind, weight, text}]}],
 *   "tests": [{what, fuse, module, information, minutes, hit, caution}],
 *   "isolations": [{subject, isolated, refitted, network, result, slept_after,
 *      by_chance, refit: "none"|"awake"|"slept", text, vanished: [id...]}],
 *   "journal": [{time, kind, subject, entered, meant, inferred}]: time and meant by the
 *      traffic; inferred: nobody entered it,
 *   "current": null without samples, else {"trace": as `nodoff current show
 *      --json`, "asleep_ua", "asleep_uncertainty_ua", "charge_uah",
 *      "explained_uah", "explained_all", "by_network": [{network, known, ua,
 *      uncertainty_ua}]},
 *   "fuse_readings": [{fuse, time, low_ua, high_ua}],
 *   "touched": [{subject, time, id, byte, bit, signal, from, to, after, toggles}],
 *   "known": null unless other recordings were looked through, else {recordings, unread, good,
 *      earlier: [path...], like, solved, senders: [{name, cars}], lines: [...]},
 *   "against_good": [{id, network, appeared, bits, period_good, period_here}],
 *   "ids": [{id, network, sender, frames, frames_late, first, last, rhythm,
 *      period, jitter, period_late, counter_bits, checksum_bits,
 *      changing_bits, changes_late}] } */
#include "answer-json-internal.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#include "answer.h"
#include "current-join.h"
#include "current-report.h"
#include "json-build.h"
#include "signals.h"

json_t *nod_answer_moment(nod_time t)
{
	char buf[NOD_TIME_TEXT];
	return nod_time_is_set(t) ? nod_json_text(nod_time_print(buf, t, 9)) : json_null();
}

json_t *nod_answer_seconds(nod_duration d)
{
	return d.ns == INT64_MIN ? json_null() : nod_json_number((double)d.ns / 1e9);
}

static json_t *count(uint64_t n)
{
	return json_integer((json_int_t)n);
}

json_t *nod_answer_share(double x)
{
	return x < 0 ? json_null() : nod_json_number(round(x * 1e6) / 1e6);
}

json_t *nod_answer_id(uint32_t id)
{
	char buf[NOD_ID_TEXT];
	return nod_json_text(nod_id_print(buf, id));
}

static json_t *recording(const struct nod_findings *f)
{
	json_t *o = json_object();
	nod_json_put(&o, "start", nod_answer_moment(f->start));
	nod_json_put(&o, "end", nod_answer_moment(f->end));
	nod_json_put(&o, "frames", count(f->frames));
	nod_json_put(&o, "lost", count(f->lost));
	nod_json_put(&o, "errors", count(f->errors));
	nod_json_put(&o, "gaps", count(f->gaps));
	nod_json_put(&o, "clock_steps", count(f->clock_steps));
	nod_json_put(&o, "defects", count(f->defects));
	return o;
}

static json_t *lock(const struct nod_findings *f)
{
	json_t *o = json_object();
	nod_json_put(&o, "time", nod_answer_moment(f->lock));
	nod_json_put(&o, "source", nod_json_text(nod_lock_source_name(f->lock_source)));
	nod_json_put(&o, "settle_clock_from", nod_answer_moment(f->clock_from));
	nod_json_put(&o, "settle_clock_cause", nod_json_text(f->clock_cause));
	return o;
}

static json_t *speakers(const struct nod_findings *f, const struct nod_speaker *s, int n)
{
	json_t *array = json_array();
	for (int i = 0; i < n; i++) {
		const struct nod_ident_finding *ident = &f->idents[s[i].ident];
		json_t *o = json_object();
		nod_json_put(&o, "id", nod_answer_id(ident->id));
		nod_json_put(&o, "sender", nod_json_text(f->senders[ident->sender].name));
		nod_json_put(&o, "time", nod_answer_moment(s[i].time));
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *span(const struct nod_findings *f, const struct nod_span_finding *s)
{
	json_t *o = json_object();
	nod_json_put(&o, "from", nod_answer_moment(s->from));
	nod_json_put(&o, "to", nod_answer_moment(s->to));
	nod_json_put(&o, "open", json_boolean(s->open));
	nod_json_put(&o, "slept_before", json_boolean(s->slept_before));
	nod_json_put(&o, "silence_known", json_boolean(s->silence_known));
	nod_json_put(&o, "slept_after", json_boolean(s->slept_after));
	nod_json_put(&o, "asleep", nod_answer_share(s->asleep));
	nod_json_put(&o, "frames", count(s->frames));
	nod_json_put(&o, "bits", count(s->bits));
	nod_json_put(&o, "first", speakers(f, s->first, s->first_count));
	nod_json_put(&o, "last", speakers(f, s->last, s->last_count));
	nod_json_put(&o, "alone",
		     s->lone_sender == NOD_NONE ? json_null()
						: nod_json_text(f->senders[s->lone_sender].name));
	nod_json_put(&o, "alone_from",
		     s->lone_sender == NOD_NONE ? json_null() : nod_answer_moment(s->lone_from));
	return o;
}

static json_t *network(const struct nod_findings *f, const struct nod_network_finding *n)
{
	json_t *o = json_object(), *spans = json_array();

	for (size_t i = 0; i < n->span_count; i++)
		nod_json_append(&spans, span(f, &n->spans[i]));
	nod_json_put(&o, "name", nod_json_text(n->name));
	nod_json_put(&o, "state", nod_json_text(nod_network_state_name(n->state)));
	nod_json_put(&o, "since", nod_answer_moment(n->since));
	nod_json_put(&o, "verdict", nod_json_text(nod_verdict_name(n->verdict)));
	nod_json_put(&o, "reason", nod_json_text(n->reason));
	nod_json_put(&o, "deadline", nod_answer_moment(n->deadline));
	nod_json_put(&o, "deadline_is_default", json_boolean(n->deadline_default));
	nod_json_put(&o, "slept_at", nod_answer_moment(n->slept_at));
	nod_json_put(&o, "awake_late", nod_answer_seconds(n->awake_late));
	nod_json_put(&o, "wakes", count(n->wakes));
	nod_json_put(&o, "wakes_explained", count(n->wakes_explained));
	nod_json_put(&o, "load", nod_answer_share(n->load));
	nod_json_put(&o, "management", nod_json_text(n->management));
	nod_json_put(&o, "frames", count(n->frames));
	nod_json_put(&o, "lost", count(n->lost));
	nod_json_put(&o, "errors", count(n->errors));
	nod_json_put(&o, "spans", spans);
	return o;
}

static json_t *networks(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->network_count; i++)
		nod_json_append(&array, network(f, &f->networks[i]));
	return array;
}

static json_t *holes(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->hole_count; i++) {
		const struct nod_hole_finding *h = &f->holes[i];
		json_t *o = json_object();
		nod_json_put(&o, "from", nod_answer_moment(h->from));
		nod_json_put(&o, "to", nod_answer_moment(h->to));
		nod_json_put(&o, "network",
			     h->network == NOD_NONE ? json_null()
						    : nod_json_text(f->networks[h->network].name));
		nod_json_put(&o, "torn", json_boolean(h->torn));
		nod_json_put(&o, "probability", nod_answer_share(h->probability));
		nod_json_put(&o, "text", nod_json_text(h->text));
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
		nod_json_put(&o, "id", nod_answer_id(f->idents[w->ident].id));
		nod_json_put(&o, "sender", nod_json_text(f->senders[w->sender].name));
		nod_json_put(&o, "lead", nod_answer_seconds(w->lead));
		nod_json_put(&o, "awake_for", nod_answer_seconds(w->awake_for));
		nod_json_put(&o, "networks", count(w->networks_woken));
		nod_json_put(&o, "cause", *w->cause ? nod_json_text(w->cause) : json_null());
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *current_by_network(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->join->network_count; i++) {
		const struct nod_network_current *n = &f->join->networks[i];
		json_t *o = json_object();
		nod_json_put(&o, "network", nod_json_text(f->networks[i].name));
		nod_json_put(&o, "known", json_boolean(n->known));
		nod_json_put(&o, "ua", n->known ? nod_json_number(round(n->ua)) : json_null());
		nod_json_put(&o, "uncertainty_ua",
			     n->known ? nod_json_number(round(n->uncertainty_ua)) : json_null());
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *current(const struct nod_findings *f)
{
	const struct nod_current_join *j = f->join;

	if (!f->current || !j)
		return json_null();
	json_t *o = json_object();
	nod_json_put(&o, "trace", nod_current_report_json(f->current, true));
	nod_json_put(&o, "asleep_ua",
		     j->asleep_known ? nod_json_number(round(j->asleep_ua)) : json_null());
	nod_json_put(&o, "asleep_uncertainty_ua",
		     j->asleep_known ? nod_json_number(round(j->asleep_uncertainty_ua))
				     : json_null());
	nod_json_put(&o, "charge_uah", nod_json_number(round(j->charge_uah)));
	nod_json_put(&o, "explained_uah", nod_json_number(round(j->explained_uah)));
	nod_json_put(&o, "explained_all", json_boolean(j->explained_all));
	nod_json_put(&o, "by_network", current_by_network(f));
	return o;
}

static json_t *fuse_readings(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->fuse_count; i++) {
		json_t *o = json_object();
		nod_json_put(&o, "fuse", nod_json_text(f->vehicle->fuses[f->fuses[i].fuse].name));
		nod_json_put(&o, "time", nod_answer_moment(f->fuses[i].time));
		nod_json_put(&o, "low_ua", json_integer(f->fuses[i].low_ua));
		nod_json_put(&o, "high_ua", json_integer(f->fuses[i].high_ua));
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *touched(const struct nod_findings *f)
{
	json_t *array = json_array();
	char value[NOD_SIGNAL_TEXT];

	for (size_t i = 0; i < f->touch_count; i++) {
		const struct nod_touch_finding *t = &f->touches[i];
		json_t *o = json_object();
		nod_json_put(&o, "subject", nod_json_text(t->subject));
		nod_json_put(&o, "time", nod_answer_moment(t->time));
		nod_json_put(&o, "id", nod_answer_id(f->idents[t->ident].id));
		nod_json_put(&o, "byte", json_integer(t->bit / 8));
		nod_json_put(&o, "bit", json_integer(t->bit % 8));
		const struct nod_ident_finding *ident = &f->idents[t->ident];
		const struct nod_signal *s = nod_signals_of_bit(f, ident, t->bit, t->to);
		nod_json_put(&o, "signal", s ? nod_json_text(s->name) : json_null());
		nod_signals_print_value(value, f, ident, t->bit, t->from);
		nod_json_put(&o, "from", nod_json_text(value));
		nod_signals_print_value(value, f, ident, t->bit, t->to);
		nod_json_put(&o, "to", nod_json_text(value));
		nod_json_put(&o, "after", nod_answer_seconds(t->after));
		nod_json_put(&o, "toggles", json_integer(t->toggles));
		nod_json_append(&array, o);
	}
	return array;
}

/* The bits of a mask by number, 0 for bit 0 of byte 0: [17] is byte 2 bit 1. */
static json_t *bit_numbers(uint64_t mask)
{
	json_t *array = json_array();
	for (; mask; mask &= mask - 1)
		nod_json_append(&array, json_integer(__builtin_ctzll(mask)));
	return array;
}

static json_t *against_good(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->difference_count; i++) {
		const struct nod_difference_finding *d = &f->differences[i];
		json_t *o = json_object();
		nod_json_put(&o, "id", nod_answer_id(f->idents[d->ident].id));
		nod_json_put(&o, "network",
			     nod_json_text(f->networks[f->idents[d->ident].network].name));
		nod_json_put(&o, "appeared", json_boolean(d->appeared));
		nod_json_put(&o, "bits", bit_numbers(d->bits));
		nod_json_put(&o, "period_good",
			     d->period ? nod_answer_seconds(d->period_good) : json_null());
		nod_json_put(&o, "period_here",
			     d->period ? nod_answer_seconds(d->period_here) : json_null());
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *ident(const struct nod_findings *f, const struct nod_ident_finding *i)
{
	json_t *o = json_object();
	nod_json_put(&o, "id", nod_answer_id(i->id));
	nod_json_put(&o, "network", nod_json_text(f->networks[i->network].name));
	nod_json_put(&o, "sender", nod_json_text(f->senders[i->sender].name));
	nod_json_put(&o, "frames", count(i->frames));
	nod_json_put(&o, "frames_late", count(i->frames_late));
	nod_json_put(&o, "first", nod_answer_moment(i->first));
	nod_json_put(&o, "last", nod_answer_moment(i->last));
	nod_json_put(&o, "rhythm", nod_json_text(nod_rhythm_name(i->before.rhythm)));
	nod_json_put(&o, "period", nod_answer_seconds(i->before.period));
	nod_json_put(&o, "jitter", nod_answer_seconds(i->before.jitter));
	nod_json_put(&o, "period_late", nod_answer_seconds(i->after.period));
	nod_json_put(&o, "counter_bits", count(i->counter_bits));
	nod_json_put(&o, "checksum_bits", count(i->checksum_bits));
	nod_json_put(&o, "changing_bits", count(i->changing_bits));
	nod_json_put(&o, "changes_late", count(i->changes_late));
	return o;
}

static json_t *idents(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->ident_count; i++)
		nod_json_append(&array, ident(f, &f->idents[i]));
	return array;
}

json_t *nod_answer_json(const struct nod_findings *f)
{
	json_t *o = json_object();

	if (!o)
		return NULL;
	nod_json_put(&o, "nodoff", json_integer(1));
	nod_json_put(&o, "verdict", nod_json_text(nod_verdict_name(f->verdict)));
	nod_json_put(&o, "sentence", nod_json_text(f->sentence));
	nod_json_put(&o, "culprits", nod_answer_culprits(f));
	nod_json_put(&o, "facts", nod_answer_texts(f->facts, f->fact_count));
	nod_json_put(&o, "fact_kinds", nod_answer_fact_kinds(f));
	nod_json_put(&o, "next", nod_json_text(f->next));
	nod_json_put(&o, "cautions", nod_answer_texts(f->cautions, f->caution_count));
	nod_json_put(&o, "doubts", nod_answer_texts(f->doubts, f->doubt_count));
	nod_json_put(&o, "doubt_kinds", nod_answer_doubt_kinds(f));
	nod_json_put(&o, "record_longer", nod_answer_seconds(f->record_longer));
	nod_json_put(&o, "recording", recording(f));
	nod_json_put(&o, "lock", lock(f));
	nod_json_put(&o, "networks", networks(f));
	nod_json_put(&o, "holes", holes(f));
	nod_json_put(&o, "wakes", wakes(f));
	nod_json_put(&o, "suspects", nod_answer_suspects(f));
	nod_json_put(&o, "tests", nod_answer_tests(f));
	nod_json_put(&o, "isolations", nod_answer_isolations(f));
	nod_json_put(&o, "journal", nod_answer_journal(f));
	nod_json_put(&o, "current", current(f));
	nod_json_put(&o, "fuse_readings", fuse_readings(f));
	nod_json_put(&o, "touched", touched(f));
	nod_json_put(&o, "known", nod_answer_known(f));
	nod_json_put(&o, "against_good", against_good(f));
	nod_json_put(&o, "ids", idents(f));
	return o;
}

int nod_answer_print_json(FILE *out, const struct nod_findings *f)
{
	json_t *json = nod_answer_json(f);

	if (!json)
		return -ENOMEM;
	int failed = json_dumpf(json, out, NOD_JSON_FLAGS) || fputc('\n', out) == EOF;
	json_decref(json);
	return !failed ? 0 : ferror(out) ? -EIO : -ENOMEM;
}
