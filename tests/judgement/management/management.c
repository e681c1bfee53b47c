/* SPDX-License-Identifier: MIT */
/* How well network management is read: invented networks of state machines
 * (world.h), judged by the engine and scored by the truth, with management given
 * in the map and with management to be detected.
 *
 *     management [--first SEED] [--seeds N] [--situation NAME] [--misses] [--log FILE]
 *
 * Tuned on seeds below 1000; report on seeds from 1000 on. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../arguments.h"
#include "engine.h"
#include "world.h"

#define NAMED 0.5
#define SURE 0.9

struct score {
	unsigned cases, verdict, exactly, culprit_sure, innocent, innocent_sure, nodes, nodes_extra;
};

struct run {
	struct world w;
	struct nod_engine *engine;
	FILE *log;
};

static void emit(void *to, int64_t at, uint32_t id, const uint8_t *data, int length)
{
	struct run *run = to;
	struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = {at}};

	event.frame.time.ns = at;
	event.frame.id = id;
	event.frame.length = (uint8_t)length;
	memcpy(event.frame.data, data, (size_t)length);
	nod_engine_take(run->engine, &event);
	if (!run->log)
		return;
	fprintf(run->log,
		id & NOD_ID_EXTENDED ? "(%lld.%06lld) can0 %08X#" : "(%lld.%06lld) can0 %03X#",
		(long long)(at / S), (long long)(at % S / 1000), (unsigned)(id & 0x1FFFFFFF));
	for (int i = 0; i < length; i++)
		fprintf(run->log, "%02X", data[i]);
	fputc('\n', run->log);
}

static void write_byte(FILE *out, const char *key, int byte)
{
	if (byte >= 0)
		fprintf(out, "      %s: %d\n", key, byte);
	else
		fprintf(out, "      %s: none\n", key);
}

static void write_management(FILE *out, const struct world *w)
{
	const struct sim_nm_config *c = &w->bus.config;
	int digits = w->extended ? 8 : 3;

	fprintf(out, "    management:\n      scheme: %s\n      ids: %0*X-%0*X\n",
		c->scheme == NOD_NM_AUTOSAR ? "autosar" : "osek", digits, w->base, digits,
		w->base + 0xFF);
	if (c->scheme != NOD_NM_AUTOSAR)
		return;
	write_byte(out, "node byte", c->node_byte);
	write_byte(out, "control byte", c->control_byte);
	if (c->partial_first >= 0)
		fprintf(out, "      partial network bytes: %d-%d\n", c->partial_first,
			c->partial_first + 1);
}

static char *write_map(const struct world *w, bool given)
{
	int digits = w->extended ? 8 : 3;
	char *text = NULL;
	size_t length;
	FILE *out = open_memstream(&text, &length);

	fputs("vehicle: Invented\nnetworks:\n  body:\n    interfaces: [can0]\n    sleeps within: 60 s\n"
	      "    quiet time: 6 s\n",
	      out);
	if (given)
		write_management(out, w);
	fputs("modules:\n", out);
	for (int i = 0; i < w->count; i++) {
		const struct node *n = &w->nodes[i];
		fprintf(out, "  %s:\n    networks: [body]\n", n->name);
		for (int m = 0; m < n->message_count; m++)
			fprintf(out, "%s%0*X", m ? ", " : "    ids: [", digits,
				(unsigned)n->messages[m].id);
		if (!given)
			fprintf(out, "%s%0*X", n->message_count ? ", " : "    ids: [", digits,
				n->nm_id);
		fputs(!given || n->message_count ? "]\n" : "", out);
		if (given)
			fprintf(out, "    node: %02X\n", n->nm.address);
		if (n->said_gateway)
			fputs("    gateway: yes\n", out);
	}
	fclose(out);
	return text;
}

static bool is_culprit(const struct world *w, const char *name)
{
	for (int i = 0; i < w->culprit_count; i++)
		if (!strcmp(w->nodes[w->culprits[i]].name, name))
			return true;
	return false;
}

static unsigned count_sure(const struct world *w, const struct nod_findings *f, double least,
			   bool culprit)
{
	unsigned count = 0;

	for (size_t i = 0; i < f->suspect_count; i++)
		if (f->suspects[i].kind == NOD_SUSPECT_SENDER &&
		    f->suspects[i].probability >= least &&
		    is_culprit(w, f->suspects[i].name) == culprit)
			count++;
	return count;
}

static bool verdict_right(const struct world *w, const struct nod_findings *f)
{
	if (strstr(w->situation, "healthy"))
		return f->verdict == NOD_VERDICT_SLEEPS;
	if (strstr(w->situation, "waker"))
		return f->verdict == NOD_VERDICT_WOKEN;
	return f->verdict == NOD_VERDICT_KEPT_AWAKE || f->verdict == NOD_VERDICT_WOKEN;
}

/* All nodes that sent a PDU are found, and nothing else. */
static void score_nodes(struct score *s, const struct world *w, const struct nod_findings *f)
{
	unsigned right = 0, wrong = 0, all = (unsigned)__builtin_popcount(w->nm_ids);

	for (size_t i = 0; i < f->ident_count; i++) {
		uint32_t id = f->idents[i].id & 0x1FFFFFFF;
		bool node = false;
		for (int k = 0; k < w->count; k++)
			node |= w->nm_ids >> k & 1 && id == w->nodes[k].nm_id;
		right += node && f->idents[i].management;
		wrong += !node && f->idents[i].management;
	}
	s->nodes += right == all && !wrong;
	s->nodes_extra += wrong;
}

static bool judge(struct score *s, const struct world *w, const struct nod_findings *f)
{
	unsigned culprits = count_sure(w, f, NAMED, true),
		 innocents = count_sure(w, f, NAMED, false);
	bool exactly = culprits == (unsigned)w->culprit_count && !innocents;

	s->cases++;
	s->verdict += verdict_right(w, f);
	s->exactly += exactly;
	s->culprit_sure += count_sure(w, f, SURE, true) == (unsigned)w->culprit_count;
	s->innocent += innocents > 0;
	s->innocent_sure += count_sure(w, f, SURE, false) > 0;
	unsigned found = s->nodes;
	score_nodes(s, w, f);
	return exactly && verdict_right(w, f) && s->nodes > found &&
	       count_sure(w, f, SURE, true) == (unsigned)w->culprit_count;
}

static void show_nodes(const struct world *w, const struct nod_findings *f)
{
	const struct sim_nm_config *c = &w->bus.config;

	printf("    layout %d %d, base %X, cycle %d, immediate %d x %d, repeat %d, timeout %d, wait %d; "
	       "typ %d, tick %d\n   %s%s%s%s, loss %d; management %s; nodes:",
	       c->node_byte, c->control_byte, w->base, (int)(c->cycle / MS), c->immediate,
	       (int)(c->immediate_cycle / MS), (int)(c->repeat / MS), (int)(c->timeout / MS),
	       (int)(c->wait / MS), (int)(c->typ / MS), (int)(c->tick / MS),
	       c->moves ? " moves" : "", w->strange_numbers ? " strange" : "",
	       w->nodes[0].nm.lets_go ? " lets-go" : "",
	       w->nodes[0].message_count ? "" : " no-application", w->loss_permille,
	       f->networks[0].management);
	for (size_t i = 0; i < f->ident_count; i++)
		if (f->idents[i].management)
			printf(" %X", f->idents[i].id & 0x1FFFFFFF);
	printf(" of:");
	for (int k = 0; k < w->count; k++)
		if (w->nm_ids >> k & 1)
			printf(" %X", w->nodes[k].nm_id);
}

static void show(const struct world *w, const struct nod_findings *f, unsigned long long seed,
		 bool given)
{
	printf("  %s seed %llu %s: truth", w->situation, seed, given ? "given" : "detected");
	for (int i = 0; i < w->culprit_count; i++)
		printf(" %s (%X)", w->nodes[w->culprits[i]].name, w->nodes[w->culprits[i]].nm_id);
	printf("\n    said: %s\n", f->sentence);
	show_nodes(w, f);
	printf("\n");
	for (size_t i = 0; i < f->suspect_count && i < 4; i++) {
		printf("    %.2f %s:", f->suspects[i].probability, f->suspects[i].name);
		for (size_t k = 0; k < f->suspects[i].evidence_count; k++)
			printf(" %s %.1f", nod_evidence_rule(f->suspects[i].evidence[k].kind)->name,
			       f->suspects[i].evidence[k].weight);
		printf("\n");
	}
}

static int run_one(struct score *s, const char *situation, unsigned long long seed, bool given,
		   bool misses, const char *log)
{
	static struct run run;
	struct nod_interfaces interfaces = {0};
	struct nod_error err = {""};

	world_lay(&run.w, situation, seed);
	run.w.emit = emit;
	run.w.to = &run;
	char *map = write_map(&run.w, given);
	struct nod_vehicle *vehicle = nod_vehicle_parse(map, strlen(map), "map", &err);
	if (!vehicle || nod_interfaces_index(&interfaces, "can0", 4) < 0) {
		fprintf(stderr, "%s\n%s", err.text, map);
		return -1;
	}
	run.engine = nod_engine_new(vehicle, &interfaces);
	run.log = log ? fopen(log, "w") : NULL;
	nod_engine_set_lock(run.engine, (nod_time){run.w.lock}, NOD_LOCK_FROM_OPTION);
	world_run(&run.w);
	nod_engine_advance(run.engine, (nod_time){run.w.end});
	struct nod_findings *f = nod_engine_findings(run.engine);
	if (!judge(s, &run.w, f) && misses)
		show(&run.w, f, seed, given);
	if (run.log) {
		fclose(run.log);
		fputs(map, stdout);
	}
	nod_findings_free(f);
	nod_engine_free(run.engine);
	nod_vehicle_free(vehicle);
	free(map);
	return 0;
}

static void print(const char *name, const char *how, const struct score *s)
{
	printf("%-18s %-8s %5u  %5.1f%%  %5.1f%% %7.1f%% %5u %6u   %5.1f%% %4u\n", name, how,
	       s->cases, 100.0 * s->verdict / s->cases, 100.0 * s->exactly / s->cases,
	       100.0 * s->culprit_sure / s->cases, s->innocent, s->innocent_sure,
	       100.0 * s->nodes / s->cases, s->nodes_extra);
}

static void add(struct score *to, const struct score *s)
{
	unsigned *a = (unsigned *)to;
	const unsigned *b = (const unsigned *)s;

	for (size_t i = 0; i < sizeof(*to) / sizeof(*a); i++)
		a[i] += b[i];
}

struct request {
	unsigned long long first, seeds;
	const char *only, *log;
	bool misses, ways[2];
};

static bool read_request(struct request *r, int argc, char **argv)
{

	*r = (struct request){.first = 1000, .seeds = 20, .ways = {true, true}};
	const struct argument list[] = {
		{.name = "first", .whole = &r->first},     {.name = "seeds", .whole = &r->seeds},
		{.name = "situation", .text = &r->only},   {.name = "misses", .flag = &r->misses},
		{.name = "log", .text = &r->log},          {.name = "given", .flag = &r->ways[0]},
		{.name = "detected", .flag = &r->ways[1]}, {0}};

	if (!arguments_take(list, argc, argv))
		return false;
	return true;
}

static int score(const struct request *r, const char *name, int given, struct score *all)
{
	struct score s = {0};

	for (unsigned long long k = 0; k < r->seeds; k++)
		if (run_one(&s, name, r->first + k, given, r->misses, r->log))
			return -1;
	print(name, given ? "given" : "detected", &s);
	fflush(stdout);
	add(all, &s);
	return 0;
}

int main(int argc, char **argv)
{
	struct score all[2] = {{0}};
	struct request r;

	if (!read_request(&r, argc, argv))
		return 2;
	printf("%-18s %-8s %5s  %6s  %6s %8s %5s %6s   %6s %4s\n", "situation", "nm is", "cases",
	       "verdict", "exact", "at 0.9", "inno", "in 0.9", "nodes", "more");
	for (const char *const *name = world_situations; *name; name++)
		for (int given = 1; given >= 0; given--)
			if ((!r.only || !strcmp(r.only, *name)) && r.ways[given] &&
			    score(&r, *name, given, &all[given]))
				return 1;
	for (int given = 1; given >= 0; given--)
		if (all[given].cases)
			print("all", given ? "given" : "detected", &all[given]);
	return 0;
}
