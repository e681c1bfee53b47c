/* SPDX-License-Identifier: MIT */
/* Walks what an analysis found, as a program does that is built apart from the library. Built by
 * test-library.py, once by the headers and once by such as lack the last members. */
#include <nodoff/nodoff.h>

#include <inttypes.h>
#include <stdio.h>

static void walk_network(const struct nod_network_finding *n)
{
	const struct nod_span_finding *span;

	printf("network %s: %s, %s\n", n->name, nod_verdict_name(n->verdict), n->reason);
	for (size_t i = 0; (span = nod_network_span(n, i)); i++)
		printf("  span from %" PRId64 " to %" PRId64 ", %d first, slept after: %d\n",
		       span->from.ns, span->to.ns, span->first_count, nod_span_slept_after(n, i));
}

static void walk_suspect(const struct nod_suspect *s)
{
	const struct nod_evidence_finding *e;

	printf("suspect %s: %.3f\n", s->name, s->probability);
	for (size_t i = 0; (e = nod_suspect_evidence(s, i)); i++)
		printf("  %s %+.2f %s\n", nod_evidence_rule(e->kind)->name, e->weight, e->text);
}

static void walk_heard(const struct nod_findings *f)
{
	const struct nod_network_finding *network;
	const struct nod_sender_finding *sender;
	const struct nod_ident_finding *ident;
	const struct nod_wake_finding *wake;

	for (size_t i = 0; (network = nod_findings_network(f, i)); i++)
		walk_network(network);
	for (size_t i = 0; (sender = nod_findings_sender(f, i)); i++)
		printf("sender %s\n", sender->name);
	for (size_t i = 0; (ident = nod_findings_ident(f, i)); i++)
		printf("message %" PRIX32 ": %" PRIu64 "\n", ident->id, ident->frames);
	for (size_t i = 0; (wake = nod_findings_wake(f, i)); i++)
		printf("woken at %" PRId64 "\n", wake->time.ns);
}

static void walk_judged(const struct nod_findings *f)
{
	const struct nod_suspect *suspect;
	const struct nod_test_proposal *proposal;
	const struct nod_isolation_finding *isolation;
	const struct nod_mark_finding *mark;
	const struct nod_about *about;

	printf("%s\n", f->sentence);
	for (size_t i = 0; (about = nod_findings_fact_about(f, i)); i++)
		printf("fact %d of %d: %s\n", about->kind, about->of, f->facts[i]);
	for (size_t i = 0; (about = nod_findings_doubt_about(f, i)); i++)
		printf("doubt %d of %d: %s\n", about->kind, about->of, f->doubts[i]);
	for (size_t i = 0; (suspect = nod_findings_suspect(f, i)); i++)
		walk_suspect(suspect);
	for (size_t i = 0; (proposal = nod_findings_proposal(f, i)); i++)
		printf("next %s: %.2f\n", proposal->what, proposal->information);
	for (size_t i = 0; (isolation = nod_findings_isolation(f, i)); i++)
		printf("isolated %s\n", isolation->text);
	for (size_t i = 0; (mark = nod_findings_mark(f, i)); i++)
		printf("mark %d %s\n", mark->kind, mark->subject);
}

static void walk_vehicle(const struct nod_vehicle *vehicle)
{
	const struct nod_network *network;
	const struct nod_module *module;
	const struct nod_fuse *fuse;

	for (size_t i = 0; (network = nod_vehicle_network(vehicle, i)); i++)
		printf("of the map: network %s\n", network->name);
	for (size_t i = 0; (module = nod_vehicle_module(vehicle, i)); i++)
		printf("of the map: module %s\n", module->name);
	for (size_t i = 0; (fuse = nod_vehicle_fuse(vehicle, i)); i++)
		printf("of the map: fuse %s\n", fuse->name);
}

int main(int argc, char **argv)
{
	struct nod_error err = {"usage: walk SESSION"};
	struct nod_session *session = argc == 2 ? nod_session_open(argv[1], &err) : NULL;
	struct nod_vehicle *vehicle = session ? nod_vehicle_load(nod_session_vehicle(session), &err)
					      : NULL;
	struct nod_engine *engine = vehicle ? nod_engine_new(vehicle,
							     nod_session_interfaces(session))
					    : NULL;
	const struct nod_event *event;

	while (engine && nod_session_next(session, &event, &err) > 0)
		nod_engine_take(engine, event);
	struct nod_findings *findings = engine ? nod_engine_findings(engine) : NULL;
	if (findings) {
		walk_heard(findings);
		walk_judged(findings);
		walk_vehicle(vehicle);
	} else {
		fprintf(stderr, "walk: %s\n", err.text);
	}
	nod_findings_free(findings);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_session_close(session);
	return findings ? 0 : 1;
}
