/* SPDX-License-Identifier: MIT */
/* A comparison for people. */
#include <errno.h>
#include <math.h>

#include "compare.h"
#include "paragraph.h"
#include "quantity.h"

#define IDENTS_MAX 40 /* rows; JSON has them all */

static const char *length(char buf[NOD_TIME_TEXT], nod_duration d)
{
	return d.ns == INT64_MIN ? "-" : nod_duration_print(buf, d);
}

static void print_networks(FILE *out, const struct nod_comparison *c)
{
	char slept[NOD_TIME_TEXT], needed[NOD_TIME_TEXT];

	fprintf(out, "\nNetworks\n  %-12s %-14s %-14s %-11s %-11s %s\n", "", "before", "after", "",
		"slept", "needed");
	for (size_t i = 0; i < c->network_count; i++) {
		const struct nod_network_change *n = &c->networks[i];
		fprintf(out, "  %-12.12s %-14.14s %-14.14s %-11s %-11s %s\n", n->name,
			n->before ? nod_verdict_name(n->before->verdict) : "-",
			n->after ? nod_verdict_name(n->after->verdict) : "-",
			nod_change_name(n->change), length(slept, n->slept),
			length(needed, n->needed));
	}
}

/* When each went to sleep, and how often each was woken. */
static void print_sleep(FILE *out, const char *label, const struct nod_findings *f)
{
	char at[NOD_TIME_TEXT], late[NOD_TIME_TEXT];

	for (size_t i = 0; i < f->network_count; i++) {
		const struct nod_network_finding *n = &f->networks[i];
		nod_duration_print(at, nod_time_since(n->first_slept_at, f->lock));
		fprintf(out, "  %-7s %-16.16s %-23s %-16s %u\n", label, n->name,
			nod_time_is_set(n->first_slept_at) ? at : "not after lock",
			n->awake_late.ns > 0 ? nod_duration_print(late, n->awake_late) : "-",
			n->wakes);
	}
}

static void print_idents(FILE *out, const struct nod_comparison *c)
{
	char id[NOD_ID_TEXT], before[NOD_TIME_TEXT], after[NOD_TIME_TEXT];

	if (!c->ident_count)
		return;
	fprintf(out, "\nMessages\n");
	for (size_t k = 0; k < c->ident_count && k < IDENTS_MAX; k++) {
		const struct nod_ident_change *i = &c->idents[k];
		fprintf(out, "  %-8s %-12.12s %-20.20s %s", nod_id_print(id, i->id), i->network,
			i->sender, nod_ident_change_name(i->kind));
		if (i->kind == NOD_IDENT_PERIOD)
			fprintf(out, ": %s, %s", length(before, i->period_before),
				length(after, i->period_after));
		fputc('\n', out);
		if (*i->bits)
			nod_paragraph_print(out, "           ", i->bits);
	}
	if (c->ident_count > IDENTS_MAX)
		fprintf(out, "  ... and %zu more\n", c->ident_count - IDENTS_MAX);
}

static void print_outlook(FILE *out, const char *label, const struct nod_outlook *o)
{
	char days[32], ma[NOD_QUANTITY_TEXT] = "-";

	if (o->drain_known)
		nod_quantity_print(ma, llround(o->drain_ua), NOD_UNIT_AMPERE);
	fprintf(out, "  %-7s %-10s ", label, ma);
	if (*o->missing)
		fprintf(out, "days not known: %s\n", o->missing);
	else
		fprintf(out, "about %s until it does not start\n",
			nod_outlook_time(days, o->battery.seconds.rule));
}

int nod_comparison_print(FILE *out, const struct nod_comparison *c)
{
	nod_paragraph_print(out, "", c->sentence);
	if (c->reason_count)
		fprintf(out, "\nWhy\n");
	for (size_t i = 0; i < c->reason_count; i++)
		nod_paragraph_print(out, "  - ", c->reasons[i]);
	print_networks(out, c);
	fprintf(out, "\nSleep\n  %-7s %-16s %-23s %-16s %s\n", "", "", "first asleep after lock",
		"awake when late", "wake-ups");
	print_sleep(out, "before", c->before);
	print_sleep(out, "after", c->after);
	if (c->outlook_known && (c->before->has_current || c->after->has_current)) {
		fprintf(out, "\nCurrent\n");
		print_outlook(out, "before", &c->outlook_before);
		print_outlook(out, "after", &c->outlook_after);
	}
	print_idents(out, c);
	return ferror(out) ? -EIO : 0;
}
