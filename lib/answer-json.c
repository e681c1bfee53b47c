/* The answer as one JSON object, version 1. Points in time are strings of
 * decimal seconds (they do not fit a double), lengths are numbers of seconds,
 * probabilities and loads 0..1; what does not apply is null.
 *
 * { "nodoff": 1, "verdict": "...", "sentence": "...", "culprits": [name...],
 *   "facts": [...], "next": "...", "cautions": [...], "doubts": [...],
 *   "record_longer": seconds|null,
 *   "recording": {start, end, frames, lost, errors, gaps, clock_steps,
 *      defects},
 *   "lock": {time, source, settle_clock_from, settle_clock_cause},
 *   "networks": [{name, state, since, verdict, reason, deadline,
 *      deadline_is_default, slept_at, awake_late, wakes, wakes_explained, load,
 *      management, frames, lost, errors, spans_dropped, spans: [{from, to, open,
 *      slept_before, silence_known, frames, bits, first: [{id, sender, time}], last: [...], alone, alone_from}]}],
 *   "wakes": [{time, network, id, sender, lead, awake_for, networks, cause}],
 *   "suspects": [{name, kind, role, probability, network, in_map, proved, ids,
 *      fuses, evidence: [{kind, weight, text}]}],
 *   "tests": [{what, fuse, module, information, minutes, hit, caution}],
 *   "trials": [{subject, isolated, refitted, network, result, slept_after,
 *      text, vanished: [id...]}],
 *   "journal": [{time, kind, subject}],
 *   "current": null without samples, else {"trace": as `nodoff current show
 *      --json`, "asleep_ua", "asleep_uncertainty_ua", "charge_uah",
 *      "explained_uah", "explained_all", "by_network": [{network, known, ua,
 *      uncertainty_ua}]},
 *   "fuse_readings": [{fuse, time, low_ua, high_ua}],
 *   "touched": [{subject, time, id, byte, bit, after, toggles}],
 *   "against_good": [{id, network, appeared, bits, period_good, period_here}],
 *   "ids": [{id, network, sender, frames, frames_late, first, last, rhythm,
 *      period, jitter, period_late, counter_bits, checksum_bits,
 *      changing_bits, changes_late}] } */
#include "answer-json.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#include "answer.h"
#include "current-join.h"
#include "current-report.h"
#include "journal.h"

static void set(json_t *object, const char *key, json_t *value)
{
	json_object_set_new(object, key, value ? value : json_null());
}

static json_t *text(const char *s)
{
	json_t *value = json_string(s);
	return value ? value : json_string("(not UTF-8)");
}

static json_t *moment(nod_time t)
{
	char buf[NOD_TIME_TEXT];
	return nod_time_is_set(t) ? json_string(nod_time_print(buf, t, 9)) : json_null();
}

static json_t *seconds(nod_duration d)
{
	return d.ns == INT64_MIN ? json_null() : json_real((double)d.ns / 1e9);
}

static json_t *count(uint64_t n)
{
	return json_integer((json_int_t)n);
}

static json_t *share(double x)
{
	return x < 0 ? json_null() : json_real(round(x * 1e6) / 1e6);
}

static json_t *id_text(uint32_t id)
{
	char buf[NOD_ID_TEXT];
	return json_string(nod_id_print(buf, id));
}

static json_t *texts(const char **lines, size_t n)
{
	json_t *array = json_array();
	for (size_t i = 0; i < n; i++)
		json_array_append_new(array, text(lines[i]));
	return array;
}

static json_t *recording(const struct nod_findings *f)
{
	json_t *o = json_object();
	set(o, "start", moment(f->start));
	set(o, "end", moment(f->end));
	set(o, "frames", count(f->frames));
	set(o, "lost", count(f->lost));
	set(o, "errors", count(f->errors));
	set(o, "gaps", count(f->gaps));
	set(o, "clock_steps", count(f->clock_steps));
	set(o, "defects", count(f->defects));
	return o;
}

static json_t *lock(const struct nod_findings *f)
{
	json_t *o = json_object();
	set(o, "time", moment(f->lock));
	set(o, "source", text(nod_lock_source_name(f->lock_source)));
	set(o, "settle_clock_from", moment(f->clock_from));
	set(o, "settle_clock_cause", text(f->clock_cause));
	return o;
}

static json_t *speakers(const struct nod_findings *f, const struct nod_speaker *s, int n)
{
	json_t *array = json_array();
	for (int i = 0; i < n; i++) {
		const struct nod_ident_finding *ident = &f->idents[s[i].ident];
		json_t *o = json_object();
		set(o, "id", id_text(ident->id));
		set(o, "sender", text(f->senders[ident->sender].name));
		set(o, "time", moment(s[i].time));
		json_array_append_new(array, o);
	}
	return array;
}

static json_t *span(const struct nod_findings *f, const struct nod_span_finding *s)
{
	json_t *o = json_object();
	set(o, "from", moment(s->from));
	set(o, "to", moment(s->to));
	set(o, "open", json_boolean(s->open));
	set(o, "slept_before", json_boolean(s->slept_before));
	set(o, "silence_known", json_boolean(s->silence_known));
	set(o, "frames", count(s->frames));
	set(o, "bits", count(s->bits));
	set(o, "first", speakers(f, s->first, s->first_count));
	set(o, "last", speakers(f, s->last, s->last_count));
	set(o, "alone",
	    s->lone_sender == NOD_NONE ? json_null() : text(f->senders[s->lone_sender].name));
	set(o, "alone_from", s->lone_sender == NOD_NONE ? json_null() : moment(s->lone_from));
	return o;
}

static json_t *network(const struct nod_findings *f, const struct nod_network_finding *n)
{
	json_t *o = json_object(), *spans = json_array();

	for (size_t i = 0; i < n->span_count; i++)
		json_array_append_new(spans, span(f, &n->spans[i]));
	set(o, "name", text(n->name));
	set(o, "state", text(nod_network_state_name(n->state)));
	set(o, "since", moment(n->since));
	set(o, "verdict", text(nod_verdict_name(n->verdict)));
	set(o, "reason", text(n->reason));
	set(o, "deadline", moment(n->deadline));
	set(o, "deadline_is_default", json_boolean(n->deadline_default));
	set(o, "slept_at", moment(n->slept_at));
	set(o, "awake_late", seconds(n->awake_late));
	set(o, "wakes", count(n->wakes));
	set(o, "wakes_explained", count(n->wakes_explained));
	set(o, "load", share(n->load));
	set(o, "management", text(n->management));
	set(o, "frames", count(n->frames));
	set(o, "lost", count(n->lost));
	set(o, "errors", count(n->errors));
	set(o, "spans", spans);
	set(o, "spans_dropped", count(n->spans_dropped));
	return o;
}

static json_t *networks(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->network_count; i++)
		json_array_append_new(array, network(f, &f->networks[i]));
	return array;
}

static json_t *wakes(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->wake_count; i++) {
		const struct nod_wake_finding *w = &f->wakes[i];
		json_t *o = json_object();
		set(o, "time", moment(w->time));
		set(o, "network", text(f->networks[w->network].name));
		set(o, "id", id_text(f->idents[w->ident].id));
		set(o, "sender", text(f->senders[w->sender].name));
		set(o, "lead", seconds(w->lead));
		set(o, "awake_for", seconds(w->awake_for));
		set(o, "networks", count(w->networks_woken));
		set(o, "cause", *w->cause ? text(w->cause) : json_null());
		json_array_append_new(array, o);
	}
	return array;
}

static const char *kind_name(const struct nod_findings *f, const struct nod_suspect *s)
{
	static const char *const senders[] = {"module", "source address", "node", "id", "tester"};
	static const char *const kinds[] = {"", "unseen", "not a network matter", "nothing"};
	return s->kind == NOD_SUSPECT_SENDER ? senders[f->senders[s->sender].kind] : kinds[s->kind];
}

static json_t *ids_of(const struct nod_findings *f, int sender)
{
	json_t *array = json_array();
	for (size_t i = 0; sender != NOD_NONE && i < f->ident_count; i++)
		if (f->idents[i].sender == sender)
			json_array_append_new(array, id_text(f->idents[i].id));
	return array;
}

static json_t *evidence(const struct nod_suspect *s)
{
	json_t *array = json_array();
	for (size_t i = 0; i < s->evidence_count; i++) {
		json_t *o = json_object();
		set(o, "kind", text(nod_evidence_rule(s->evidence[i].kind)->name));
		set(o, "weight", json_real(round(s->evidence[i].weight * 1000) / 1000));
		set(o, "text", text(s->evidence[i].text));
		json_array_append_new(array, o);
	}
	return array;
}

static json_t *suspect(const struct nod_findings *f, const struct nod_suspect *s)
{
	json_t *o = json_object(), *fuses = json_array();

	for (size_t i = 0; i < s->fuse_count; i++)
		json_array_append_new(fuses, text(f->vehicle->fuses[s->fuses[i]].name));
	set(o, "name", text(s->name));
	set(o, "kind", text(kind_name(f, s)));
	set(o, "role", text(nod_role_name(s->role)));
	set(o, "probability", share(s->probability));
	set(o, "network",
	    s->network == NOD_NONE ? json_null() : text(f->networks[s->network].name));
	set(o, "in_map", json_boolean(s->in_map));
	set(o, "proved", json_boolean(s->proved));
	set(o, "ids", ids_of(f, s->sender));
	set(o, "fuses", fuses);
	set(o, "evidence", evidence(s));
	return o;
}

static json_t *suspects(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->suspect_count; i++)
		json_array_append_new(array, suspect(f, &f->suspects[i]));
	return array;
}

static json_t *culprits(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; f->culprit != NOD_NONE && i < f->suspect_count; i++)
		if (f->suspects[i].kind == NOD_SUSPECT_SENDER && f->suspects[i].probability >= 0.5)
			json_array_append_new(array, text(f->suspects[i].name));
	return array;
}

static json_t *tests(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->proposal_count; i++) {
		const struct nod_test_proposal *p = &f->proposals[i];
		json_t *o = json_object();
		set(o, "what", text(p->what));
		set(o, "fuse",
		    p->fuse == NOD_NONE ? json_null() : text(f->vehicle->fuses[p->fuse].name));
		set(o, "module", p->module == NOD_NONE
					 ? json_null()
					 : text(f->vehicle->modules[p->module].name));
		set(o, "information", share(p->information));
		set(o, "minutes", json_real(p->minutes));
		set(o, "hit", share(p->hit));
		set(o, "caution", text(p->caution));
		json_array_append_new(array, o);
	}
	return array;
}

static json_t *trials(const struct nod_findings *f)
{
	static const char *const results[] = {"undecided", "slept", "proved", "unchanged",
					      "not isolated"};
	json_t *array = json_array();
	for (size_t i = 0; i < f->trial_count; i++) {
		const struct nod_trial_finding *t = &f->trials[i];
		json_t *o = json_object(), *vanished = json_array();
		for (size_t k = 0; k < t->vanished_count; k++)
			json_array_append_new(vanished, id_text(f->idents[t->vanished[k]].id));
		set(o, "subject", text(t->subject));
		set(o, "isolated", moment(t->isolated));
		set(o, "refitted", moment(t->refitted));
		set(o, "network",
		    t->network == NOD_NONE ? json_null() : text(f->networks[t->network].name));
		set(o, "result", text(results[t->result]));
		set(o, "slept_after", seconds(t->slept_after));
		set(o, "text", text(t->text));
		set(o, "vanished", vanished);
		json_array_append_new(array, o);
	}
	return array;
}

static json_t *journal(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->mark_count; i++) {
		json_t *o = json_object();
		set(o, "time", moment(f->marks[i].time));
		set(o, "kind", text(nod_mark_kind_name((enum nod_mark_kind)f->marks[i].kind)));
		set(o, "subject", text(f->marks[i].subject));
		json_array_append_new(array, o);
	}
	return array;
}

static json_t *current_by_network(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->join->network_count; i++) {
		const struct nod_network_current *n = &f->join->networks[i];
		json_t *o = json_object();
		set(o, "network", text(f->networks[i].name));
		set(o, "known", json_boolean(n->known));
		set(o, "ua", n->known ? json_real(round(n->ua)) : json_null());
		set(o, "uncertainty_ua", n->known ? json_real(round(n->uncertainty_ua)) : json_null());
		json_array_append_new(array, o);
	}
	return array;
}

static json_t *current(const struct nod_findings *f)
{
	const struct nod_current_join *j = f->join;

	if (!f->current || !j)
		return json_null();
	json_t *o = json_object();
	set(o, "trace", nod_current_report_json(f->current, true));
	set(o, "asleep_ua", j->asleep_known ? json_real(round(j->asleep_ua)) : json_null());
	set(o, "asleep_uncertainty_ua",
	    j->asleep_known ? json_real(round(j->asleep_uncertainty_ua)) : json_null());
	set(o, "charge_uah", json_real(round(j->charge_uah)));
	set(o, "explained_uah", json_real(round(j->explained_uah)));
	set(o, "explained_all", json_boolean(j->explained_all));
	set(o, "by_network", current_by_network(f));
	return o;
}

static json_t *fuse_readings(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->fuse_count; i++) {
		json_t *o = json_object();
		set(o, "fuse", text(f->vehicle->fuses[f->fuses[i].fuse].name));
		set(o, "time", moment(f->fuses[i].time));
		set(o, "low_ua", json_integer(f->fuses[i].low_ua));
		set(o, "high_ua", json_integer(f->fuses[i].high_ua));
		json_array_append_new(array, o);
	}
	return array;
}

static json_t *touched(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->touch_count; i++) {
		const struct nod_touch_finding *t = &f->touches[i];
		json_t *o = json_object();
		set(o, "subject", text(t->subject));
		set(o, "time", moment(t->time));
		set(o, "id", id_text(f->idents[t->ident].id));
		set(o, "byte", json_integer(t->bit / 8));
		set(o, "bit", json_integer(t->bit % 8));
		set(o, "after", seconds(t->after));
		set(o, "toggles", json_integer(t->toggles));
		json_array_append_new(array, o);
	}
	return array;
}

/* The bits of a mask by number, 0 for bit 0 of byte 0: [17] is byte 2 bit 1. */
static json_t *bit_numbers(uint64_t mask)
{
	json_t *array = json_array();
	for (; mask; mask &= mask - 1)
		json_array_append_new(array, json_integer(__builtin_ctzll(mask)));
	return array;
}

static json_t *against_good(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->difference_count; i++) {
		const struct nod_difference_finding *d = &f->differences[i];
		json_t *o = json_object();
		set(o, "id", id_text(f->idents[d->ident].id));
		set(o, "network", text(f->networks[f->idents[d->ident].network].name));
		set(o, "appeared", json_boolean(d->appeared));
		set(o, "bits", bit_numbers(d->bits));
		set(o, "period_good", d->period ? seconds(d->period_good) : json_null());
		set(o, "period_here", d->period ? seconds(d->period_here) : json_null());
		json_array_append_new(array, o);
	}
	return array;
}

static json_t *ident(const struct nod_findings *f, const struct nod_ident_finding *i)
{
	json_t *o = json_object();
	set(o, "id", id_text(i->id));
	set(o, "network", text(f->networks[i->network].name));
	set(o, "sender", text(f->senders[i->sender].name));
	set(o, "frames", count(i->frames));
	set(o, "frames_late", count(i->frames_late));
	set(o, "first", moment(i->first));
	set(o, "last", moment(i->last));
	set(o, "rhythm", text(nod_rhythm_name(i->before.rhythm)));
	set(o, "period", seconds(i->before.period));
	set(o, "jitter", seconds(i->before.jitter));
	set(o, "period_late", seconds(i->after.period));
	set(o, "counter_bits", count(i->counter_bits));
	set(o, "checksum_bits", count(i->checksum_bits));
	set(o, "changing_bits", count(i->changing_bits));
	set(o, "changes_late", count(i->changes_late));
	return o;
}

static json_t *idents(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->ident_count; i++)
		json_array_append_new(array, ident(f, &f->idents[i]));
	return array;
}

json_t *nod_answer_json(const struct nod_findings *f)
{
	json_t *o = json_object();

	if (!o)
		return NULL;
	set(o, "nodoff", json_integer(1));
	set(o, "verdict", text(nod_verdict_name(f->verdict)));
	set(o, "sentence", text(f->sentence));
	set(o, "culprits", culprits(f));
	set(o, "facts", texts(f->facts, f->fact_count));
	set(o, "next", text(f->next));
	set(o, "cautions", texts(f->cautions, f->caution_count));
	set(o, "doubts", texts(f->doubts, f->doubt_count));
	set(o, "record_longer", seconds(f->record_longer));
	set(o, "recording", recording(f));
	set(o, "lock", lock(f));
	set(o, "networks", networks(f));
	set(o, "wakes", wakes(f));
	set(o, "suspects", suspects(f));
	set(o, "tests", tests(f));
	set(o, "trials", trials(f));
	set(o, "journal", journal(f));
	set(o, "current", current(f));
	set(o, "fuse_readings", fuse_readings(f));
	set(o, "touched", touched(f));
	set(o, "against_good", against_good(f));
	set(o, "ids", idents(f));
	return o;
}

int nod_answer_print_json(FILE *out, const struct nod_findings *f)
{
	json_t *json = nod_answer_json(f);

	if (!json)
		return -ENOMEM;
	int failed = json_dumpf(json, out, NOD_JSON_FLAGS) || fputc('\n', out) == EOF;
	json_decref(json);
	return failed ? -EIO : 0;
}
