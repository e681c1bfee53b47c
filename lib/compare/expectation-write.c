/* SPDX-License-Identifier: MIT */
/* A first expectation, and one brought up to date. */
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "current-trace.h"
#include "expectation-keys.h"
#include "quantity.h"
#include "text-log.h"

static void put_values(FILE *out, const char *label, const char *values)
{
	while (*values) {
		int line = (int)strcspn(values, "\n");
		fprintf(out, "%s: %.*s\n", label, line, values);
		values += line + (values[line] == '\n');
	}
}

static void draft_network(FILE *out, const struct nod_findings *f,
			  const struct nod_network_finding *n)
{
	char buf[NOD_TIME_TEXT] = "never";

	fprintf(out, "network %s: %s\n", n->name, nod_verdict_name(n->verdict));
	if (nod_time_is_set(n->first_slept_at)) {
		nod_duration_print_seconds(buf, nod_time_since(n->first_slept_at, f->lock), 3);
		fprintf(out, "slept-at %s: %s s after lock\n", n->name, buf);
	} else {
		fprintf(out, "slept-at %s: never\n", n->name);
	}
	fprintf(out, "wakes %s: %u\n", n->name, n->wakes);
	if (n->wakes_explained)
		fprintf(out, "wakes-explained %s: %u\n", n->name, n->wakes_explained);
}

/* Rounded down to a ten: exact probabilities move with every improvement. */
static void draft_culprits(FILE *out, const struct nod_findings *f, struct nod_arena *arena)
{
	double least = 1;

	put_values(out, "culprit", nod_expectation_culprits(f, arena));
	if (f->culprit == NOD_NONE)
		return;
	for (size_t i = 0; i < f->suspect_count; i++)
		if (f->suspects[i].kind == NOD_SUSPECT_SENDER && f->suspects[i].probability >= 0.5)
			least = fmin(least, f->suspects[i].probability);
	fprintf(out, "role: %s\n", nod_role_name(f->suspects[f->culprit].role));
	fprintf(out, "probability: >= %.0f %%\n", 10 * floor(10 * least));
}

int nod_expectation_draft(FILE *out, const struct nod_findings *f)
{
	struct nod_arena arena = {0};
	char buf[NOD_QUANTITY_TEXT];
	double ua, uncertainty;

	fprintf(out,
		"# What nodoff must say of this session; drafted from what it says. Check it.\n");
	fprintf(out, "verdict: %s\n", nod_verdict_name(f->verdict));
	draft_culprits(out, f, &arena);
	for (size_t i = 0; i < f->network_count; i++)
		draft_network(out, f, &f->networks[i]);
	if (nod_findings_rest_current(f, &ua, &uncertainty))
		fprintf(out, "quiescent: <= %s\n",
			nod_quantity_print(buf, llround(1.005 * ua + uncertainty),
					   NOD_UNIT_AMPERE));
	bool failed = arena.failed;
	nod_arena_free(&arena);
	return failed ? -ENOMEM : ferror(out) ? -EIO : 0;
}

/* The bound that was asked for stays, when the value can be written with it. */
static void put_found(FILE *out, const struct nod_difference *diff)
{
	static const char *const bounds[] = {"", "<= ", ">= ", ""};
	const struct nod_demand *d = diff->demand;
	bool never = !strcmp(diff->found, "never");
	bool bounded = d->key != NOD_DEMAND_SLEEPS_BY && !never;

	if (bounded && *bounds[d->bound] && *diff->found) {
		fprintf(out, "%s: %s%s\n", d->label, bounds[d->bound], diff->found);
		return;
	}
	put_values(out, d->label, diff->found);
}

static const struct nod_difference *difference_at(const struct nod_differences *d, uint64_t line)
{
	for (size_t i = 0; i < d->count; i++)
		if (d->list[i].demand->line == line)
			return &d->list[i];
	return NULL;
}

/* The other lines of a list of culprits that is replaced as a whole. */
static bool belongs_to_replaced(const struct nod_differences *d, const char *text)
{
	bool culprit = false;

	for (size_t i = 0; i < d->count; i++)
		culprit = culprit || d->list[i].demand->key == NOD_DEMAND_CULPRIT;
	text += strspn(text, " \t");
	return culprit && !strncmp(text, "culprit", 7) && strchr(" \t:", text[7]);
}

/* Once what was found is demanded, no miss is left to be known. */
static bool is_miss(const char *text)
{
	text += strspn(text, " \t");
	return !strncmp(text, "known-miss", 10) && strchr(" \t:", text[10]);
}

int nod_expectation_revise(FILE *out, const char *path, const struct nod_differences *d,
			   struct nod_error *err)
{
	struct nod_text_log *log = nod_text_log_open(path, err);
	struct nod_text_line line;
	int result;

	if (!log)
		return -errno;
	while ((result = nod_text_log_next(log, &line)) > 0) {
		const struct nod_difference *diff = difference_at(d, line.number);
		if (diff)
			put_found(out, diff);
		else if (!belongs_to_replaced(d, line.text) && !is_miss(line.text))
			fprintf(out, "%s\n", line.text);
	}
	nod_text_log_close(log);
	if (result < 0)
		return nod_error_set(err, -result, "%s: %s", path, strerror(-result));
	return ferror(out) ? nod_error_set(err, EIO, "cannot write") : 0;
}
