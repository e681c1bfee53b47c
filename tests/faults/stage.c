/* SPDX-License-Identifier: MIT */
#include "stage.h"

#include <fcntl.h>
#include <ftw.h>
#include <getopt.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zstd.h>

#define WORDS_MAX 32
#define FILE_MAX (1 << 20)

int nodoff_main(int argc, char **argv);

static int captured_out = -1, said_pipe[2], real_out, real_said;

void stage_open(struct stage *stage)
{
	const char *where = access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm";
	static char buffer[BUFSIZ];

	snprintf(stage->path, sizeof(stage->path), "%s/nodoff-faults-XXXXXX", where);
	if (!mkdtemp(stage->path))
		abort();
	strcat(stage->path, "/");
	snprintf(stage->fixtures, sizeof(stage->fixtures), "%s/nodoff-fixtures-XXXXXX", where);
	if (!mkdtemp(stage->fixtures))
		abort();
	strcat(stage->fixtures, "/");
	fixtures_make(stage);
	server_start(stage);
	setvbuf(stdout, buffer, _IOFBF, sizeof(buffer)); /* nothing is allocated for it later */
	captured_out = memfd_create("out", MFD_CLOEXEC);
	/* A pipe, because the room of files does not matter to it. */
	if (pipe2(said_pipe, O_CLOEXEC | O_NONBLOCK))
		abort();
	real_out = dup(STDOUT_FILENO);
	real_said = dup(STDERR_FILENO);
}

static int remove_one(const char *path, const struct stat *st, int flag, struct FTW *ftw)
{
	(void)st, (void)flag;
	return ftw->level ? remove(path) : 0;
}

static void clear(const char *path)
{
	nftw(path, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

void stage_close(struct stage *stage)
{
	server_stop();
	clear(stage->path);
	clear(stage->fixtures);
	rmdir(stage->path);
	rmdir(stage->fixtures);
	close(captured_out);
	close(said_pipe[0]);
	close(said_pipe[1]);
	close(real_out);
	close(real_said);
}

void stage_copy(const struct stage *stage, const char *session, const char *as)
{
	char command[1024];

	snprintf(command, sizeof(command), "cp -r '" NOD_CAPTURES "/%s' '%s%s'", session,
		 stage->path, as);
	if (system(command))
		abort();
}

/* ---- what was made ---- */

static uint64_t digest_sum;
static int digest_left;

static uint64_t hash(uint64_t h, const char *text, size_t length)
{
	for (size_t i = 0; i < length; i++)
		h = (h ^ (unsigned char)text[i]) * 1099511628211U;
	return h;
}

/* The time at which a session was made is another one in every run. */
static void blank_created(char *text)
{
	char *line = strstr(text, "\ncreated: ");

	if (line)
		memset(line, ' ', strcspn(line + 1, "\n") + 1);
}

/* How the recorder cuts its text into packed blocks may differ. */
static size_t unpack(char *text, size_t length)
{
	static char unpacked[FILE_MAX];
	ZSTD_inBuffer in = {text, length, 0};
	ZSTD_outBuffer out = {unpacked, sizeof(unpacked), 0};
	ZSTD_DStream *stream = ZSTD_createDStream();

	while (in.pos < in.size && out.pos < out.size)
		if (ZSTD_isError(ZSTD_decompressStream(stream, &out, &in)))
			break;
	ZSTD_freeDStream(stream);
	memcpy(text, unpacked, out.pos);
	return out.pos;
}

static int digest_one(const char *path, const struct stat *st, int flag, struct FTW *ftw)
{
	static char text[FILE_MAX + 1];

	if (!ftw->level)
		return 0;
	if (strstr(path, ".unfinished-")) { /* never taken for a session */
		digest_left += ftw->level == 1;
		return 0;
	}
	uint64_t h = hash(14695981039346656037U, path, strlen(path));
	if (flag == FTW_F) {
		FILE *file = fopen(path, "r");
		size_t length = file ? fread(text, 1, FILE_MAX, file) : 0;
		text[length] = '\0';
		if (file)
			fclose(file);
		if (!strcmp(path + ftw->base, "session.txt"))
			blank_created(text);
		if (length > 4 && !strcmp(path + strlen(path) - 4, ".zst"))
			length = unpack(text, length);
		h = hash(h, text, length);
	}
	(void)st;
	digest_sum += h; /* in any order */
	return 0;
}

uint64_t stage_digest(const struct stage *stage, int *left)
{
	digest_sum = 0;
	digest_left = 0;
	nftw(stage->path, digest_one, 8, FTW_PHYS);
	*left = digest_left;
	return digest_sum;
}

/* ---- playing ---- */

static size_t split(const struct stage *stage, const char *command, char *room, size_t size,
		    char **words)
{
	char *end = room + size;
	size_t count = 0;

	while (*command) {
		words[count++] = room;
		for (; *command && *command != ' '; command++) {
			char one[2] = {*command, '\0'};
			const char *put = *command == '%'   ? stage->path
					  : *command == '^' ? stage->fixtures
					  : *command == '@' ? NOD_CAPTURES "/"
							    : one;
			room = stpncpy(room, put, (size_t)(end - room) - 1);
		}
		*room++ = '\0';
		command += *command == ' ';
	}
	words[count] = NULL;
	return count;
}

static void limit_files(rlim_t bytes)
{
	struct rlimit limit;

	getrlimit(RLIMIT_FSIZE, &limit);
	limit.rlim_cur = bytes < limit.rlim_max ? bytes : limit.rlim_max;
	setrlimit(RLIMIT_FSIZE, &limit);
}

static int play(const struct stage *stage, const struct scenario *scenario,
		const struct fault *fault)
{
	static char room[8192], *words[WORDS_MAX];
	int status, argc = 0;

	if (scenario->command) {
		words[0] = "nodoff";
		argc = (int)split(stage, scenario->command, room, sizeof(room), words + 1) + 1;
	}
	optind = 0; /* getopt_long() begins anew */
	faults_arm(fault);
	if (fault->of == FAULT_OF_ROOM)
		limit_files((rlim_t)fault->at);
	status = scenario->command ? nodoff_main(argc, words) : scenario->play(stage, stdout);
	if (!scenario->command && !status && (fflush(stdout) || ferror(stdout))) {
		fprintf(stderr, "cannot write the output\n");
		status = 4;
	}
	faults_disarm();
	limit_files(RLIM_INFINITY);
	return status;
}

static void rewind_to(int fd, int as)
{
	if (ftruncate(fd, 0) || lseek(fd, 0, SEEK_SET) || dup2(fd, as) < 0)
		abort();
}

static size_t read_captured(int fd, char *text)
{
	ssize_t length = pread(fd, text, STAGE_TEXT - 1, 0);

	text[length < 0 ? 0 : length] = '\0';
	return length < 0 ? 0 : (size_t)length;
}

void stage_prepare(const struct stage *stage, const struct scenario *scenario)
{
	clear(stage->path);
	if (scenario->prepare)
		scenario->prepare(stage);
}

void stage_play(const struct stage *stage, const struct scenario *scenario,
		const struct fault *fault, struct outcome *outcome)
{
	static char out[2][STAGE_TEXT], said[2][STAGE_TEXT];
	static int which;

	which = !which;
	stage_prepare(stage, scenario);
	fflush(stdout);
	rewind_to(captured_out, STDOUT_FILENO);
	dup2(said_pipe[1], STDERR_FILENO);
	long blocks = faults_blocks();
	int files = faults_open_files();
	outcome->status = play(stage, scenario, fault);
	fflush(stdout);
	clearerr(stdout);
	outcome->blocks = faults_blocks() - blocks;
	outcome->files = faults_open_files() - files;
	dup2(real_out, STDOUT_FILENO);
	dup2(real_said, STDERR_FILENO);
	outcome->out = out[which];
	outcome->said = said[which];
	outcome->length = read_captured(captured_out, outcome->out);
	ssize_t length = read(said_pipe[0], outcome->said, STAGE_TEXT - 1);
	outcome->said_length = length < 0 ? 0 : (size_t)length;
	outcome->said[outcome->said_length] = '\0';
	outcome->made = stage_digest(stage, &outcome->left);
}
