/* SPDX-License-Identifier: MIT */
#include "cars-index.h"

#include <errno.h>
#include <limits.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "command.h"
#include "hash.h"
#include "own-path.h"

/* Of the table below; a file with another one is made anew. */
#define LAYOUT "1"

/* Another program writes one row at a time. Chosen: as long as a person waits. */
#define BUSY_MS 10000

static const char now[] = /* what the folder holds */
	"PRAGMA temp_store = MEMORY;"
	"CREATE TEMP TABLE now(path TEXT PRIMARY KEY, stamp INTEGER) WITHOUT ROWID;";

static const char layout[] =
	"BEGIN IMMEDIATE;"
	"CREATE TABLE IF NOT EXISTS car(path TEXT PRIMARY KEY, stamp INTEGER, readable INTEGER, "
	"vin TEXT, map TEXT, begins INTEGER, ends INTEGER, good INTEGER, tried INTEGER, "
	"proved INTEGER, found TEXT, mended INTEGER, part TEXT, messages BLOB) WITHOUT ROWID;"
	"PRAGMA user_version = " LAYOUT ";"
	"COMMIT;";

/* No connection is open while a child process is started: it may not share one. */
struct nod_cars_index {
	sqlite3 *db; /* NULL: not connected */
	char path[PATH_MAX];
	bool passing; /* does not last */
};

static bool is_damage(int status)
{
	return status == SQLITE_CORRUPT || status == SQLITE_NOTADB || status == SQLITE_ERROR;
}

/* ... and what is damaged is made anew next time. */
static int complain(const struct nod_cars_index *index, const char *what)
{
	if (index->db && is_damage(sqlite3_errcode(index->db)))
		unlink(index->path);
	nod_unreadable("the index of recordings %s: %s: %s; going on without", index->path, what,
		       sqlite3_errmsg(index->db));
	return -1;
}

static void disconnect(struct nod_cars_index *index)
{
	sqlite3_close(index->db);
	index->db = NULL;
}

/* True for a new file and for one with this layout. */
static bool is_of_layout(sqlite3 *db)
{
	sqlite3_stmt *s = NULL;
	bool fits = false;

	if (!sqlite3_prepare_v2(db, "PRAGMA user_version", -1, &s, NULL) &&
	    sqlite3_step(s) == SQLITE_ROW) {
		const char *version = (const char *)sqlite3_column_text(s, 0);
		fits = version && (!strcmp(version, "0") || !strcmp(version, LAYOUT));
	}
	sqlite3_finalize(s);
	return fits;
}

/* Nothing waits for the disk: what is lost is made anew. */
static int connect_to(struct nod_cars_index *index)
{
	int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOFOLLOW;
	int status = sqlite3_open_v2(index->path, &index->db, flags, NULL);

	if (!status)
		status = sqlite3_busy_timeout(index->db, BUSY_MS);
	return status ? status
		      : sqlite3_exec(index->db, "PRAGMA synchronous = OFF", NULL, NULL, NULL);
}

/* 0, or SQLite's word for what is wrong. */
static int set_up(struct nod_cars_index *index)
{
	int status = connect_to(index);

	if (!status && !is_of_layout(index->db))
		status = SQLITE_CORRUPT;
	return status ? status : sqlite3_exec(index->db, layout, NULL, NULL, NULL);
}

/* Opens the file at index->path; a damaged one is made anew. */
static int open_file(struct nod_cars_index *index)
{
	int status = set_up(index);

	if (!is_damage(status))
		return status;
	disconnect(index);
	return unlink(index->path) ? status : set_up(index);
}

static int open_kept(struct nod_cars_index *index, const char *folder)
{
	char name[40];

	snprintf(name, sizeof(name), "cars-%016llx.sqlite",
		 (unsigned long long)nod_hash_add(NOD_HASH_BEGIN, folder, strlen(folder)));
	if (nod_own_path(index->path, NOD_OWN_CACHE, name))
		return -ENOENT;
	int status = nod_own_make_place(index->path);
	return status ? status : open_file(index);
}

/* One that is gone with this run. */
static int open_passing(struct nod_cars_index *index, int why)
{
	const char *reason = index->db ? sqlite3_errmsg(index->db)
			     : why < 0 ? strerror(-why)
				       : sqlite3_errstr(why);

	nod_unreadable("the index of recordings cannot be kept at %s: %s; all are read each time",
		       *index->path ? index->path : "~/.cache", reason);
	disconnect(index);
	const char *tmp = getenv("TMPDIR");
	snprintf(index->path, sizeof(index->path), "%s/nodoff-cars-XXXXXX",
		 tmp && *tmp ? tmp : "/tmp");
	int fd = mkstemp(index->path);
	if (fd < 0)
		return -1;
	close(fd);
	index->passing = true;
	return open_file(index);
}

struct nod_cars_index *nod_cars_index_open(const char *folder)
{
	struct nod_cars_index *index = calloc(1, sizeof(*index));
	int status = index ? open_kept(index, folder) : -ENOMEM;

	if (index && status && open_passing(index, status)) {
		complain(index, "cannot be made");
		nod_cars_index_close(index);
		return NULL;
	}
	if (index)
		disconnect(index);
	return index;
}

void nod_cars_index_close(struct nod_cars_index *index)
{
	if (!index)
		return;
	disconnect(index);
	if (index->passing)
		unlink(index->path);
	free(index);
}

static int step_with(sqlite3_stmt *s, const struct nod_cars_session *session)
{
	sqlite3_bind_text(s, 1, session->path, -1, SQLITE_STATIC);
	sqlite3_bind_int64(s, 2, session->stamp);
	int status = sqlite3_step(s);
	sqlite3_reset(s);
	return status;
}

static int note_all(struct nod_cars_index *index, const struct nod_cars_sessions *sessions)
{
	sqlite3_stmt *s = NULL;
	int status = sqlite3_exec(index->db, now, NULL, NULL, NULL);

	if (!status)
		status = sqlite3_prepare_v2(index->db, "INSERT INTO now VALUES(?1, ?2)", -1, &s,
					    NULL);
	for (size_t i = 0; !status && i < sessions->count; i++)
		status = step_with(s, &sessions->list[i]) == SQLITE_DONE ? 0 : -1;
	sqlite3_finalize(s);
	return status;
}

/* Brings those that the index lacks to the front; *kept of them. */
static int sort_out(struct nod_cars_index *index, struct nod_cars_sessions *sessions, size_t *kept)
{
	static const char query[] = "SELECT 1 FROM car WHERE path = ?1 AND stamp = ?2";
	sqlite3_stmt *s = NULL;
	int status = sqlite3_prepare_v2(index->db, query, -1, &s, NULL);

	for (size_t i = 0; !status && i < sessions->count; i++) {
		int found = step_with(s, &sessions->list[i]);
		if (found == SQLITE_DONE) {
			struct nod_cars_session missed = sessions->list[i];
			sessions->list[i] = sessions->list[*kept];
			sessions->list[(*kept)++] = missed;
		} else if (found != SQLITE_ROW) {
			status = found;
		}
	}
	sqlite3_finalize(s);
	return status;
}

int nod_cars_index_miss(struct nod_cars_index *index, struct nod_cars_sessions *sessions)
{
	static const char forget[] = "DELETE FROM car WHERE path NOT IN (SELECT path FROM now)";
	size_t kept = 0;
	int status = connect_to(index);

	if (!status)
		status = note_all(index, sessions);
	if (!status)
		status = sqlite3_exec(index->db, forget, NULL, NULL, NULL);
	if (!status)
		status = sort_out(index, sessions, &kept);
	if (status)
		return complain(index, "cannot be read");
	disconnect(index);
	for (size_t i = kept; i < sessions->count; i++)
		free(sessions->list[i].path);
	sessions->count = kept;
	return 0;
}

static void bind_car(sqlite3_stmt *s, const struct nod_car *car)
{
	sqlite3_bind_text(s, 4, car->vin, -1, SQLITE_STATIC);
	sqlite3_bind_text(s, 5, car->map, -1, SQLITE_STATIC);
	sqlite3_bind_int64(s, 6, car->start.ns);
	sqlite3_bind_int64(s, 7, car->end.ns);
	sqlite3_bind_int(s, 8, car->good);
	sqlite3_bind_int(s, 9, car->tried);
	sqlite3_bind_int(s, 10, car->proved);
	sqlite3_bind_text(s, 11, car->found, -1, SQLITE_STATIC);
	sqlite3_bind_int(s, 12, car->mended);
	sqlite3_bind_text(s, 13, car->part, -1, SQLITE_STATIC);
	sqlite3_bind_blob64(s, 14, car->messages, car->message_count * sizeof(*car->messages),
			    SQLITE_STATIC);
}

static int put(sqlite3 *db, const struct nod_cars_session *session, const struct nod_car *car)
{
	static const char query[] = "INSERT OR REPLACE INTO car VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, "
				    "?8, ?9, ?10, ?11, ?12, ?13, ?14)";
	sqlite3_stmt *s = NULL;

	if (sqlite3_prepare_v2(db, query, -1, &s, NULL))
		return -1;
	sqlite3_bind_int(s, 3, car != NULL);
	if (car)
		bind_car(s, car);
	int status = step_with(s, session);
	sqlite3_finalize(s);
	return status == SQLITE_DONE ? 0 : -1;
}

int nod_cars_index_put(const struct nod_cars_index *index, const struct nod_cars_session *session,
		       const struct nod_car *car)
{
	struct nod_cars_index own = {.db = NULL};

	memcpy(own.path, index->path, sizeof(own.path));
	int status = connect_to(&own);
	if (!status)
		status = put(own.db, session, car);
	disconnect(&own);
	return status ? -1 : 0;
}

static const char *text(sqlite3_stmt *s, int column, struct nod_arena *arena)
{
	const unsigned char *value = sqlite3_column_text(s, column);

	return nod_arena_printf(arena, "%s", value ? (const char *)value : "");
}

/* True for a row that holds a car. */
static bool read_car(sqlite3_stmt *s, struct nod_arena *arena, struct nod_car *car)
{
	const unsigned char *vin = sqlite3_column_text(s, 2);
	size_t size = (size_t)sqlite3_column_bytes(s, 12);

	if (!sqlite3_column_int(s, 1) || size % sizeof(*car->messages))
		return false;
	*car = (struct nod_car){.path = text(s, 0, arena),
				.map = text(s, 3, arena),
				.start = {sqlite3_column_int64(s, 4)},
				.end = {sqlite3_column_int64(s, 5)},
				.good = sqlite3_column_int(s, 6),
				.tried = sqlite3_column_int(s, 7),
				.proved = sqlite3_column_int(s, 8),
				.found = text(s, 9, arena),
				.mended = sqlite3_column_int(s, 10),
				.part = text(s, 11, arena),
				.messages = nod_arena_alloc(arena, size + 1),
				.message_count = size / sizeof(*car->messages)};
	snprintf(car->vin, sizeof(car->vin), "%s", vin ? (const char *)vin : "");
	if (size && car->messages)
		memcpy(car->messages, sqlite3_column_blob(s, 12), size);
	return car->messages != NULL;
}

static int count_rows(struct nod_cars_index *index, size_t *rows)
{
	sqlite3_stmt *s = NULL;
	int status = sqlite3_prepare_v2(index->db, "SELECT count(*) FROM car", -1, &s, NULL);

	if (!status && sqlite3_step(s) == SQLITE_ROW)
		*rows = (size_t)sqlite3_column_int64(s, 0);
	sqlite3_finalize(s);
	return status;
}

int nod_cars_index_load(struct nod_cars_index *index, struct nod_arena *arena,
			struct nod_car **cars, size_t *count, unsigned *unread)
{
	static const char query[] = "SELECT path, readable, vin, map, begins, ends, good, tried, "
				    "proved, found, mended, part, messages FROM car ORDER BY path "
				    "LIMIT ?1";
	sqlite3_stmt *s = NULL;
	size_t rows = 0;
	int status = connect_to(index);

	if (!status)
		status = count_rows(index, &rows);

	*cars = nod_arena_alloc(arena, (rows + 1) * sizeof(**cars));
	*count = *unread = 0;
	if (!*cars)
		return nod_unreadable("out of memory"), -1;
	if (!status)
		status = sqlite3_prepare_v2(index->db, query, -1, &s, NULL);
	if (!status)
		status = sqlite3_bind_int64(s, 1, (sqlite3_int64)rows);
	while (!status && (status = sqlite3_step(s)) == SQLITE_ROW) {
		bool readable = read_car(s, arena, &(*cars)[*count]);
		*count += readable;
		*unread += !readable;
		status = 0;
	}
	sqlite3_finalize(s);
	return status == SQLITE_DONE && !arena->failed ? 0 : complain(index, "cannot be read");
}
