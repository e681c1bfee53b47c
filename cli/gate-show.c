/* SPDX-License-Identifier: MIT */
/* The outcome of the gate: for a person, as TAP 13, as JUnit XML. */
#include <string.h>

#include "gate.h"
#include "paragraph.h"

const char *nod_gate_state_name(enum nod_gate_state state)
{
	static const char *const names[] = {"ok", "known miss", "different", "no expectation",
					    "unreadable"};
	return names[state];
}

struct totals {
	size_t unchanged, ok, known, different, missing, unreadable;
};

static struct totals count(const struct nod_gate_sessions *sessions,
			   const struct nod_gate_result *results)
{
	struct totals t = {0};

	for (size_t i = 0; i < sessions->count; i++) {
		t.unchanged += results[i].unchanged;
		t.ok += results[i].state == NOD_GATE_OK;
		t.known += results[i].state == NOD_GATE_KNOWN;
		t.different += results[i].state == NOD_GATE_DIFFERENT;
		t.missing += results[i].state == NOD_GATE_MISSING;
		t.unreadable += results[i].state == NOD_GATE_UNREADABLE;
	}
	return t;
}

/* ---- for a person ---- */

static void show_one(FILE *out, const struct nod_gate_session *s, const struct nod_gate_result *r)
{
	static const char *const words[] = {"ok", "known miss", "DIFFERS", "NO EXPECTATION",
					    "UNREADABLE"};

	fprintf(out, "%-14s  ", words[r->state]);
	nod_text_print(out, s->name, strlen(s->name));
	fputc('\n', out);
	for (size_t i = 0; i < r->difference_count; i++)
		nod_paragraph_print(out, "    - ", r->differences[i]);
	for (size_t i = 0; i < r->known_count; i++) {
		nod_paragraph_print(out, "    - ", r->known[i]);
		nod_paragraph_print(out, "      known: ", r->why[i] ? r->why[i] : "");
	}
	for (size_t i = 0; i < r->healed_count; i++)
		nod_paragraph_printf(out, "    - ",
				     "\"known-miss %s\" can be taken out: it is met now.",
				     r->healed[i]);
}

void nod_gate_show(FILE *out, const struct nod_gate_sessions *sessions,
		   const struct nod_gate_result *results)
{
	struct totals t = count(sessions, results);

	for (size_t i = 0; i < sessions->count; i++)
		show_one(out, &sessions->list[i], &results[i]);
	fprintf(out, "\n%zu session%s: %zu as expected", sessions->count,
		sessions->count == 1 ? "" : "s", t.ok);
	if (t.known)
		fprintf(out, ", %zu known to miss", t.known);
	if (t.different)
		fprintf(out, ", %zu different", t.different);
	if (t.missing)
		fprintf(out, ", %zu without expectation", t.missing);
	if (t.unreadable)
		fprintf(out, ", %zu unreadable", t.unreadable);
	fputs(".\n", out);
	if (t.unchanged)
		fprintf(out, "%zu not judged again: unchanged since the run before.\n",
			t.unchanged);
}

/* ---- TAP version 13 (testanything.org/tap-version-13-specification.html) ---- */

/* A # would begin a directive. */
static void put_tap_text(FILE *out, const char *text)
{
	for (; *text; text++)
		fputc(*text == '#' || *text == '\n' ? ' ' : *text, out);
}

/* Double-quoted YAML. */
static void put_yaml_item(FILE *out, const char *text)
{
	fputs("    - \"", out);
	for (; *text; text++)
		if (*text == '"' || *text == '\\')
			fprintf(out, "\\%c", *text);
		else
			fputc((unsigned char)*text < ' ' ? ' ' : *text, out);
	fputs("\"\n", out);
}

static void tap_details(FILE *out, const struct nod_gate_result *r)
{
	if (!r->difference_count && !r->known_count && !r->healed_count)
		return;
	fputs("  ---\n", out);
	if (r->difference_count || r->known_count)
		fputs("  differences:\n", out);
	for (size_t i = 0; i < r->difference_count; i++)
		put_yaml_item(out, r->differences[i]);
	for (size_t i = 0; i < r->known_count; i++)
		put_yaml_item(out, r->known[i]);
	if (r->healed_count)
		fputs("  known misses met now:\n", out);
	for (size_t i = 0; i < r->healed_count; i++)
		put_yaml_item(out, r->healed[i]);
	fputs("  ...\n", out);
}

void nod_gate_show_tap(FILE *out, const struct nod_gate_sessions *sessions,
		       const struct nod_gate_result *results)
{
	fprintf(out, "TAP version 13\n1..%zu\n", sessions->count);
	for (size_t i = 0; i < sessions->count; i++) {
		const struct nod_gate_result *r = &results[i];
		fprintf(out, "%s %zu - ", r->state == NOD_GATE_OK ? "ok" : "not ok", i + 1);
		put_tap_text(out, sessions->list[i].name);
		if (r->state == NOD_GATE_KNOWN) {
			fputs(" # TODO ", out);
			put_tap_text(out, r->known_count && r->why[0] ? r->why[0] : "");
		}
		fputc('\n', out);
		tap_details(out, r);
	}
}

/* ---- JUnit XML ---- */

/* Control characters have no place in XML 1.0. */
static void put_xml(FILE *out, const char *text)
{
	for (; *text; text++)
		switch (*text) {
		case '&':
			fputs("&amp;", out);
			break;
		case '<':
			fputs("&lt;", out);
			break;
		case '>':
			fputs("&gt;", out);
			break;
		case '"':
			fputs("&quot;", out);
			break;
		default:
			fputc((unsigned char)*text < ' ' ? ' ' : *text, out);
		}
}

static void junit_problem(FILE *out, const char *element, const char *const *lines, size_t n)
{
	fprintf(out, "    <%s message=\"", element);
	put_xml(out, n ? lines[0] : "");
	fputs("\">", out);
	for (size_t i = 0; i < n; i++) {
		put_xml(out, lines[i]);
		fputc('\n', out);
	}
	fprintf(out, "</%s>\n", element);
}

static void junit_known(FILE *out, const struct nod_gate_result *r)
{
	fputs("    <skipped message=\"known miss: ", out);
	put_xml(out, r->known_count && r->why[0] ? r->why[0] : "");
	fputs("\"/>\n    <system-out>", out);
	for (size_t i = 0; i < r->known_count; i++) {
		put_xml(out, r->known[i]);
		fputc('\n', out);
	}
	fputs("</system-out>\n", out);
}

static void junit_case(FILE *out, const struct nod_gate_session *s, const struct nod_gate_result *r)
{
	fputs("  <testcase classname=\"nodoff gate\" name=\"", out);
	put_xml(out, s->name);
	fputs("\"", out);
	if (r->state == NOD_GATE_OK) {
		fputs("/>\n", out);
		return;
	}
	fputs(">\n", out);
	if (r->state == NOD_GATE_KNOWN)
		junit_known(out, r);
	else
		junit_problem(out, r->state == NOD_GATE_UNREADABLE ? "error" : "failure",
			      r->differences, r->difference_count);
	fputs("  </testcase>\n", out);
}

void nod_gate_show_junit(FILE *out, const struct nod_gate_sessions *sessions,
			 const struct nod_gate_result *results)
{
	struct totals t = count(sessions, results);

	fprintf(out,
		"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
		"<testsuite name=\"nodoff gate\" tests=\"%zu\" failures=\"%zu\" errors=\"%zu\" "
		"skipped=\"%zu\">\n",
		sessions->count, t.different + t.missing, t.unreadable, t.known);
	for (size_t i = 0; i < sessions->count; i++)
		junit_case(out, &sessions->list[i], &results[i]);
	fputs("</testsuite>\n", out);
}
