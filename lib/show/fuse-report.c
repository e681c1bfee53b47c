/* SPDX-License-Identifier: MIT */
#include "fuse-report.h"

#include <stdarg.h>

#include "paragraph.h"
#include "quantity.h"

/* Below this (corrected) chance a coincidence is called unlikely; the usual
 * level of a test, chosen. */
#define UNLIKELY 0.05

/* "310 mA"; three digits are more than the method has, but sums should add up. */
static const char *amps(char buf[NOD_QUANTITY_TEXT], int64_t ua)
{
	return nod_quantity_print(buf, ua, NOD_UNIT_AMPERE);
}

/* A text that grows; what does not fit is cut. */
struct text {
	char bytes[800];
	size_t used;
};

__attribute__((format(printf, 2, 3))) static void append(struct text *t, const char *format, ...)
{
	size_t room = sizeof(t->bytes) - t->used;
	va_list args;

	va_start(args, format);
	int length = vsnprintf(t->bytes + t->used, room, format, args);
	va_end(args);
	if (length > 0)
		t->used += (size_t)length < room ? (size_t)length : room - 1;
}

static void append_item(struct text *t, const char *item)
{
	append(t, "%s%s", t->used ? ", " : "", item);
}

/* -- the answer --------------------------------------------------------- */

static void print_answer(FILE *out, const struct nod_fuse_survey *s)
{
	const struct nod_fuse_line *first = &s->lines[0];
	char ma[NOD_QUANTITY_TEXT], low[NOD_QUANTITY_TEXT], high[NOD_QUANTITY_TEXT];

	if (!s->known)
		nod_paragraph_print(out, "",
				    "None of these readings can be turned into a current.");
	else if (!s->carrying)
		nod_paragraph_printf(out, "",
				     "No fuse of %zu shows a current beyond what the meter can "
				     "tell; each may still carry what stands under \"at most\".",
				     s->known);
	else
		nod_paragraph_printf(
			out, "",
			"%zu of %zu fuses carr%s current; %s the most, about %s (%s to "
			"%s).",
			s->carrying, s->known, s->carrying == 1 ? "ies" : "y", first->reading.name,
			amps(ma, first->current.ua), amps(low, first->current.low_ua),
			amps(high, first->current.high_ua));
}

/* -- the fuses ---------------------------------------------------------- */

/* "mini 10 A, cabin: " */
static void append_fuse(struct text *t, const struct nod_fuse *fuse)
{
	char rating[NOD_FUSE_RATING_TEXT];

	if (fuse->family)
		append(t, "%s", fuse->family);
	if (fuse->rating_ma)
		append(t, "%s%s", t->used ? " " : "",
		       nod_fuse_rating_print(rating, fuse->rating_ma));
	if (fuse->box)
		append_item(t, fuse->box);
	if (t->used)
		append(t, ": ");
}

/* What the fuse is and which modules and consumers hang on it. */
static const char *describe(struct text *t, const struct nod_fuse_line *line,
			    const struct nod_vehicle *vehicle)
{
	bool first = true;

	*t = (struct text){0};
	if (line->reading.fuse == NOD_NONE)
		return t->bytes;
	const struct nod_fuse *fuse = &vehicle->fuses[line->reading.fuse];
	append_fuse(t, fuse);
	for (size_t i = 0; i < line->module_count; i++, first = false)
		append(t, "%s%s", first ? "" : ", ", vehicle->modules[line->modules[i]].name);
	for (size_t i = 0; i < fuse->feed_count; i++, first = false)
		append(t, "%s%s", first ? "" : ", ", fuse->feeds[i]);
	if (first)
		append(t, "the map does not say what hangs on it");
	return t->bytes;
}

/* A name of any length in a column of `width` characters: padded, not cut. */
static void column(FILE *out, const char *text, int width)
{
	int pad = width - nod_text_columns(text);

	fprintf(out, "%s%*s", text, pad > 0 ? pad : 0, "");
}

static const char *state_text(const struct nod_fuse_line *line)
{
	static const char *const texts[] = {"", "  within the meter", "  none seen"};
	return texts[line->current.state];
}

/* A reading that nobody can have read is cut to what can be printed. */
static char *millivolts(char buf[NOD_QUANTITY_TEXT], int64_t uv)
{
	const int64_t most = INT64_MAX / 1000;

	uv = uv > most ? most : uv < -most ? -most : uv;
	return nod_quantity_print_fixed(buf, uv * 1000, NOD_UNIT_NONE, 2);
}

static void print_line(FILE *out, const struct nod_fuse_line *line,
		       const struct nod_vehicle *vehicle)
{
	const struct nod_fuse_current *c = &line->current;
	char uv[NOD_QUANTITY_TEXT], ma[NOD_QUANTITY_TEXT], low[NOD_QUANTITY_TEXT];
	char high[NOD_QUANTITY_TEXT];
	struct text hangs;

	fputs("  ", out);
	column(out, line->reading.name, 13);
	millivolts(uv, line->reading.uv);
	if (!line->known) {
		fprintf(out, " %7s mV   not known\n", uv);
		return;
	}
	fprintf(out, " %7s mV %9s %9s %9s%s\n", uv, amps(ma, c->ua), amps(low, c->low_ua),
		amps(high, c->high_ua), state_text(line));
	if (c->state == NOD_FUSE_CARRIES && *describe(&hangs, line, vehicle))
		nod_paragraph_print(out, "      ", hangs.bytes);
}

static void print_lines(FILE *out, const struct nod_fuse_survey *s,
			const struct nod_vehicle *vehicle)
{
	fprintf(out, "\n  %-13s %10s %9s %9s %9s\n", "fuse", "reading", "current", "at least",
		"at most");
	for (size_t i = 0; i < s->line_count; i++)
		print_line(out, &s->lines[i], vehicle);
	for (size_t i = 0; i < s->line_count; i++)
		if (!s->lines[i].known)
			nod_paragraph_print(out, "  - ", s->lines[i].refusal);
}

/* -- what they share ---------------------------------------------------- */

/* "1 in 56" */
static const char *odds(char buf[NOD_QUANTITY_TEXT], double chance)
{
	if (chance > 0.1)
		snprintf(buf, NOD_QUANTITY_TEXT, "%.0f %%", chance * 100);
	else if (chance > 1e-9)
		snprintf(buf, NOD_QUANTITY_TEXT, "1 in %.0f", 1 / chance);
	else
		snprintf(buf, NOD_QUANTITY_TEXT, "less than 1 in 10^9");
	return buf;
}

static const char *tie_text(enum nod_fuse_tie tie)
{
	static const char *const texts[] = {"on the network ", "fed to ", "in the box ", "fed to "};
	return texts[tie];
}

/* The chance of this, and of the best of all things compared to be like it. */
static void print_common(FILE *out, const struct nod_fuse_survey *s,
			 const struct nod_fuse_common *c)
{
	char chance[NOD_QUANTITY_TEXT], corrected[NOD_QUANTITY_TEXT];
	const char *verdict = c->corrected < UNLIKELY ? "hardly a coincidence"
						      : "may well be a coincidence";

	bool worth_saying = s->compared > 1 && c->corrected < 1;

	nod_paragraph_printf(out, "  - ",
			     "%s%s: %u of the %u that carry, %u of the %u measured. By chance "
			     "%s%s%s: %s.",
			     tie_text(c->tie), c->name, c->both, c->carrying, c->sharing,
			     c->measured, odds(chance, c->chance),
			     worth_saying ? ", for the best of all compared up to " : "",
			     worth_saying ? odds(corrected, c->corrected) : "", verdict);
}

/* Those at hand that are more likely than not by chance are not worth a line. */
static void print_shared(FILE *out, const struct nod_fuse_survey *s)
{
	size_t shown = 0;

	for (size_t i = 0; i < s->common_count && shown < 5; i++) {
		if (s->common[i].chance > 0.5)
			continue;
		if (!shown++)
			fputs("\nWhat they have in common:\n", out);
		print_common(out, s, &s->common[i]);
	}
	if (!shown && s->carrying >= 2)
		fputs("\nThey have nothing in common that the map knows of.\n", out);
}

/* -- the sum ------------------------------------------------------------ */

static void print_left_out(FILE *out, const struct nod_fuse_survey *s)
{
	struct text t = {0};

	for (size_t i = 0; i < s->line_count; i++)
		if (!s->lines[i].known)
			append_item(&t, s->lines[i].reading.name);
	if (t.used)
		nod_paragraph_printf(out, "", "Not in the sum, as not known: %s.", t.bytes);
}

static void print_rest(FILE *out, const struct nod_fuse_survey *s)
{
	char low[NOD_QUANTITY_TEXT], high[NOD_QUANTITY_TEXT];
	int64_t least = s->rest_low_ua > 0 ? s->rest_low_ua : 0;

	if (s->rest == NOD_REST_EXPLAINED)
		nod_paragraph_printf(out, "",
				     "The measured fuses can make up all of it; up to %s may flow "
				     "past them.",
				     amps(high, s->rest_high_ua));
	else if (s->rest == NOD_REST_MISSING)
		nod_paragraph_printf(
			out, "",
			"Not accounted for: %s to %s. It flows through fuses that are not "
			"in the sum, or past all of them: generator, starter, what was "
			"added at the battery.",
			amps(low, least), amps(high, s->rest_high_ua));
	else
		nod_paragraph_print(out, "",
				    "The fuses carry more than the clamp reads: a fuse that feeds "
				    "another was counted twice, the clamp needs zeroing or does "
				    "not hold all cables, or fuses are cheap copies.");
}

static void print_unmeasured(FILE *out, const struct nod_fuse_survey *s,
			     const struct nod_vehicle *vehicle)
{
	struct text t = {0};

	for (size_t i = 0; i < s->unmeasured_count && i < 40; i++)
		append_item(&t, vehicle->fuses[s->unmeasured[i]].name);
	if (s->unmeasured_count > 40)
		append(&t, " and %zu more", s->unmeasured_count - 40);
	if (t.used)
		nod_paragraph_print(out, "Not measured yet: ", t.bytes);
}

static void print_sum(FILE *out, const struct nod_fuse_survey *s, const struct nod_vehicle *vehicle)
{
	char low[NOD_QUANTITY_TEXT], high[NOD_QUANTITY_TEXT];
	char clamp_low[NOD_QUANTITY_TEXT], clamp_high[NOD_QUANTITY_TEXT];

	fputc('\n', out);
	if (s->clamp_given)
		nod_paragraph_printf(out, "", "Sum of the fuses %s to %s, the clamp %s to %s.",
				     amps(low, s->sum_low_ua), amps(high, s->sum_high_ua),
				     amps(clamp_low, s->clamp_low_ua),
				     amps(clamp_high, s->clamp_high_ua));
	else
		nod_paragraph_printf(out, "", "Sum of the fuses %s to %s.",
				     amps(low, s->sum_low_ua), amps(high, s->sum_high_ua));
	print_left_out(out, s);
	if (s->clamp_given)
		print_rest(out, s);
	print_unmeasured(out, s, vehicle);
}

static void print_doubts(FILE *out, const struct nod_fuse_survey *s)
{
	bool memory = false;

	for (size_t i = 0; i < s->line_count; i++)
		memory |= s->lines[i].known &&
			  s->lines[i].current.resistance.basis == NOD_FUSE_MEMORY;
	fputc('\n', out);
	if (memory)
		nod_paragraph_print(out, "",
				    "Some resistances are from memory of data sheets, not "
				    "confirmed: give a fuse's own resistance in the vehicle file.");
	for (unsigned i = 0; nod_fuse_doubt(i); i++)
		nod_paragraph_print(out, "", nod_fuse_doubt(i));
}

void nod_fuse_survey_print(FILE *out, const struct nod_fuse_survey *survey,
			   const struct nod_vehicle *vehicle)
{
	print_answer(out, survey);
	print_lines(out, survey, vehicle);
	print_shared(out, survey);
	print_sum(out, survey, vehicle);
	print_doubts(out, survey);
}
