/* SPDX-License-Identifier: MIT */
/* What facts and doubts are about, who it may be, what to test, what was tested and what was
 * noted, as JSON: see the head of answer-json.c. */
#include "answer-json-internal.h"

#include <math.h>

#include "journal.h"
#include "json-build.h"
#include "known.h"

json_t *nod_answer_fact_kinds(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->fact_count; i++)
		nod_json_append(&array, nod_json_text(nod_fact_name(
						(enum nod_fact)f->facts_about[i].kind)));
	return array;
}

json_t *nod_answer_doubt_kinds(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->doubt_count; i++)
		nod_json_append(&array, nod_json_text(nod_doubt_name(
						(enum nod_doubt)f->doubts_about[i].kind)));
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
			nod_json_append(&array, nod_answer_id(f->idents[i].id));
	return array;
}

static json_t *evidence(const struct nod_suspect *s)
{
	json_t *array = json_array();
	for (size_t i = 0; i < s->evidence_count; i++) {
		json_t *o = json_object();
		nod_json_put(&o, "kind",
			     nod_json_text(nod_evidence_rule(s->evidence[i].kind)->name));
		nod_json_put(&o, "weight",
			     nod_json_number(round(s->evidence[i].weight * 1000) / 1000));
		nod_json_put(&o, "text", nod_json_text(s->evidence[i].text));
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *suspect(const struct nod_findings *f, const struct nod_suspect *s)
{
	json_t *o = json_object(), *fuses = json_array();

	for (size_t i = 0; i < s->fuse_count; i++)
		nod_json_append(&fuses, nod_json_text(f->vehicle->fuses[s->fuses[i]].name));
	nod_json_put(&o, "name", nod_json_text(s->name));
	nod_json_put(&o, "kind", nod_json_text(kind_name(f, s)));
	nod_json_put(&o, "role", nod_json_text(nod_role_name(s->role)));
	nod_json_put(&o, "probability", nod_answer_share(s->probability));
	nod_json_put(&o, "network",
		     s->network == NOD_NONE ? json_null()
					    : nod_json_text(f->networks[s->network].name));
	nod_json_put(&o, "in_map", json_boolean(s->in_map));
	nod_json_put(&o, "proved", json_boolean(s->proved));
	nod_json_put(&o, "ids", ids_of(f, s->sender));
	nod_json_put(&o, "fuses", fuses);
	nod_json_put(&o, "evidence", evidence(s));
	return o;
}

json_t *nod_answer_suspects(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->suspect_count; i++)
		nod_json_append(&array, suspect(f, &f->suspects[i]));
	return array;
}

json_t *nod_answer_culprits(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; f->culprit != NOD_NONE && i < f->suspect_count; i++)
		if (f->suspects[i].kind == NOD_SUSPECT_SENDER && f->suspects[i].probability >= 0.5)
			nod_json_append(&array, nod_json_text(f->suspects[i].name));
	return array;
}

json_t *nod_answer_tests(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->proposal_count; i++) {
		const struct nod_test_proposal *p = &f->proposals[i];
		json_t *o = json_object();
		nod_json_put(&o, "what", nod_json_text(p->what));
		nod_json_put(&o, "fuse",
			     p->fuse == NOD_NONE ? json_null()
						 : nod_json_text(f->vehicle->fuses[p->fuse].name));
		nod_json_put(&o, "module",
			     p->module == NOD_NONE
				     ? json_null()
				     : nod_json_text(f->vehicle->modules[p->module].name));
		nod_json_put(&o, "information", nod_answer_share(p->information));
		nod_json_put(&o, "minutes", nod_json_number(p->minutes));
		nod_json_put(&o, "hit", nod_answer_share(p->hit));
		nod_json_put(&o, "caution", nod_json_text(p->caution));
		nod_json_append(&array, o);
	}
	return array;
}

json_t *nod_answer_isolations(const struct nod_findings *f)
{
	static const char *const results[] = {"undecided", "slept", "proved", "unchanged",
					      "not isolated"};
	static const char *const refits[] = {"none", "awake", "slept"};
	json_t *array = json_array();
	for (size_t i = 0; i < f->isolation_count; i++) {
		const struct nod_isolation_finding *t = &f->isolations[i];
		json_t *o = json_object(), *vanished = json_array();
		for (size_t k = 0; k < t->vanished_count; k++)
			nod_json_append(&vanished, nod_answer_id(f->idents[t->vanished[k]].id));
		nod_json_put(&o, "subject", nod_json_text(t->subject));
		nod_json_put(&o, "isolated", nod_answer_moment(t->isolated));
		nod_json_put(&o, "refitted", nod_answer_moment(t->refitted));
		nod_json_put(&o, "network",
			     t->network == NOD_NONE ? json_null()
						    : nod_json_text(f->networks[t->network].name));
		nod_json_put(&o, "result", nod_json_text(results[t->result]));
		nod_json_put(&o, "slept_after", nod_answer_seconds(t->slept_after));
		nod_json_put(&o, "by_chance", nod_answer_share(t->by_chance));
		nod_json_put(&o, "refit", nod_json_text(refits[t->refit]));
		nod_json_put(&o, "text", nod_json_text(t->text));
		nod_json_put(&o, "vanished", vanished);
		nod_json_append(&array, o);
	}
	return array;
}

json_t *nod_answer_journal(const struct nod_findings *f)
{
	json_t *array = json_array();
	for (size_t i = 0; i < f->mark_count; i++) {
		json_t *o = json_object();
		nod_json_put(&o, "time", nod_answer_moment(f->marks[i].time));
		nod_json_put(
			&o, "kind",
			nod_json_text(nod_mark_kind_name((enum nod_mark_kind)f->marks[i].kind)));
		nod_json_put(&o, "subject", nod_json_text(f->marks[i].subject));
		nod_json_put(&o, "entered", nod_answer_moment(f->marks[i].entered));
		nod_json_put(&o, "meant",
			     f->marks[i].meant ? nod_json_text(f->marks[i].meant) : json_null());
		nod_json_put(&o, "inferred", json_boolean(f->marks[i].inferred));
		nod_json_append(&array, o);
	}
	return array;
}

json_t *nod_answer_texts(const char *const *lines, size_t count)
{
	json_t *array = json_array();
	for (size_t i = 0; i < count; i++)
		nod_json_append(&array, nod_json_text(lines[i]));
	return array;
}

json_t *nod_answer_known(const struct nod_findings *f)
{
	const struct nod_known *k = f->known;

	if (!k)
		return json_null();
	json_t *o = json_object(), *senders = json_array();
	for (size_t i = 0; i < k->sender_count; i++) {
		json_t *sender = json_object();
		nod_json_put(&sender, "name", nod_json_text(k->senders[i].name));
		nod_json_put(&sender, "cars", json_integer(k->senders[i].cars));
		nod_json_append(&senders, sender);
	}
	nod_json_put(&o, "recordings", json_integer(k->recordings));
	nod_json_put(&o, "unread", json_integer(k->unread));
	nod_json_put(&o, "good", k->good ? nod_json_text(k->good) : json_null());
	nod_json_put(&o, "earlier", nod_answer_texts(k->earlier, k->earlier_count));
	nod_json_put(&o, "like", json_integer(k->like));
	nod_json_put(&o, "solved", json_integer(k->solved));
	nod_json_put(&o, "senders", senders);
	nod_json_put(&o, "lines", nod_answer_texts(k->lines, k->line_count));
	return o;
}
