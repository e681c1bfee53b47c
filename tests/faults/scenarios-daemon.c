/* SPDX-License-Identifier: MIT */
/* nodoffd in this process: with frames that a test hands to it, on clocks that a test
 * sets, and asked over its real socket. */
#include "stage.h"

#include <errno.h>
#include <linux/can.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "daemon.h"
#include "requests.h"
#include "session.h"
#include "view.h"

#define START_NS (INT64_C(1700000000) * NOD_NS_PER_S)

/* Half a minute of two networks: frames, a sample of the current and an entry a second. */
static int watch(struct nod_live *live)
{
	int status = 0;

	for (int i = 0; i < 300 && !status; i++) {
		nod_time time = {START_NS + i * 100 * NOD_NS_PER_MS};
		struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = time};
		event.frame = (struct nod_frame){.time = time,
						 .id = 0x2A0U + (unsigned)i % 9,
						 .length = 8,
						 .interface = (uint8_t)(i & 1),
						 .data = {(uint8_t)i, (uint8_t)(i / 64)}};
		status = nod_live_take(live, &event);
		if (status || i % 10)
			continue;
		event = (struct nod_event){.kind = NOD_EVENT_CURRENT, .time = time};
		event.current.microamps = 400000 + i;
		status = nod_live_take(live, &event);
		event = (struct nod_event){.kind = NOD_EVENT_MARK, .time = time};
		event.mark = (struct nod_mark){time, i ? NOD_MARK_NOTE : NOD_MARK_LOCKED, ""};
		if (!status)
			status = nod_live_take(live, &event);
		if (!status)
			status = nod_live_tick(live, time);
	}
	return status;
}

static int show(struct nod_daemon *daemon, FILE *out)
{
	struct nod_error err = {""};
	json_t *view = nod_view_make(daemon), *answer = nod_view_answer(daemon, false, &err);
	bool whole = view && answer && !json_object_del(view, "now_ns") &&
		     !json_dumpf(view, out, JSON_SORT_KEYS) && !json_dumpf(answer, out, 0);

	json_decref(view);
	json_decref(answer);
	return whole ? 0 : -ENOMEM;
}

/* What nodoffd does with a session, but for the sockets. */
int scenario_record(const struct stage *stage, FILE *out)
{
	struct nod_interfaces names = {2, {"vcan0", "vcan1"}};
	static struct nod_daemon daemon;
	struct nod_error err = {""};
	nod_time start = {START_NS}, end = {START_NS + 30 * NOD_NS_PER_S};
	char path[128];

	memset(&daemon, 0, sizeof(daemon));
	snprintf(path, sizeof(path), "%slive", stage->path);
	int status = nod_live_open(&daemon.live, NOD_CAPTURES "/truck/vehicle.yaml", &names, start,
				   &err);
	if (status) {
		fprintf(stderr, "%s\n", err.text);
		return 4;
	}
	status = nod_live_record(&daemon.live, path, "a title", "kernel", start, &err);
	if (!status) {
		status = watch(&daemon.live);
		int finished = nod_live_finish(&daemon.live, end, &err);
		status = status ? status : finished;
		if (!status)
			status = daemon.live.starved ? -ENOMEM : show(&daemon, out);
	}
	nod_live_close(&daemon.live, end);
	if (status)
		fprintf(stderr, "%s\n", *err.text ? err.text : strerror(-status));
	return status ? 4 : 0;
}

/* ---- over the socket ---- */

#define TURNS 60  /* of the loop, within which a request is answered */
#define AT_ONCE 8 /* frames; such a socket holds ten */
#define TURN_NS (20 * NOD_NS_PER_MS)

struct talk {
	struct nod_options options;
	struct nod_daemon *daemon;
	FILE *out;
	int bus[2], silent_bus[2]; /* ours and the tap's end */
	char socket[96];
	int fd; /* the client's, -1: not connected */
	char buffer[65536];
	size_t length;
	int64_t now;
	unsigned steps, frames, events, noted, connections;
	bool refused, wrong, recording, starved;
	char path[PATH_MAX]; /* of the session */
	nod_time started, stopped;
};

static void say_wrong(struct talk *talk, const char *what, const char *more)
{
	fprintf(stderr, "WRONG: %s: %s\n", what, more);
	talk->wrong = true;
}

/* libev ends the process when it has no memory, by design: it never has none here. */
static void *allocate_for_loop(void *block, long size)
{
	bool spared = faults_spared();

	faults_spare(true);
	void *result = size ? realloc(block, (size_t)size) : NULL;
	if (!size)
		free(block);
	faults_spare(spared);
	return result;
}

static void set_time(struct talk *talk, int64_t ns)
{
	talk->now = ns;
	faults_set_clock(ns);
}

/* The client's side, which never fails. */
static void connect_client(struct talk *talk)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};

	faults_spare(true);
	strcpy(address.sun_path, talk->socket);
	talk->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (connect(talk->fd, (struct sockaddr *)&address, sizeof(address)))
		abort();
	faults_spare(false);
	talk->length = 0;
	talk->connections++;
}

static void disconnect(struct talk *talk)
{
	faults_spare(true);
	if (talk->fd >= 0)
		close(talk->fd);
	faults_spare(false);
	talk->fd = -1;
}

/* Takes what has come. False: the daemon has ended the connection. */
static bool receive(struct talk *talk)
{
	faults_spare(true);
	ssize_t length = recv(talk->fd, talk->buffer + talk->length,
			      sizeof(talk->buffer) - 1 - talk->length, MSG_DONTWAIT);
	faults_spare(false);
	if (length > 0)
		talk->length += (size_t)length;
	talk->buffer[talk->length] = '\0';
	return length > 0 || (length < 0 && errno == EAGAIN);
}

/* But for what hangs on the tick of the file system's clock: whether an entry came later. */
static void put_out(FILE *out, const char *line)
{
	const char *changed = strstr(line, "\"changed\":");

	fprintf(out, "%.*s%s\n", changed ? (int)(changed - line) : (int)strlen(line), line,
		changed ? strpbrk(changed, ",}") : "");
}

static void note_answer(struct talk *talk, const char *line, const json_t *answer)
{
	const char *error = json_string_value(json_object_get(answer, "error"));

	if (!json_object_get(answer, "event"))
		put_out(talk->out, line);
	if (strstr(line, "\"problem\":\"") && !strstr(line, "\"problem\":\"\"")) {
		fprintf(stderr, "it is said that the recording has a problem\n");
		talk->refused = true;
	}
	if (strstr(line, "\"fault\":\"")) {
		fprintf(stderr, "it is said that a session cannot be read\n");
		talk->refused = true;
	}
	if (json_is_true(json_object_get(answer, "ok")) || json_object_get(answer, "event"))
		return;
	if (!error || !*error || strstr(error, "Success"))
		say_wrong(talk, "it is refused and not said why", line);
	fprintf(stderr, "refused: %s\n", error ? error : "");
	talk->refused |= strstr(line, "expected") == NULL;
}

/* One line that was received; true: an answer. The answer is NULL where it is none. */
static bool take_line(struct talk *talk, json_t **answer)
{
	char *end = strchr(talk->buffer, '\n');

	*end = '\0';
	*answer = json_loads(talk->buffer, 0, NULL);
	bool event = json_object_get(*answer, "event") != NULL;
	if (!json_is_object(*answer))
		say_wrong(talk, "no JSON object", talk->buffer);
	else
		note_answer(talk, talk->buffer, *answer);
	talk->events += event;
	talk->length -= (size_t)(end + 1 - talk->buffer);
	memmove(talk->buffer, end + 1, talk->length + 1);
	if (event)
		json_decref(*answer);
	return !event;
}

static void turn(struct talk *talk)
{
	talk->starved |= talk->daemon->live.starved;
	ev_run(talk->daemon->loop, EVRUN_NOWAIT);
	nod_pump_run(talk->daemon->pump);
	set_time(talk, talk->now + TURN_NS);
}

/* The next answer, for the caller to release; NULL: cut off, or none came. */
static json_t *await(struct talk *talk, const char *request)
{
	json_t *answer;

	for (int i = 0; i < TURNS; i++) {
		bool connected = receive(talk);
		faults_spare(true);
		while (strchr(talk->buffer, '\n'))
			if (take_line(talk, &answer)) {
				faults_spare(false);
				return answer;
			}
		faults_spare(false);
		if (!connected) {
			if (talk->length && faults_armed()->of == FAULT_OF_ALLOCATION)
				say_wrong(talk, "half a line", talk->buffer);
			fprintf(stderr, "cut off, for want of memory or by its socket: %s",
				request);
			talk->refused = true;
			disconnect(talk);
			connect_client(talk);
			return NULL;
		}
		turn(talk);
	}
	if (faults_armed()->lasting && faults_armed()->of == FAULT_OF_CALL) {
		fprintf(stderr, "nobody gets through to it: %s", request);
		talk->refused = true;
	} else {
		say_wrong(talk, "no answer", request);
	}
	return NULL;
}

static json_t *ask(struct talk *talk, const char *request)
{
	set_time(talk, START_NS + (int64_t)++talk->steps * 2 * NOD_NS_PER_S);
	faults_spare(true);
	send(talk->fd, request, strlen(request), MSG_NOSIGNAL);
	faults_spare(false);
	return await(talk, request);
}

/* Whether it was granted. */
static bool ask_for(struct talk *talk, const char *request)
{
	json_t *answer = ask(talk, request);
	bool granted = json_is_true(json_object_get(answer, "ok"));

	faults_spare(true);
	json_decref(answer);
	faults_spare(false);
	return granted;
}

/* Two requests in one piece. */
static void ask_for_two(struct talk *talk, const char *requests)
{
	unsigned before = talk->connections;

	ask_for(talk, requests);
	json_t *answer = talk->connections == before ? await(talk, "the second of two\n") : NULL;
	faults_spare(true);
	json_decref(answer);
	faults_spare(false);
}

/* Frames that the network brings. */
static void send_frames(struct talk *talk, unsigned count)
{
	set_time(talk, START_NS + (int64_t)++talk->steps * 2 * NOD_NS_PER_S);
	for (unsigned i = 0; i < count; i++) {
		struct can_frame frame = {.can_id = 0x2A0 + i % 9, .len = 8};
		frame.data[0] = (uint8_t)i;
		faults_spare(true);
		if (send(talk->bus[0], &frame, sizeof(frame), MSG_DONTWAIT) != sizeof(frame))
			abort();
		faults_spare(false);
		if (i % AT_ONCE == AT_ONCE - 1)
			turn(talk);
	}
	turn(talk);
	talk->frames += talk->recording ? count : 0;
}

/* What the timer of the daemon does once a second. */
static void let_second_pass(struct talk *talk)
{
	unsigned before = talk->events;

	set_time(talk, START_NS + (int64_t)++talk->steps * 2 * NOD_NS_PER_S);
	ev_invoke(talk->daemon->loop, &talk->daemon->second, EV_TIMER);
	turn(talk);
	if (!receive(talk)) {
		fprintf(stderr, "cut off, for want of memory or by its socket: watching\n");
		talk->refused = true;
		disconnect(talk);
		connect_client(talk);
		return;
	}
	json_t *answer;
	faults_spare(true);
	while (strchr(talk->buffer, '\n'))
		if (take_line(talk, &answer))
			json_decref(answer);
	faults_spare(false);
	if (talk->events == before && talk->recording) { /* the next one tells the same */
		fprintf(stderr, "an event is missing, for want of memory\n");
		talk->refused = true;
	}
}

static void start(struct talk *talk)
{
	json_t *answer = ask(talk, "{\"do\":\"start\",\"title\":\"a title\",\"id\":3}\n");
	const char *path = json_string_value(json_object_get(answer, "path"));

	faults_spare(true);
	snprintf(talk->path, sizeof(talk->path), "%s", talk->daemon->live.directory);
	if (path && strcmp(path, talk->path) != 0)
		say_wrong(talk, "it records elsewhere", path);
	json_decref(answer);
	faults_spare(false);
	talk->recording = *talk->path;
	talk->started = talk->daemon->live.started;
}

static void stop(struct talk *talk)
{
	send_frames(talk, 20);
	bool stopped = ask_for(talk, "{\"do\":\"stop\"}\n");
	talk->recording = talk->daemon->live.recorder != NULL;
	if (stopped && talk->recording)
		say_wrong(talk, "the recording goes on", "stop");
	if (!talk->recording)
		talk->stopped = talk->daemon->last_mark;
}

static void converse(struct talk *talk)
{
	ask_for(talk, "{\"do\":\"list\",\"id\":\"first\"}\n");
	send_frames(talk, 40);
	ask_for(talk, "{\"do\":\"view\",\"id\":1}\n");
	let_second_pass(talk);
	start(talk);
	send_frames(talk, 300);
	talk->noted += ask_for(talk, "{\"do\":\"mark\",\"kind\":\"locked\"}\n");
	talk->noted += ask_for(
		talk,
		"{\"do\":\"mark\",\"kind\":\"note\",\"subject\":\"kept, and long enough for more than one piece of memory\"}\n");
	ask_for(talk, "{\"do\":\"current\",\"microamps\":430000}\n");
	ask_for(talk, "{\"do\":\"watch\",\"id\":[1,2]}\n");
	let_second_pass(talk);
	send_frames(talk, 100);
	ask_for(talk, "{\"do\":\"answer\"}\n");
	ask_for(talk, "{\"do\":\"answer\",\"form\":\"json\"}\n");
	ask_for_two(talk, "{\"do\":\"list\"}\n{\"do\":\"view\"}\n");
	let_second_pass(talk);
	stop(talk);
	let_second_pass(talk);
	ask_for(talk, "{\"do\":\"list\"}\n");
}

/* ---- what was recorded ---- */

struct heard {
	uint64_t frames, lost;
	unsigned notes;
	bool gap;        /* on everything */
	int64_t gaps_ns; /* of the silent network */
};

static void take_mark(struct heard *heard, const struct nod_mark *mark)
{
	nod_duration length;

	heard->notes += mark->kind == NOD_MARK_LOCKED || mark->kind == NOD_MARK_NOTE;
	if (mark->kind != NOD_MARK_GAP)
		return;
	heard->gap |= !strncmp(mark->subject, "all ", 4);
	if (!strncmp(mark->subject, "vcan1 ", 6) && !nod_duration_parse(&length, mark->subject + 5))
		heard->gaps_ns += length.ns;
}

static void take_heard(struct heard *heard, const struct nod_event *event)
{
	if (event->kind == NOD_EVENT_FRAME)
		heard->frames++;
	else if (event->kind == NOD_EVENT_LOSS)
		heard->lost += event->loss.count;
	else if (event->kind == NOD_EVENT_MARK)
		take_mark(heard, &event->mark);
}

static void read_back(struct talk *talk)
{
	struct nod_error err = {""};
	struct heard heard = {0};
	const struct nod_event *event;
	struct nod_session *session = nod_session_open(talk->path, &err);
	char text[128];

	if (!session) {
		say_wrong(talk, "the session does not open", err.text);
		return;
	}
	while (nod_session_next(session, &event, &err) > 0)
		take_heard(&heard, event);
	nod_session_close(session);
	snprintf(text, sizeof(text),
		 "%u taken, %lu recorded, %lu lost, %u of %u entries, gap %.3f s", talk->frames,
		 (unsigned long)heard.frames, (unsigned long)heard.lost, heard.notes, talk->noted,
		 (double)heard.gaps_ns / 1e9);
	if (heard.frames + heard.lost < talk->frames && !heard.gap && !talk->refused)
		say_wrong(talk, "frames are missing, and it is not said", text);
	if (heard.notes < talk->noted)
		say_wrong(talk, "an entry is missing", text);
	int64_t listened = nod_time_since(talk->stopped, talk->started).ns - heard.gaps_ns;
	if (listened > NOD_NS_PER_S && !heard.gap && !talk->refused)
		say_wrong(talk, "nobody listened, and it is not said", text);
	fprintf(talk->out, "%s\n", text);
}

/* ---- beginning and end ---- */

static int set_up(struct talk *talk, const struct stage *stage, struct nod_error *err)
{
	struct nod_daemon *daemon = talk->daemon;

	snprintf(talk->socket, sizeof(talk->socket), "%ssock", stage->path);
	talk->options = (struct nod_options){.sessions = stage->path,
					     .socket = talk->socket,
					     .vehicle = NOD_CAPTURES "/truck/vehicle.yaml"};
	daemon->options = &talk->options;
	daemon->tap_count = 2;
	daemon->interfaces = (struct nod_interfaces){2, {"vcan0", "vcan1"}};
	for (uint8_t i = 0; i < 2; i++)
		daemon->taps[i] = (struct nod_tap){
			.interface = {'v', 'c', 'a', 'n', (char)('0' + i)},
			.state = i ? NOD_TAP_ABSENT : NOD_TAP_LISTENING,
			.since = {START_NS},
			.link = !i,
			.gap_from = i ? (nod_time){START_NS} : NOD_TIME_NONE,
			.listener = {.fd = i ? talk->silent_bus[1] : talk->bus[1],
				     .link = !i,
				     .interface = i,
				     .lane = NOD_LANE_TAPS + i}};
	daemon->control = nod_control_new(daemon->loop, talk->socket, NULL, nod_request_answer,
					  daemon, err);
	if (!daemon->control)
		return -errno;
	int status = nod_live_open(&daemon->live, talk->options.vehicle, &daemon->interfaces,
				   (nod_time){START_NS}, err);
	if (!status)
		status = nod_daemon_start(daemon, err);
	if (!status)
		ev_timer_stop(daemon->loop, &daemon->second); /* it would run in real time */
	return status;
}

static void begin(struct talk *talk)
{
	static struct nod_daemon daemon;

	faults_spare(true);
	memset(&daemon, 0, sizeof(daemon));
	memset(talk, 0, sizeof(*talk));
	talk->daemon = &daemon;
	talk->fd = -1;
	ev_set_allocator(allocate_for_loop);
	if (socketpair(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0, talk->bus) ||
	    socketpair(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0, talk->silent_bus))
		abort();
	faults_spare(true);
	daemon.loop = ev_loop_new(EVBACKEND_EPOLL | EVFLAG_NOENV);
	faults_spare(false);
	set_time(talk, START_NS);
}

static void end(struct talk *talk)
{
	struct nod_daemon *daemon = talk->daemon;

	if (daemon->pump)
		nod_daemon_stop(daemon);
	else
		nod_merger_free(daemon->merger);
	if (talk->recording)
		talk->stopped.ns = talk->now;
	if (daemon->live.engine)
		nod_live_close(&daemon->live, (nod_time){talk->now});
	nod_control_free(daemon->control);
	disconnect(talk);
	faults_spare(true);
	ev_loop_destroy(daemon->loop);
	for (int i = 0; i < 2; i++) {
		close(talk->bus[i]);
		close(talk->silent_bus[i]);
	}
	if (*talk->path)
		read_back(talk);
	faults_spare(false);
	faults_set_clock(0);
}

int scenario_control(const struct stage *stage, FILE *out)
{
	static struct talk talk;
	struct nod_error err = {""};

	begin(&talk);
	talk.out = out;
	int status = set_up(&talk, stage, &err);
	if (!status) {
		connect_client(&talk);
		converse(&talk);
	} else {
		fprintf(stderr, "%s\n", err.text);
	}
	bool starved = talk.starved || talk.daemon->live.starved;
	end(&talk);
	return talk.wrong ? SCENARIO_WRONG : status || talk.refused || starved ? 4 : 0;
}
