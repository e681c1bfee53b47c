/* SPDX-License-Identifier: MIT */
/* The answer on one screen. */
#include "answer-short.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "known.h"
#include "moment-text.h"
#include "paragraph.h"
#include "table-row.h"
#include "text-stream.h"
#include "when.h"

/* A terminal of 80x24 with the prompt before and after it. */
#define LINES_MAX 20

/* How much is told, from the most that may fit to what must. */
struct budget {
	size_t facts, doubts, networks;
};
static const struct budget budgets[] = {{3, 2, 8}, {3, 1, 6}, {2, 1, 6}, {2, 1, 4},
					{2, 0, 4}, {1, 0, 3}, {1, 0, 2}};
#define BUDGETS (sizeof(budgets) / sizeof(budgets[0]))

struct page {
	FILE *out;
	const struct nod_findings *f;
	struct nod_answer_style style;
	bool failed; /* out of memory */
};

static size_t least(size_t a, size_t b)
{
	return a < b ? a : b;
}

static void paragraph(struct page *p, const char *lead, const char *text)
{
	p->failed |= !nod_moment_print_paragraph(p->out, lead, p->f, text, p->style.zone);
}

#define SINCE_WIDTH 36

/* Where there is no room for the date, how long after the lock. */
static const char *fitting(char since[NOD_MOMENT_TEXT])
{
	char *open = strlen(since) > SINCE_WIDTH ? strchr(since, '(') : NULL;

	if (!open)
		return since;
	open[strcspn(open, ")")] = 0;
	return open + 1;
}

static void print_networks(struct page *p, size_t most)
{
	char since[NOD_MOMENT_TEXT], state[32];

	for (size_t i = 0; i < least(most, p->f->network_count); i++) {
		const struct nod_network_finding *n = &p->f->networks[i];
		bool heard = n->span_count && nod_time_is_set(n->since);
		nod_moment_print(since, p->f, n->since, p->style.zone);
		snprintf(state, sizeof(state), "%s%s", nod_network_state_name(n->state),
			 heard ? " since" : "");
		NOD_ROW(p->out, {12, n->name}, {14, nod_verdict_name(n->verdict)}, {13, state},
			{SINCE_WIDTH, heard ? fitting(since) : ""});
	}
	if (p->f->network_count > most)
		fprintf(p->out, "  ... and %zu more networks\n", p->f->network_count - most);
}

static void print_end(struct page *p)
{
	char lock[NOD_WHEN_TEXT], length[NOD_TIME_TEXT], source[64];
	const struct nod_findings *f = p->f;
	bool known = f->lock_source != NOD_LOCK_FROM_START;

	if (!nod_time_is_set(f->start))
		return;
	nod_duration_print(length, nod_time_since(f->end, f->start));
	snprintf(source, sizeof(source), " (%s)", nod_lock_source_name(f->lock_source));
	nod_paragraph_printf(p->out, "", "%s %s%s; %llu frames in %s. More: --full",
			     known ? "Locked" : "Recorded from",
			     nod_when_print(lock, f->lock, p->style.zone), known ? source : "",
			     (unsigned long long)f->frames, length);
}

static void print_page(struct page *p, const struct budget *b)
{
	const struct nod_findings *f = p->f;

	p->failed |= !nod_answer_print_verdict(p->out, f, p->style);
	for (size_t i = 0; i < least(b->facts, f->fact_count); i++)
		paragraph(p, "  - ", f->facts[i]);
	fputc('\n', p->out);
	paragraph(p, "Next: ", f->next);
	for (size_t i = 0; i < f->caution_count; i++)
		paragraph(p, "    ! ", f->cautions[i]);
	for (size_t i = 0; i < least(b->doubts, f->doubt_count); i++)
		paragraph(p, "    ? ", f->doubts[i]);
	fputc('\n', p->out);
	print_networks(p, b->networks);
	if (f->known && *f->known->brief)
		paragraph(p, "", f->known->brief);
	print_end(p);
}

static size_t count_lines(const char *text)
{
	size_t lines = 0;

	for (; *text; text++)
		lines += *text == '\n';
	return lines;
}

int nod_answer_print_short(FILE *out, const struct nod_findings *f, struct nod_answer_style style)
{
	for (size_t i = 0; i < BUDGETS; i++) {
		struct nod_text_stream text;
		if (nod_text_stream_open(&text))
			return -ENOMEM;
		struct page p = {text.out, f, style, false};
		print_page(&p, &budgets[i]);
		if (nod_text_stream_close(&text))
			return -ENOMEM;
		bool fits = i + 1 == BUDGETS || count_lines(text.text) <= LINES_MAX;
		if (fits && !p.failed)
			fputs(text.text, out);
		free(text.text);
		if (p.failed)
			return -ENOMEM;
		if (fits)
			break;
	}
	return ferror(out) ? -EIO : 0;
}

const char *nod_answer_role(enum nod_role role)
{
	static const char *const words[] = {"keeps awake", "wakes", "draws", "tester", "other"};

	return words[role];
}
