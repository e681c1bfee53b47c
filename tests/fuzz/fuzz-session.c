/* SPDX-License-Identifier: MIT */
/* A session directory. The input is its files, one behind another, parted by lines
 * "=NAME" of the names below; it is opened, read to its end with the engine,
 * and the answer shown as text and as JSON. Where the first line is "=7" to "=9", a piece is
 * cut out, too, whole or scrubbed; it is a session without defects that holds what was
 * said. */
#include <dirent.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "answer.h"
#include "answer-json.h"
#include "engine.h"
#include "fuzz.h"
#include "session.h"
#include "session-cut.h"
#include "session-survey.h"

/* Of the directory; in memory where that is to be had. */
static char directory[64];

static const char *const names[] = {"session.txt",         "frames-000001.log", "frames-000002.log",
				    "frames-b-000001.log", "journal.log",       "current.log",
				    "vehicle.yaml"};
#define NAMES (sizeof(names) / sizeof(names[0]))

static void remove_files(void)
{
	char path[128];

	for (size_t i = 0; i < NAMES; i++) {
		snprintf(path, sizeof(path), "%s/%s", directory, names[i]);
		unlink(path);
	}
}

static void remove_directory(void)
{
	remove_files();
	rmdir(directory);
}

static void make_directory(void)
{
	snprintf(directory, sizeof(directory), "%s/nodoff-fuzz-XXXXXX",
		 access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm");
	FUZZ_CHECK(mkdtemp(directory));
	atexit(remove_directory);
}

static void write_file(const char *name, const uint8_t *bytes, size_t size)
{
	char path[128];

	snprintf(path, sizeof(path), "%s/%s", directory, name);
	int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
	FUZZ_CHECK(fd >= 0 && write(fd, bytes, size) == (ssize_t)size && !close(fd));
}

/* "=3\n" begins the fourth file; behind "=6\n" one begins at the first again. */
static void write_files(const uint8_t *data, size_t size)
{
	size_t at = 0;

	while (at + 3 <= size) {
		size_t name = (size_t)(data[at + 1] - '0') % NAMES, begin = at += 3;
		while (at < size && !(at + 3 <= size && data[at] == '=' && data[at - 1] == '\n' &&
				      data[at + 2] == '\n'))
			at++;
		write_file(names[name], data + begin, at - begin);
	}
}

static void show(struct nod_engine *engine)
{
	struct nod_findings *f = nod_engine_findings(engine);
	char *text = NULL;
	size_t length;
	FILE *out = open_memstream(&text, &length);

	FUZZ_CHECK(f && out && f->sentence[0]);
	for (size_t i = 0; i < f->suspect_count; i++)
		FUZZ_CHECK(f->suspects[i].probability >= 0 && f->suspects[i].probability <= 1);
	FUZZ_CHECK(!nod_answer_print(out, f, (struct nod_answer_style){.all_idents = true}));
	fclose(out);
	free(text);
	json_t *json = nod_answer_json(f);
	FUZZ_CHECK(json);
	char *dumped = json_dumps(json, NOD_JSON_FLAGS);
	FUZZ_CHECK(dumped);
	free(dumped);
	json_decref(json);
	nod_findings_free(f);
}

/* Reads the session to its end. Returns what nod_session_next() said last. */
static int read_session(struct nod_session *session, struct nod_engine *engine,
			struct nod_survey *survey)
{
	struct nod_error err = {""};
	const struct nod_event *event;
	int status;

	while ((status = nod_session_next(session, &event, &err)) > 0) {
		FUZZ_CHECK(event->kind <= NOD_EVENT_DEFECT);
		nod_survey_take(survey, event, nod_session_interfaces(session));
		nod_engine_take(engine, event);
	}
	FUZZ_CHECK(!status || err.text[0]);
	return status;
}

static void judge(struct nod_session *session, struct nod_survey *survey)
{
	struct nod_error err = {""};
	struct nod_session_lock lock;
	const char *map = nod_session_vehicle(session);
	struct nod_vehicle *vehicle = map ? nod_vehicle_load(map, &err) : NULL;
	struct nod_engine *engine = nod_engine_new(vehicle, nod_session_interfaces(session));

	FUZZ_CHECK(engine && (!map || vehicle || err.text[0]));
	nod_survey_init(survey);
	read_session(session, engine, survey);
	nod_session_lock(session, &lock);
	survey->lock = lock;
	for (size_t i = 0; i < nod_session_file_count(session); i++)
		FUZZ_CHECK(nod_session_file(session, i)->path &&
			   nod_session_file(session, i)->form);
	show(engine);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
}

/* The piece is read as any session. */
static void check_piece(const char *path, const struct nod_session_cut_result *result)
{
	static struct nod_survey piece;
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(path, &err);

	FUZZ_CHECK(session && !nod_survey_session(&piece, session, &err));
	FUZZ_CHECK(!piece.defects && piece.all.frames + piece.all.errors == result->frames);
	FUZZ_CHECK(piece.samples == result->samples);
	nod_session_close(session);
}

static void remove_piece(const char *path)
{
	DIR *dir = opendir(path);

	FUZZ_CHECK(dir);
	for (struct dirent *entry; (entry = readdir(dir));)
		unlinkat(dirfd(dir), entry->d_name, 0); /* not "." and ".." */
	FUZZ_CHECK(!closedir(dir) && !rmdir(path));
}

/* From its lock, or from its beginning, to its end. */
static void cut(const struct nod_survey *survey, enum nod_scrub_kind scrub)
{
	struct nod_session_cut piece = {
		.from = survey->lock.start, .to = survey->end, .scrub = scrub};
	struct nod_session_cut_result result;
	struct nod_error err = {""};
	char path[96];

	if (scrub == NOD_SCRUB_PAYLOAD)
		piece.from = survey->lock.time;
	if (piece.from.ns > piece.to.ns)
		return;
	snprintf(path, sizeof(path), "%s/piece", directory);
	int status = nod_session_cut(directory, survey, path, &piece, &result, &err);
	FUZZ_CHECK(status <= 0 && (!status || err.text[0]));
	if (!status) {
		check_piece(path, &result);
		remove_piece(path);
	}
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct nod_survey survey;
	struct nod_error err = {""};

	if (!*directory)
		make_directory();
	write_files(data, size);
	struct nod_session *session = nod_session_open(directory, &err);
	FUZZ_CHECK(session || err.text[0]);
	if (session)
		judge(session, &survey);
	if (session && size >= 3 && data[1] >= '7' && data[1] <= '9')
		cut(&survey, (enum nod_scrub_kind)(data[1] - '7'));
	nod_session_close(session);
	remove_files();
	FUZZ_CHECK(!rmdir(directory) && !mkdir(directory, 0700)); /* nothing is left over */
	return 0;
}
