/* SPDX-License-Identifier: MIT */
#include "answer.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "answer-short.h"
#include "known.h"
#include "moment-text.h"
#include "paragraph.h"
#include "table-row.h"
#include "when.h"

/* Rows of the longer tables; the rest is counted. JSON has them all. */
#define ROWS_MAX 12

/* Columns of a time; "Tue 14:03:12 +604800.0", the end of a week, has 22. */
#define AT_MOST 24

struct printer {
	FILE *out;
	const struct nod_findings *f;
	struct nod_answer_style style;
	int at;      /* columns of a time */
	bool failed; /* out of memory */
};

static void heading(const struct printer *p, const char *text)
{
	fprintf(p->out, "\n%s%s%s\n", p->style.colour ? "\033[1m" : "", text,
		p->style.colour ? "\033[0m" : "");
}

static const char *at(const struct printer *p, char buf[NOD_MOMENT_TEXT], nod_time t)
{
	return nod_moment_print_cell(buf, p->f, t, p->style.zone);
}

static const char *length(char buf[NOD_TIME_TEXT], nod_duration d)
{
	return d.ns == INT64_MIN ? "-" : nod_duration_print(buf, d);
}

static void print_lines(struct printer *p, const char *title, const char *const *lines,
			size_t count)
{
	if (!count)
		return;
	heading(p, title);
	for (size_t i = 0; i < count; i++)
		p->failed |= !nod_moment_print_paragraph(p->out, "  - ", p->f, lines[i],
							 p->style.zone);
}

static void print_networks(const struct printer *p)
{
	char since[NOD_MOMENT_TEXT], allowed[NOD_TIME_TEXT];

	if (!p->f->network_count)
		return;
	heading(p, "Networks");
	NOD_ROW(p->out, {30 - p->at, ""}, {13, "state"}, {14, ""}, {-p->at, "since"},
		{-11, "allowed"}, {-5, "load"});
	for (size_t i = 0; i < p->f->network_count; i++) {
		const struct nod_network_finding *n = &p->f->networks[i];
		char load[16] = "-";
		if (n->load >= 0)
			snprintf(load, sizeof(load), "%.0f %%", 100 * n->load);
		NOD_ROW(p->out, {30 - p->at, n->name}, {13, nod_network_state_name(n->state)},
			{14, nod_verdict_name(n->verdict)}, {-p->at, at(p, since, n->since)},
			{-11,
			 length(allowed, nod_time_is_set(n->deadline)
						 ? nod_time_since(n->deadline, p->f->clock_from)
						 : NOD_DURATION_NONE)},
			{-5, load});
	}
	fprintf(p->out, "  (+: seconds since %s)\n",
		p->f->lock_source == NOD_LOCK_FROM_START ? "the start of the recording" : "lock");
}

static int span_name_width(const struct printer *p)
{
	return p->at > 20 ? 58 - 2 * p->at : 18;
}

static void print_span(const struct printer *p, const struct nod_network_finding *n, size_t i)
{
	char from[NOD_MOMENT_TEXT], to[NOD_MOMENT_TEXT], silent[NOD_TIME_TEXT];
	const struct nod_span_finding *s = &n->spans[i];
	nod_time next = nod_span_silence_end(n, i, p->f->end);

	nod_duration_print_seconds(silent, nod_time_since(next, s->to), 3);
	NOD_ROW(p->out, {span_name_width(p), n->name}, {-p->at, at(p, from, s->from)},
		{-p->at, s->open ? "still awake" : at(p, to, s->to)},
		{-17, s->open            ? "-"
		      : s->silence_known ? silent
					 : "silence not known"});
}

static void print_spans(const struct printer *p)
{
	size_t rows = 0, total = 0;

	if (!p->f->network_count)
		return;
	heading(p, "Awake");
	NOD_ROW(p->out, {span_name_width(p), ""}, {-p->at, "from"}, {-p->at, "to"},
		{-17, "then silent"});
	for (size_t n = 0; n < p->f->network_count; n++) {
		size_t count = p->f->networks[n].span_count;
		for (size_t i = 0; i < count; i++, total++)
			if (i < 3 || i + 3 >= count) {
				print_span(p, &p->f->networks[n], i);
				rows++;
			}
	}
	if (rows < total)
		fprintf(p->out, "  ... and %zu more\n", total - rows);
}

static void print_wakes(const struct printer *p)
{
	char time[NOD_MOMENT_TEXT], awake[NOD_TIME_TEXT], id[NOD_ID_TEXT];

	if (!p->f->wake_count)
		return;
	heading(p, "Wake-ups");
	NOD_ROW(p->out, {-p->at, "at"}, {10, "network"}, {43 - p->at, "first to speak"},
		{9, "awake for"}, {12, "cause"});
	for (size_t i = 0; i < p->f->wake_count && i < ROWS_MAX; i++) {
		const struct nod_wake_finding *w = &p->f->wakes[i];
		char who[128];
		snprintf(who, sizeof(who), "%s %s", nod_id_print(id, p->f->idents[w->ident].id),
			 p->f->senders[w->sender].name);
		if (p->f->senders[w->sender].kind == NOD_SENDER_ID)
			snprintf(who, sizeof(who), "ID %s", id);
		NOD_ROW(p->out, {-p->at, at(p, time, w->time)},
			{10, p->f->networks[w->network].name}, {43 - p->at, who},
			{9, length(awake, w->awake_for)},
			{12, *w->cause ? w->cause : "none noted"});
	}
	size_t shown = p->f->wake_count < ROWS_MAX ? p->f->wake_count : ROWS_MAX;
	if (p->f->wake_count > shown)
		fprintf(p->out, "  ... and %zu more\n", p->f->wake_count - shown);
}

/* What is no sender has neither role nor fuses, and a longer name. */
static void print_suspect(const struct printer *p, const struct nod_suspect *s)
{
	char percent[16], fuses[256] = "";

	snprintf(percent, sizeof(percent), "%.0f %%", fmin(99, round(100 * s->probability)));
	if (s->kind != NOD_SUSPECT_SENDER) {
		NOD_ROW(p->out, {-6, percent}, {70, s->name});
		return;
	}
	for (size_t k = 0; k < s->fuse_count && strlen(fuses) < 100; k++)
		snprintf(fuses + strlen(fuses), sizeof(fuses) - strlen(fuses), "%s%s",
			 k ? ", " : "", p->f->vehicle->fuses[s->fuses[k]].name);
	NOD_ROW(p->out, {-6, percent}, {37, s->name}, {11, nod_answer_role(s->role)}, {20, fuses});
}

static void print_suspects(const struct printer *p)
{
	if (!p->f->suspect_count)
		return;
	heading(p, "Suspects");
	for (size_t i = 0; i < p->f->suspect_count && i < ROWS_MAX; i++)
		print_suspect(p, &p->f->suspects[i]);
	if (p->f->suspect_count > ROWS_MAX)
		fprintf(p->out, "  ... and %zu more\n", p->f->suspect_count - ROWS_MAX);
}

static void print_ident(const struct printer *p, const struct nod_ident_finding *i)
{
	char id[NOD_ID_TEXT], period[NOD_TIME_TEXT], after[NOD_TIME_TEXT], last[NOD_MOMENT_TEXT];
	char frames[24], late[24];

	snprintf(frames, sizeof(frames), "%" PRIu64, i->frames);
	snprintf(late, sizeof(late), "%" PRIu64, i->frames_late);
	NOD_ROW(p->out, {8, nod_id_print(id, i->id)}, {32 - p->at, p->f->senders[i->sender].name},
		{-7, frames}, {-7, late},
		{9, i->before.rhythm == NOD_RHYTHM_ON_EVENT ? "on event"
							    : length(period, i->before.period)},
		{9, i->after.rhythm == NOD_RHYTHM_ON_EVENT ? "on event"
							   : length(after, i->after.period)},
		{-p->at, at(p, last, i->last)});
}

static void print_idents(const struct printer *p)
{
	heading(p, "Messages");
	NOD_ROW(p->out, {8, "ID"}, {32 - p->at, "sender"}, {-7, "frames"}, {-7, "late"},
		{9, "period"}, {9, "late"}, {-p->at, "last"});
	for (size_t i = 0; i < p->f->ident_count; i++)
		print_ident(p, &p->f->idents[i]);
}

static void print_recording(const struct printer *p)
{
	char start[NOD_WHEN_TEXT], span[NOD_TIME_TEXT], lock[NOD_WHEN_TEXT];

	heading(p, "Recording");
	if (!nod_time_is_set(p->f->start)) {
		fprintf(p->out, "  empty\n");
		return;
	}
	nod_paragraph_printf(p->out, "  ",
			     "%llu frames in %s from %s; lock at %s (%s); settle clock from: %s.",
			     (unsigned long long)p->f->frames,
			     length(span, nod_time_since(p->f->end, p->f->start)),
			     nod_when_print(start, p->f->start, p->style.zone),
			     nod_when_print(lock, p->f->lock, p->style.zone),
			     nod_lock_source_name(p->f->lock_source), p->f->clock_cause);
}

static const char *colour_of(const struct nod_findings *f, struct nod_answer_style style)
{
	if (!style.colour)
		return "";
	switch (f->verdict) {
	case NOD_VERDICT_SLEEPS:
		return "\033[1;32m";
	case NOD_VERDICT_CANNOT_TELL:
	case NOD_VERDICT_LATE:
		return "\033[1;33m";
	default:
		return "\033[1;31m";
	}
}

bool nod_answer_print_verdict(FILE *out, const struct nod_findings *f,
			      struct nod_answer_style style)
{
	char word[40];
	size_t i = 0;

	for (const char *c = nod_verdict_name(f->verdict); *c && i + 1 < sizeof(word); c++)
		word[i++] = (char)(*c >= 'a' && *c <= 'z' ? *c - 32 : *c);
	word[i] = 0;
	fprintf(out, "%s%s%s\n", colour_of(f, style), word, style.colour ? "\033[0m" : "");
	return nod_moment_print_paragraph(out, "", f, f->sentence, style.zone);
}

int nod_answer_print(FILE *out, const struct nod_findings *f, struct nod_answer_style style)
{
	int at = nod_moment_cell_width(f, style.zone);
	struct printer p = {out, f, style, at < AT_MOST ? at : AT_MOST, false};

	if (!style.full && !style.all_idents)
		return nod_answer_print_short(out, f, style);
	p.failed |= !nod_answer_print_verdict(out, f, style);
	print_lines(&p, "Why", f->facts, f->fact_count);
	heading(&p, "Next");
	p.failed |= !nod_moment_print_paragraph(out, "  ", f, f->next, style.zone);
	print_lines(&p, "Take care", f->cautions, f->caution_count);
	print_lines(&p, "What limits this answer", f->doubts, f->doubt_count);
	if (f->known)
		print_lines(&p, "What other recordings know", f->known->lines,
			    f->known->line_count);
	print_suspects(&p);
	print_networks(&p);
	print_spans(&p);
	print_wakes(&p);
	if (style.all_idents)
		print_idents(&p);
	print_recording(&p);
	return p.failed ? -ENOMEM : ferror(out) ? -EIO : 0;
}
