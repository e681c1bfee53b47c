/* SPDX-License-Identifier: MIT */
/* The smallest program on libnodoff: a recording in, the verdict and the first
 * suspect out.
 *
 *     cc verdict.c $(pkg-config --cflags --libs nodoff) -o verdict
 *     ./verdict captures/holder-autosar */
#include <nodoff/nodoff.h>

#include <errno.h>
#include <stdio.h>
#include <string.h>

static int read_all(struct nod_engine *engine, struct nod_session *session, struct nod_error *err)
{
	const struct nod_event *event;
	int status;

	while ((status = nod_session_next(session, &event, err)) > 0)
		if (nod_engine_take(engine, event) == -ENOMEM)
			return nod_error_set(err, ENOMEM, "out of memory");
	return status;
}

static void show(const struct nod_findings *f)
{
	printf("verdict: %s\n%s\n", nod_verdict_name(f->verdict), f->sentence);
	const struct nod_suspect *first = nod_findings_suspect(f, 0);
	if (!first)
		return;
	printf("first suspect: %s (%s), %.0f %%\n", first->name, nod_role_name(first->role),
	       100 * first->probability);
	const struct nod_evidence_finding *e;
	for (size_t i = 0; (e = nod_suspect_evidence(first, i)); i++)
		printf("  %+.1f %s\n", e->weight, e->text);
}

/* The session's own vehicle file, or a vehicle about which nothing is known. */
static struct nod_vehicle *map_of(const struct nod_session *session, struct nod_error *err)
{
	const char *path = nod_session_vehicle(session);

	return path ? nod_vehicle_load(path, err) : nod_vehicle_new();
}

int main(int argc, char **argv)
{
	struct nod_error err = {"out of memory"};
	struct nod_session *session = NULL;
	struct nod_vehicle *vehicle = NULL;
	struct nod_engine *engine = NULL;
	struct nod_findings *findings = NULL;

	if (argc != 2) {
		fprintf(stderr, "usage: verdict CAPTURE|SESSION\n");
		return 2;
	}
	if ((session = nod_session_open(argv[1], &err)) && (vehicle = map_of(session, &err)) &&
	    (engine = nod_engine_new(vehicle, nod_session_interfaces(session))) &&
	    !read_all(engine, session, &err) && (findings = nod_engine_findings(engine)))
		show(findings);
	else
		fprintf(stderr, "verdict: %s\n", err.text);
	int code = findings ? 0 : 4;

	nod_findings_free(findings);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_session_close(session);
	return code;
}
