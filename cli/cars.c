/* SPDX-License-Identifier: MIT */
#include "cars.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "cars-index.h"
#include "cars-read.h"
#include "command.h"
#include "gate-digest.h"
#include "hash.h"
#include "recall.h"
#include "settings.h"

struct nod_cars {
	struct nod_arena arena;
	struct nod_car *list;
	size_t count;
	unsigned unread;
};

/* What goes into every stamp: another program may find something else. */
static int seed_of_program(int64_t *seed)
{
	char digest[NOD_DIGEST_TEXT];
	int code = nod_gate_digest_program(digest);

	*seed = code ? 0 : (int64_t)nod_hash_add(NOD_HASH_BEGIN, digest, strlen(digest));
	return code;
}

/* Reads what the index lacks, then all that it holds. 0 or -1 after saying why. */
static int fill(struct nod_cars *cars, const char *folder, struct nod_cars_sessions *sessions)
{
	struct nod_cars_index *index = nod_cars_index_open(folder);
	int status = index ? nod_cars_index_miss(index, sessions) : -1;

	if (!status)
		status = nod_cars_read(index, sessions) ? -1 : 0;
	if (!status)
		status = nod_cars_index_load(index, &cars->arena, &cars->list, &cars->count,
					     &cars->unread);
	nod_cars_index_close(index);
	return status;
}

static int open_folder(struct nod_cars **out, const char *folder)
{
	struct nod_cars *cars = calloc(1, sizeof(*cars));
	struct nod_cars_sessions sessions = {NULL, 0, 0};
	int64_t seed = 0;
	int code = cars ? seed_of_program(&seed) : nod_unreadable("out of memory");
	int status = code ? 0 : nod_cars_folder_read(&sessions, folder, seed);

	if (status)
		code = nod_unreadable("%s: %s", folder, strerror(-status));
	if (!code && !fill(cars, folder, &sessions))
		*out = cars;
	else
		nod_cars_close(cars);
	nod_cars_folder_free(&sessions);
	return code;
}

int nod_cars_open(struct nod_cars **cars, const struct nod_cars_choice *choice)
{
	const char *wanted = choice->folder ? choice->folder : nod_setting(NOD_SETTING_CARS);

	*cars = NULL;
	if (choice->none || !wanted)
		return NOD_EXIT_OK;
	char *folder = realpath(wanted, NULL);
	int code = folder ? open_folder(cars, folder)
			  : nod_unreadable("%s: %s", wanted, strerror(errno));
	free(folder);
	return choice->folder ? code : NOD_EXIT_OK; /* a setting stops nobody's work */
}

void nod_cars_close(struct nod_cars *cars)
{
	if (!cars)
		return;
	nod_arena_free(&cars->arena);
	free(cars);
}

void nod_cars_forget(struct nod_recalled *r)
{
	nod_judged_close(&r->good);
	for (size_t i = 0; i < NOD_EARLIER_MAX; i++)
		nod_judged_close(&r->earlier[i]);
	nod_arena_free(&r->arena);
	memset(r, 0, sizeof(*r));
}

/* Judges those that were recalled. Returns the path of the first that cannot be read any more, NULL:
 * all could. */
static const char *judge_others(struct nod_recalled *r, const struct nod_judge_options *options)
{
	const struct nod_judge_options plain = {
		.vehicle = options->vehicle, .quiet = true, .beside = true};

	if (r->known.good && nod_judge(&r->good, &r->known.good, 1, &plain))
		return r->known.good;
	for (size_t i = 0; i < r->known.earlier_count; i++)
		if (nod_judge(&r->earlier[i], &r->known.earlier[i], 1, &plain))
			return r->known.earlier[i];
	return NULL;
}

/* What vanished since the folder was read. */
static void lose(struct nod_cars *cars, const char *path)
{
	size_t kept = 0;

	for (size_t i = 0; i < cars->count; i++)
		if (strcmp(cars->list[i].path, path) != 0)
			cars->list[kept++] = cars->list[i];
	cars->unread += (unsigned)(cars->count - kept);
	cars->count = kept;
}

/* Finds and judges what is known; again without one that cannot be read after all. */
static int recall(struct nod_cars *cars, struct nod_recalled *r, const struct nod_judged *judged,
		  const struct nod_judge_options *options)
{
	const char *path = nod_session_path(judged->session), *lost = NULL;
	char *own = realpath(path, NULL);
	int status = 0;

	do {
		struct nod_recall_wish wish = {options->good != NULL, options->earlier_count > 0,
					       cars->unread};
		struct nod_car self;
		if (lost)
			lose(cars, lost);
		nod_cars_forget(r);
		status = nod_cars_describe(&self, &r->arena, judged, own ? own : path);
		if (!status)
			status = nod_recall(&r->known, &r->arena, &self, judged->findings,
					    cars->list, cars->count, &wish);
	} while (!status && (lost = judge_others(r, options)) != NULL);
	free(own);
	return status;
}

int nod_cars_recall(struct nod_cars *cars, struct nod_recalled *r, struct nod_judged *judged,
		    const struct nod_judge_options *options)
{
	if (!cars)
		return NOD_EXIT_OK;
	if (recall(cars, r, judged, options))
		return nod_unreadable("out of memory");
	if (r->known.good)
		nod_engine_set_good(judged->engine, r->good.findings);
	for (size_t i = 0; i < r->known.earlier_count; i++)
		nod_engine_add_earlier(judged->engine, r->earlier[i].findings);
	nod_engine_set_known(judged->engine, &r->known);
	nod_findings_free(judged->findings);
	judged->findings = nod_engine_findings(judged->engine);
	return judged->findings ? NOD_EXIT_OK : nod_unreadable("out of memory");
}
