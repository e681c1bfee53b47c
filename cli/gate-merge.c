/* SPDX-License-Identifier: MIT */
/* The results of all shards put together. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "gate-line.h"

struct entry {
	struct nod_gate_session session;
	struct nod_gate_result result;
};

struct merge {
	struct nod_gate_shard *whole; /* shards 0: nothing read yet */
	bool seen[NOD_GATE_SHARDS_MAX + 1];
	struct entry *list;
	size_t count;
	size_t awaited; /* sessions of the files read so far */
};

static int take_session(struct merge *m, const char *path, const json_t *line)
{
	struct entry *grown = reallocarray(m->list, m->count + 1, sizeof(*m->list));

	if (!grown)
		return nod_unreadable("out of memory");
	m->list = grown;
	struct entry *e = &m->list[m->count];
	*e = (struct entry){0};
	e->session.name = strdup(nod_gate_line_session(line));
	e->session.path = strdup("");
	e->session.expectation = strdup("");
	m->count++;
	if (!e->session.name || !e->session.path || !e->session.expectation)
		return nod_unreadable("out of memory");
	return nod_gate_line_result(line, &e->result)
		       ? nod_unreadable("%s: what came of %s is not said", path, e->session.name)
		       : NOD_EXIT_OK;
}

static unsigned number(const json_t *line, const char *key)
{
	json_int_t n = json_integer_value(json_object_get(line, key));

	return n > 0 && n <= NOD_GATE_SHARDS_MAX ? (unsigned)n : 0;
}

static int take_shard(struct merge *m, const char *path, const json_t *line)
{
	const char *program = json_string_value(json_object_get(line, "program"));
	unsigned shard = number(line, "shard"), shards = number(line, "shards");

	if (!shard || shard > shards || !program)
		return nod_unreadable("%s: it does not say which shard it is", path);
	if (!json_is_true(json_object_get(line, "finished")))
		return nod_unreadable("%s: shard %u of %u was not finished; run it again", path,
				      shard, shards);
	if (!m->whole->shards) {
		m->whole->shards = shards;
		snprintf(m->whole->program, sizeof(m->whole->program), "%s", program);
	}
	if (shards != m->whole->shards)
		return nod_unreadable("%s: shard %u is of %u, others are of %u", path, shard,
				      shards, m->whole->shards);
	if (strcmp(program, m->whole->program) != 0)
		return nod_unreadable("%s: shard %u was judged by another program than the others",
				      path, shard);
	if (m->seen[shard])
		return nod_unreadable("%s: shard %u comes twice", path, shard);
	m->seen[shard] = true;
	m->awaited += (size_t)json_integer_value(json_object_get(line, "sessions"));
	return NOD_EXIT_OK;
}

/* The first line says which shard it is; a run that is not finished says so there, or has lines
 * of an earlier one before it. */
static int take_line(struct merge *m, const char *path, const json_t *line, bool first)
{
	if (first && line && !nod_gate_line_session(line))
		return take_shard(m, path, line);
	if (!first && line && nod_gate_line_session(line))
		return take_session(m, path, line);
	return nod_unreadable("%s: no results of a `nodoff gate` that was finished; run it again",
			      path);
}

static int read_file(struct merge *m, const char *path)
{
	FILE *in = fopen(path, "re");
	char *text = NULL;
	size_t room = 0;
	ssize_t length;
	bool first = true;
	int code = NOD_EXIT_OK;

	if (!in)
		return nod_unreadable("%s: %s", path, strerror(errno));
	while (!code && (length = getline(&text, &room, in)) > 0) {
		json_t *line = nod_gate_line_read(text, (size_t)length);
		code = take_line(m, path, line, first);
		first = false;
		json_decref(line);
	}
	if (!code && first)
		code = take_line(m, path, NULL, true);
	if (!code && m->count != m->awaited)
		code = nod_unreadable("%s: it does not have all the sessions it speaks of; run "
				      "it again",
				      path);
	free(text);
	fclose(in);
	return code;
}

static int check_all_there(const struct merge *m)
{
	for (unsigned i = 1; i <= m->whole->shards; i++)
		if (!m->seen[i])
			return nod_unreadable("shard %u of %u is missing", i, m->whole->shards);
	return NOD_EXIT_OK;
}

static int by_name(const void *a, const void *b)
{
	return strcmp(((const struct entry *)a)->session.name,
		      ((const struct entry *)b)->session.name);
}

/* Lists of their own, as the rest of the gate has them. */
static int split(struct merge *m, struct nod_gate_sessions *sessions,
		 struct nod_gate_result **results)
{
	sessions->list = calloc(m->count + 1, sizeof(*sessions->list));
	*results = calloc(m->count + 1, sizeof(**results));
	if (!sessions->list || !*results)
		return nod_unreadable("out of memory");
	if (m->count)
		qsort(m->list, m->count, sizeof(*m->list), by_name);
	for (size_t i = 0; i < m->count; i++) {
		sessions->list[i] = m->list[i].session;
		(*results)[i] = m->list[i].result;
	}
	sessions->count = m->count;
	m->count = 0;
	return NOD_EXIT_OK;
}

int nod_gate_merge(char **paths, size_t count, struct nod_gate_shard *whole,
		   struct nod_gate_sessions *sessions, struct nod_gate_result **results)
{
	struct merge m = {.whole = whole};
	int code = NOD_EXIT_OK;

	*whole = (struct nod_gate_shard){1, 0, ""};
	*sessions = (struct nod_gate_sessions){NULL, 0};
	*results = NULL;
	for (size_t i = 0; !code && i < count; i++)
		code = read_file(&m, paths[i]);
	if (!code)
		code = check_all_there(&m);
	if (!code)
		code = split(&m, sessions, results);
	for (size_t i = 0; i < m.count; i++) {
		nod_gate_session_free(&m.list[i].session);
		free(m.list[i].result.text);
	}
	free(m.list);
	whole->shards = 1; /* of what was put together */
	return code;
}
