/* A recording is killed with SIGKILL at 200 random moments: while a session is made, in
 * the middle, when a piece ends, while it is finished. Whatever the recorder had said is
 * on the disk is there afterwards; it says so every 0.8 s of the recording, so that at
 * most its last second is lost. What is there opens without help, is analysed, and a new
 * recording follows in its place.
 *
 * The recorder is nodoffd's own (daemon/live.c), in simulated time. What a process had
 * written outlives it; what a power failure does is not shown here.
 *
 * usage: test-killed NODOFF [SEED [MOMENT]] */
#include <dirent.h>
#include <errno.h>
#include <ftw.h>
#include <inttypes.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "live.h"
#include "session-create.h"
#include "session.h"

#define MOMENTS 200
#define TICK_NS (800 * NOD_NS_PER_MS) /* as nodoffd flushes */
#define TICKS 24		      /* of one session */
#define FRAMES 30		      /* in one tick */
#define SESSIONS 8
#define LEAP_NS (7 * 3600 * NOD_NS_PER_S) /* longer than a piece */
#define START_NS (INT64_C(1700000000) * NOD_NS_PER_S)

/* What the recorder tells its parent. */
enum what { CREATING, CREATED, FLUSHED, MARKED, FINISHING, FINISHED };
struct told {
	enum what what;
	uint32_t session, frames, marks; /* frames and marks that are on the disk */
};

/* What is known to be on the disk, by session. */
struct known {
	bool created;
	uint32_t frames, marks;
};

static char place[64];
static const char *nodoff;
static uint64_t random_state;
static unsigned long long seed = 20240607;
static int moment;
static unsigned unfinished, torn, complete; /* sessions left so, for the last line */
static struct nod_interfaces names = {2, {"can0", "can1"}};

__attribute__((format(printf, 1, 2), noreturn)) static void die(const char *format, ...)
{
	va_list args;

	va_start(args, format);
	printf("not ok - moment %d of seed %llu: ", moment, seed);
	vprintf(format, args);
	printf("\n");
	va_end(args);
	exit(1);
}

static uint64_t draw(uint64_t below) /* xorshift64* */
{
	random_state ^= random_state >> 12;
	random_state ^= random_state << 25;
	random_state ^= random_state >> 27;
	return (random_state * UINT64_C(2685821657736338717) >> 16) % below;
}

static const char *path_of(unsigned session)
{
	static char path[128];

	snprintf(path, sizeof(path), "%s/session-%u", place, session);
	return path;
}

/* ---- the recorder ---- */

static void tell(int fd, struct told told)
{
	if (write(fd, &told, sizeof(told)) != sizeof(told))
		_exit(3);
}

static void take_frame(struct nod_live *live, nod_time time, uint32_t number)
{
	struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = time};

	event.frame = (struct nod_frame){.time = time, .id = 0x2A0 + number % 7, .length = 8,
					 .interface = (uint8_t)(number & 1)};
	memcpy(event.frame.data, &number, sizeof(number));
	if (nod_live_take(live, &event))
		_exit(4);
}

static void take_mark(struct nod_live *live, nod_time time)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = time};

	event.mark = (struct nod_mark){time, NOD_MARK_NOTE, "told"};
	if (nod_live_take(live, &event))
		_exit(5);
}

static void record_one(struct nod_live *live, int fd, unsigned session, int64_t *now)
{
	struct told told = {CREATING, session, 0, 0};
	struct nod_error err = {""};

	tell(fd, told);
	if (nod_live_record(live, path_of(session), "killed", "kernel", (nod_time){*now}, &err))
		_exit(6);
	told.what = CREATED;
	tell(fd, told);
	for (int tick = 0; tick < TICKS; tick++) {
		for (int i = 0; i < FRAMES; i++)
			take_frame(live, (nod_time){*now + i * (TICK_NS / FRAMES)},
				   told.frames++);
		*now += TICK_NS;
		if (tick % 5 == 2) {
			take_mark(live, (nod_time){*now});
			told.marks++; /* with it, every frame before is written */
			told.what = MARKED;
			tell(fd, told);
		}
		if (nod_live_tick(live, (nod_time){*now}))
			_exit(7);
		told.what = FLUSHED;
		tell(fd, told);
		if (tick % 8 == 7)
			*now += LEAP_NS; /* the next flush ends a piece */
	}
	told.what = FINISHING;
	tell(fd, told);
	if (nod_live_finish(live, (nod_time){*now}, &err))
		_exit(8);
	told.what = FINISHED;
	tell(fd, told);
	nod_live_renew(live, (nod_time){*now});
}

static void record(int fd)
{
	struct nod_error err = {""};
	struct nod_live live;
	int64_t now = START_NS;

	if (nod_live_open(&live, NOD_CAPTURES "/example-vehicle.yaml", &names, (nod_time){now},
			  &err))
		_exit(2);
	for (unsigned session = 0; session < SESSIONS; session++)
		record_one(&live, fd, session, &now);
	nod_live_close(&live, (nod_time){now});
	_exit(0);
}

/* ---- killing it ---- */

static void note(struct known *known, const struct told *told)
{
	struct known *k = &known[told->session];

	k->created |= told->what >= CREATED;
	k->frames = told->frames;
	k->marks = told->marks;
}

static void spin(uint64_t ns)
{
	struct timespec from, now;

	clock_gettime(CLOCK_MONOTONIC, &from);
	do
		clock_gettime(CLOCK_MONOTONIC, &now);
	while ((uint64_t)(now.tv_sec - from.tv_sec) * 1000000000 + (uint64_t)now.tv_nsec -
		       (uint64_t)from.tv_nsec < ns);
}

/* A quarter of the moments while a session is made, a quarter while one is finished. */
static bool is_moment(const struct told *told, uint64_t kind, uint64_t *left)
{
	bool counts = kind == 0 ? told->what == CREATING : kind == 1 ? told->what == FINISHING : true;

	return counts && (*left)-- == 0;
}

static void run_and_kill(struct known *known)
{
	uint64_t kind = draw(4), delay = draw(kind < 2 ? 400000 : 250000);
	uint64_t left = draw(kind < 2 ? SESSIONS : SESSIONS * TICKS);
	struct told told;
	int fds[2], status;

	if (pipe(fds))
		die("no pipe");
	fflush(stdout);
	pid_t child = fork();
	if (!child) {
		prctl(PR_SET_PDEATHSIG, SIGKILL);
		close(fds[0]);
		record(fds[1]);
	}
	close(fds[1]);
	while (read(fds[0], &told, sizeof(told)) == sizeof(told)) {
		note(known, &told);
		if (is_moment(&told, kind, &left)) {
			spin(delay);
			break;
		}
	}
	kill(child, SIGKILL);
	while (read(fds[0], &told, sizeof(told)) == sizeof(told))
		note(known, &told); /* was said before it died */
	close(fds[0]);
	waitpid(child, &status, 0);
	if (WIFEXITED(status) && WEXITSTATUS(status))
		die("the recorder failed by itself, status %d", WEXITSTATUS(status));
}

/* ---- what is there ---- */

struct found {
	uint32_t frames, marks;
};

static void take(struct found *found, const struct nod_event *event, const char *path)
{
	uint32_t number;

	if (event->kind == NOD_EVENT_FRAME) {
		memcpy(&number, event->frame.data, sizeof(number));
		if (number != found->frames)
			die("%s: frame %" PRIu32 " stands where %" PRIu32 " belongs", path, number,
			    found->frames);
		found->frames++;
	} else if (event->kind == NOD_EVENT_MARK && event->mark.kind == NOD_MARK_NOTE) {
		found->marks++;
	} else if (event->kind == NOD_EVENT_GAP || event->kind == NOD_EVENT_LOSS) {
		die("%s: tells of a gap", path);
	}
}

/* Reads and analyses it as it lies there. */
static void read_session(const char *path, struct found *found)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(path, &err);
	const struct nod_event *event;
	int result;

	*found = (struct found){0};
	if (!session)
		die("%s does not open: %s", path, err.text);
	struct nod_engine *engine = nod_engine_new(NULL, nod_session_interfaces(session));
	while ((result = nod_session_next(session, &event, &err)) > 0) {
		take(found, event, path);
		nod_engine_take(engine, event);
	}
	struct nod_findings *findings = nod_engine_findings(engine);
	if (result || !findings)
		die("%s cannot be analysed: %s", path, err.text);
	for (size_t i = 0; i < nod_session_file_count(session); i++)
		torn += nod_session_file(session, i)->counts.torn;
	nod_findings_free(findings);
	nod_engine_free(engine);
	nod_session_close(session);
}

static void check_session(const char *path, const struct known *known)
{
	struct found found;

	read_session(path, &found);
	if (found.frames < known->frames || found.marks < known->marks)
		die("%s: %" PRIu32 " of %" PRIu32 " frames, %" PRIu32 " of %" PRIu32 " entries",
		    path, found.frames, known->frames, found.marks, known->marks);
}

/* What the making of one left over is never taken for a session. */
static void check_unfinished(void)
{
	DIR *dir = opendir(place);
	const struct dirent *entry;
	char path[512];

	while ((entry = readdir(dir))) {
		snprintf(path, sizeof(path), "%s/%.200s", place, entry->d_name);
		struct nod_error err = {""};
		if (!strstr(entry->d_name, ".unfinished-"))
			continue;
		unfinished++;
		if (nod_session_open(path, &err))
			die("%s opens", path);
	}
	closedir(dir);
}

/* Goes on in the same session, and in a new one beside it. */
static void record_again(unsigned session)
{
	struct nod_recorder_settings settings = {.directory = path_of(session),
						 .interfaces = &names, .digits = 6};
	struct nod_error err = {""};
	struct nod_live live;
	nod_time now = {START_NS + 30 * LEAP_NS};

	if (!access(path_of(session), F_OK)) {
		struct nod_recorder *recorder = nod_recorder_new(&settings, &err);
		if (!recorder || nod_recorder_close(recorder, now))
			die("no recording goes on: %s", err.text);
	}
	if (nod_live_open(&live, NULL, &names, now, &err) ||
	    nod_live_record(&live, path_of(SESSIONS), NULL, NULL, now, &err))
		die("no new recording follows: %s", err.text);
	take_frame(&live, now, 0);
	if (nod_live_finish(&live, now, &err))
		die("the new recording does not end: %s", err.text);
	nod_live_close(&live, now);
}

static void ask_the_command(const char *path)
{
	char command[512];

	snprintf(command, sizeof(command), "'%s' analyse '%s' > /dev/null", nodoff, path);
	if (system(command))
		die("`%s` fails", command);
}

static int remove_one(const char *path, const struct stat *st, int flag, struct FTW *ftw)
{
	(void)st, (void)flag;
	return ftw->level ? remove(path) : 0;
}

static void one_moment(void)
{
	struct known known[SESSIONS] = {{0}};
	struct found found;
	unsigned last = 0;

	run_and_kill(known);
	for (unsigned i = 0; i < SESSIONS; i++) {
		bool there = !access(path_of(i), F_OK);
		if (known[i].created && !there)
			die("%s is not there", path_of(i));
		if (!there)
			continue;
		last = i;
		complete += known[i].frames == TICKS * FRAMES;
		check_session(path_of(i), &known[i]);
		if (moment % 20 == 0)
			ask_the_command(path_of(i));
	}
	check_unfinished();
	record_again(last);
	if (!access(path_of(last), F_OK))
		check_session(path_of(last), &known[last]);
	read_session(path_of(SESSIONS), &found);
	if (found.frames != 1)
		die("the new recording is not whole");
	nftw(place, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

int main(int argc, char **argv)
{
	nodoff = argc > 1 ? argv[1] : "nodoff";
	if (argc > 2)
		seed = strtoull(argv[2], NULL, 10);
	snprintf(place, sizeof(place), "%s/nodoff-killed-XXXXXX",
		 access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm");
	if (!mkdtemp(place))
		return 1;
	for (moment = 0; moment < MOMENTS; moment++) {
		random_state = ((uint64_t)seed + (uint64_t)moment) * UINT64_C(0x9E3779B97F4A7C15) | 1;
		draw(2);
		if (argc <= 3 || moment == atoi(argv[3]))
			one_moment();
	}
	rmdir(place);
	printf("ok - killed at %d moments of seed %llu: %u sessions were complete, %u unfinished, %u "
	       "files torn\n", MOMENTS, seed, complete, unfinished, torn);
	return 0;
}
