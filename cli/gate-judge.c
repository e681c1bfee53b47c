/* SPDX-License-Identifier: MIT */
/* One session against its expectation, and the outcome as lines of text that
 * cross from the process that judged to the one that shows. */
#include "gate-judge.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "command.h"

/* A file that cannot be read, or not to its end, decides nothing; one that was cut off
 * when the recorder died is what it is. */
static int check_files(const struct nod_judged *judged)
{
	for (size_t i = 0; i < nod_session_file_count(judged->session); i++) {
		const struct nod_session_file *file = nod_session_file(judged->session, i);
		if (file->fault && !file->counts.torn)
			return nod_unreadable("%s: %s", file->path, file->fault);
	}
	return NOD_EXIT_OK;
}

int nod_gate_map(const struct nod_gate_session *session, const struct nod_expectation *x,
		 char **path)
{
	const char *map = x ? nod_expectation_text(x, NOD_DEMAND_VEHICLE) : NULL;
	const char *slash = strrchr(session->expectation, '/');
	int folder = map && *map != '/' && slash ? (int)(slash - session->expectation + 1) : 0;

	*path = NULL;
	if (map && asprintf(path, "%.*s%s", folder, session->expectation, map) < 0) {
		*path = NULL;
		return -ENOMEM;
	}
	return 0;
}

int nod_gate_analyse(const struct nod_gate_session *session, const struct nod_expectation *x,
		     struct nod_judged *judged)
{
	struct nod_judge_options options = {.quiet = true};
	const char *paths[] = {session->path};
	char *map;

	if (x)
		options.locked = nod_expectation_text(x, NOD_DEMAND_LOCKED);
	if (nod_gate_map(session, x, &map))
		return nod_unreadable("out of memory");
	options.vehicle = map;
	int code = nod_judge(judged, paths, 1, &options);
	free(map);
	return code ? code : check_files(judged);
}

static enum nod_gate_state compare(const struct nod_expectation *x,
				   const struct nod_findings *findings, FILE *out)
{
	struct nod_differences *d = nod_expectation_compare(x, findings);

	if (!d) {
		fprintf(out, "E out of memory\n");
		return NOD_GATE_UNREADABLE;
	}
	for (size_t i = 0; i < d->count; i++)
		if (d->list[i].known)
			fprintf(out, "K %s\nW %s\n", d->list[i].text, d->list[i].known);
		else
			fprintf(out, "D %s\n", d->list[i].text);
	for (size_t i = 0; i < d->healed_count; i++)
		fprintf(out, "H %s\n", d->healed[i]->object);
	enum nod_gate_state state = d->failures ? NOD_GATE_DIFFERENT
				    : d->count  ? NOD_GATE_KNOWN
						: NOD_GATE_OK;
	nod_differences_free(d);
	return state;
}

enum nod_gate_state nod_gate_judge(const struct nod_gate_session *session, FILE *out)
{
	struct nod_judged judged = {.session = NULL};
	struct nod_error err = {""};
	enum nod_gate_state state = NOD_GATE_UNREADABLE;
	struct nod_expectation *x = nod_expectation_load(session->expectation, &err);

	if (!x && errno == ENOENT) {
		fprintf(out, "D it has no expectation; a first one: nodoff gate --update %s\n",
			session->path);
		return NOD_GATE_MISSING;
	}
	if (!x)
		fprintf(out, "D %s\n", err.text);
	else if (nod_gate_analyse(session, x, &judged) == NOD_EXIT_OK)
		state = compare(x, judged.findings, out);
	nod_judged_close(&judged);
	nod_expectation_free(x);
	return state;
}

static void take(const char **lines, size_t *count, const char *text)
{
	if (*count < NOD_GATE_LINES)
		lines[(*count)++] = text;
}

/* Lines without a letter of ours are what was said on standard error. */
static void take_line(struct nod_gate_result *r, const char *line)
{
	bool ours = line[0] && line[1] == ' ';

	if (ours && line[0] == 'X')
		snprintf(r->digest, sizeof(r->digest), "%s", line + 2);
	else if (ours && line[0] == 'K')
		take(r->known, &r->known_count, line + 2);
	else if (ours && line[0] == 'W' && r->known_count)
		r->why[r->known_count - 1] = line + 2;
	else if (ours && line[0] == 'H')
		take(r->healed, &r->healed_count, line + 2);
	else if (*line)
		take(r->differences, &r->difference_count,
		     ours && line[0] == 'D' ? line + 2 : line);
}

void nod_gate_result_read(struct nod_gate_result *r, enum nod_gate_state state, char *text)
{
	char *rest = text, *line;

	*r = (struct nod_gate_result){.state = state, .text = text};
	while (rest && (line = strsep(&rest, "\n")))
		take_line(r, line);
}
