/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "session-create.h"
#include "session-private.h"

static int no_memory(struct nod_error *err)
{
	return nod_error_set(err, ENOMEM, "out of memory");
}

static int make_streams(struct nod_session *session, size_t files, size_t streams)
{
	session->files = calloc(files + 3, sizeof(*session->files));
	session->streams = calloc(streams + 1, sizeof(*session->streams));
	session->lanes = calloc(LANE_STREAMS + streams, sizeof(*session->lanes));
	session->defects = calloc(1, sizeof(*session->defects));
	if (!session->files || !session->streams || !session->lanes || !session->defects)
		return -ENOMEM;
	for (size_t i = 0; i < LANE_STREAMS + streams; i++)
		session->lanes[i].last = NOD_TIME_NONE;
	return 0;
}

static struct nod_session_file *add_file(struct nod_session *session, const char *path)
{
	struct nod_session_file *file = &session->files[session->file_count++];

	file->path = path;
	file->form = "";
	return file;
}

static void add_stream(struct nod_session *session, struct nod_session_file *pieces, size_t count,
		       bool alone)
{
	nod_session_stream_init(&session->streams[session->stream_count++], pieces, count, alone,
				&session->interfaces, &session->texts);
}

static size_t count_streams(const struct nod_session_listing *listing)
{
	size_t streams = 0;

	for (size_t i = 0; i < listing->count; i += nod_session_listing_run(listing, i))
		streams++;
	return streams;
}

static void add_streams(struct nod_session *session, const struct nod_session_listing *listing)
{
	bool alone = count_streams(listing) == 1;

	for (size_t i = 0; i < listing->count;) {
		size_t run = nod_session_listing_run(listing, i);
		struct nod_session_file *pieces = &session->files[session->file_count];
		for (size_t end = i + run; i < end; i++)
			add_file(session, listing->frames[i].path);
		add_stream(session, pieces, run, alone);
	}
}

static int read_about(struct nod_session *session, const char *path, struct nod_error *err)
{
	struct nod_session_file *file = add_file(session, path);

	file->form = "about this session";
	return nod_session_notes_read(&session->notes, file, &session->texts, err);
}

static int use_listing(struct nod_session *session, const struct nod_session_listing *listing,
		       struct nod_error *err)
{
	int result = make_streams(session, listing->count, count_streams(listing));

	if (!result && listing->about)
		result = read_about(session, listing->about, err);
	if (result)
		return result == -ENOMEM ? no_memory(err) : result;
	add_streams(session, listing);
	if (listing->journal) {
		session->journal = add_file(session, listing->journal);
		if (nod_session_journal_load(&session->marks, session->defects, session->journal,
					     &session->texts))
			return no_memory(err);
	}
	if (listing->current &&
	    nod_session_current_open(&session->current, add_file(session, listing->current),
				     &session->texts))
		return no_memory(err);
	session->vehicle = listing->vehicle;
	return 0;
}

static int set_up_directory(struct nod_session *session, const char *path, struct nod_error *err)
{
	struct nod_session_listing listing;

	if (nod_session_is_unfinished(path))
		return nod_error_set(
			err, EINVAL,
			"%s: was left over when making a session was broken off; it is "
			"not whole and can be deleted",
			path);
	int result = nod_session_listing_read(&listing, path, &session->texts, err);
	if (result)
		return result;
	if (listing.about || listing.count || listing.journal || listing.current)
		result = use_listing(session, &listing, err);
	else
		result = nod_error_set(err, EINVAL,
				       "%s: is no session: it holds no session.txt, frames.log, "
				       "journal.log or current.log",
				       path);
	nod_session_listing_free(&listing);
	return result;
}

static bool is_directory(const char *path)
{
	struct stat st;

	return !stat(path, &st) && S_ISDIR(st.st_mode);
}

/* Each capture is a stream of one piece. */
static int set_up_captures(struct nod_session *session, const char *const *paths, size_t count,
			   struct nod_error *err)
{
	if (make_streams(session, count, count))
		return no_memory(err);
	for (size_t i = 0; i < count; i++) {
		if (count > 1 && is_directory(paths[i]))
			return nod_error_set(err, EINVAL,
					     "%s: is a directory; a session is read alone, only "
					     "captures are read together",
					     paths[i]);
		const char *path = nod_arena_printf(&session->texts, "%s", paths[i]);
		if (session->texts.failed)
			return no_memory(err);
		add_stream(session, add_file(session, path), 1, count == 1);
		int result = nod_session_stream_open(&session->streams[i], err);
		if (result)
			return result;
	}
	return session->texts.failed ? no_memory(err) : 0;
}

int nod_session_set_up(struct nod_session *session, const char *const *paths, size_t count,
		       struct nod_error *err)
{
	session->path = nod_arena_printf(&session->texts, "%s", paths[0]);
	if (session->texts.failed)
		return no_memory(err);
	if (count == 1 && is_directory(paths[0]))
		return set_up_directory(session, paths[0], err);
	return set_up_captures(session, paths, count, err);
}
