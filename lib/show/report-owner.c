/* SPDX-License-Identifier: MIT */
/* The half page for the owner of the car: plain words, no tables. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare.h"
#include "journal.h"
#include "markup.h"
#include "moment-text.h"
#include "quantity.h"
#include "report-internal.h"
#include "when.h"

/* Parts that are named one by one. Chosen: a line and a half. */
#define PARTS_MAX 4

#define TEXT_MAX 600

static void item(const struct nod_page *page, const char *name, const char *text)
{
	nod_markup(page->out, "<dt>%s</dt><dd>%s</dd>\n", name, text);
}

/* Who it is, or what is known instead. */
static void print_culprit(char text[TEXT_MAX], const struct nod_findings *f, const char *does)
{
	if (f->culprit == NOD_NONE) {
		snprintf(text, TEXT_MAX, "Which part %s is not certain yet.", does);
		return;
	}
	const struct nod_suspect *s = &f->suspects[f->culprit];
	snprintf(text, TEXT_MAX, "The %.200s %s (%.0f %% sure).", s->name, does,
		 fmin(98, round(100 * s->probability)));
}

static void print_sentence(char text[TEXT_MAX], const struct nod_findings *f)
{
	char *told = nod_moment_tell_clock(f, f->sentence, NULL);

	snprintf(text, TEXT_MAX, "%.590s", told ? told : "");
	free(told);
}

static void print_found(char text[TEXT_MAX], const struct nod_findings *f)
{
	char who[TEXT_MAX];

	switch (f->verdict) {
	case NOD_VERDICT_SLEEPS:
		snprintf(text, TEXT_MAX, "The car falls asleep after it was locked, as it should.");
		break;
	case NOD_VERDICT_KEPT_AWAKE:
		print_culprit(who, f, "keeps it awake");
		snprintf(text, TEXT_MAX, "The car does not fall asleep after it was locked. %.400s",
			 who);
		break;
	case NOD_VERDICT_WOKEN:
		print_culprit(who, f, "wakes it");
		snprintf(text, TEXT_MAX,
			 "The car falls asleep, but is woken again and again. %.400s", who);
		break;
	default:
		print_sentence(text, f);
	}
}

/* What was taken out as a test, by name and once each. */
static void print_done(char text[TEXT_MAX], const struct nod_findings *f)
{
	const char *parts[PARTS_MAX + 1];
	size_t count = 0, used;

	for (size_t i = 0; i < f->mark_count && count <= PARTS_MAX; i++) {
		bool known = f->marks[i].kind != NOD_MARK_ISOLATED;
		for (size_t k = 0; k < count && !known; k++)
			known = !strcmp(parts[k], f->marks[i].subject);
		if (!known)
			parts[count++] = f->marks[i].subject;
	}
	if (!count) {
		snprintf(text, TEXT_MAX, "It was listened to only; nothing was taken out.");
		return;
	}
	used = (size_t)snprintf(text, TEXT_MAX, "Taken out as a test, one after the other: ");
	for (size_t i = 0; i < count && i < PARTS_MAX; i++)
		used += (size_t)snprintf(text + used, TEXT_MAX - used, "%s%.80s", i ? ", " : "",
					 parts[i]);
	snprintf(text + used, TEXT_MAX - used, "%s.", count > PARTS_MAX ? " and more" : "");
}

/* The drain over a long time where it is known, else the lowest steady one. */
static void print_drain(char text[100], const struct nod_outlook *o, const struct nod_findings *f)
{
	double ua = o->drain_ua, off;

	if (o->drain_known || nod_findings_rest_current(f, &ua, &off))
		nod_quantity_print(text, llround(ua), NOD_UNIT_AMPERE);
	else
		snprintf(text, 100, "Not known");
}

/* "about 23 days (12 days at worst), until 2023-12-07". */
static void print_lasts(char text[TEXT_MAX], const struct nod_findings *f,
			const struct nod_outlook *o)
{
	char rule[32], worst[32], day[NOD_WHEN_TEXT] = "";
	nod_time until = nod_time_after(f->end, nod_seconds(o->battery.seconds.rule));

	if (*o->missing) {
		snprintf(text, TEXT_MAX, "Not known: %.500s.", o->missing);
		return;
	}
	if (nod_when_is_unix(f->end) && o->battery.seconds.rule < INT64_C(100000000))
		nod_when_print(day, until, NULL);
	snprintf(text, TEXT_MAX, "A full battery lasts about %s (%s at worst)%s%.10s.",
		 nod_outlook_time(rule, o->battery.seconds.rule),
		 nod_outlook_time(worst, o->battery.seconds.worst),
		 *day ? "; parked from the end of the recording, until about " : "", day);
}

void nod_page_owner(const struct nod_page *page, const struct nod_comparison *c)
{
	char text[TEXT_MAX], drain[100], before[100];
	struct nod_outlook o;

	nod_outlook_find(&o, page->f, page->session->timeline);
	fputs("<section class=\"owner\">", page->out);
	nod_page_heading(page, "In short, for the owner");
	fputs("<dl>\n", page->out);
	print_found(text, c ? c->before : page->f);
	item(page, "What was found", text);
	if (c)
		snprintf(text, sizeof(text), "Worked on, and recorded again. %.500s", c->sentence);
	else
		print_done(text, page->f);
	item(page, "What was done", text);
	print_drain(drain, &o, page->f);
	snprintf(text, sizeof(text), "%s.", drain);
	if (c) {
		print_drain(before, &c->outlook_before, c->before);
		snprintf(text, sizeof(text), "Before: %s. Now: %s.", before, drain);
	}
	item(page, "What it draws when parked", text);
	print_lasts(text, page->f, &o);
	item(page, "How long the battery lasts", text);
	fputs("</dl></section>\n", page->out);
}
