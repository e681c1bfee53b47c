/* SPDX-License-Identifier: MIT */
/* nodoffd in this process: with frames that a test hands to it, on clocks that a test
 * sets, and asked over its real socket. */
#include "talk.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "requests.h"
#include "session.h"
#include "view.h"

/* Half a minute of two networks: frames, a sample of the current and a mark a second. */
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

static void start(struct talk *talk)
{
	json_t *answer = talk_ask(talk, "{\"do\":\"start\",\"title\":\"a title\",\"id\":3}\n");
	const char *path = json_string_value(json_object_get(answer, "path"));

	faults_spare(true);
	snprintf(talk->path, sizeof(talk->path), "%s", talk->daemon->live.directory);
	if (path && strcmp(path, talk->path) != 0)
		talk_say_wrong(talk, "it records elsewhere", path);
	json_decref(answer);
	faults_spare(false);
	talk->recording = *talk->path;
	talk->started = talk->daemon->live.started;
}

static void stop(struct talk *talk)
{
	talk_send_frames(talk, 20);
	bool stopped = talk_ask_for(talk, "{\"do\":\"stop\"}\n");
	talk->recording = talk->daemon->live.recorder != NULL;
	if (stopped && talk->recording)
		talk_say_wrong(talk, "the recording goes on", "stop");
	if (!talk->recording)
		talk->stopped = talk->daemon->last_mark;
}

static void converse(struct talk *talk)
{
	talk_ask_for(talk, "{\"do\":\"list\",\"id\":\"first\"}\n");
	talk_send_frames(talk, 40);
	talk_ask_for(talk, "{\"do\":\"view\",\"id\":1}\n");
	talk_let_second_pass(talk);
	start(talk);
	talk_send_frames(talk, 300);
	talk->noted += talk_ask_for(talk, "{\"do\":\"mark\",\"kind\":\"locked\"}\n");
	talk->noted += talk_ask_for(
		talk,
		"{\"do\":\"mark\",\"kind\":\"note\",\"subject\":\"kept, and long enough for more than one piece of memory\"}\n");
	talk_ask_for(talk, "{\"do\":\"current\",\"microamps\":430000}\n");
	talk_ask_for(talk, "{\"do\":\"watch\",\"id\":[1,2]}\n");
	talk_let_second_pass(talk);
	talk_send_frames(talk, 100);
	talk_ask_for(talk, "{\"do\":\"answer\"}\n");
	talk_ask_for(talk, "{\"do\":\"answer\",\"form\":\"json\"}\n");
	talk_ask_for_two(talk, "{\"do\":\"list\"}\n{\"do\":\"view\"}\n");
	talk_let_second_pass(talk);
	stop(talk);
	talk_let_second_pass(talk);
	talk_ask_for(talk, "{\"do\":\"list\"}\n");
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
		talk_say_wrong(talk, "the session does not open", err.text);
		return;
	}
	while (nod_session_next(session, &event, &err) > 0)
		take_heard(&heard, event);
	nod_session_close(session);
	snprintf(text, sizeof(text), "%u taken, %lu recorded, %lu lost, %u of %u marks, gap %.3f s",
		 talk->frames, (unsigned long)heard.frames, (unsigned long)heard.lost, heard.notes,
		 talk->noted, (double)heard.gaps_ns / 1e9);
	if (heard.frames + heard.lost < talk->frames && !heard.gap && !talk->refused)
		talk_say_wrong(talk, "frames are missing, and it is not said", text);
	if (heard.notes < talk->noted)
		talk_say_wrong(talk, "a mark is missing", text);
	int64_t listened = nod_time_since(talk->stopped, talk->started).ns - heard.gaps_ns;
	if (listened > NOD_NS_PER_S && !heard.gap && !talk->refused)
		talk_say_wrong(talk, "nobody listened, and it is not said", text);
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
	ev_set_allocator(talk_allocate);
	if (socketpair(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0, talk->bus) ||
	    socketpair(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0, talk->silent_bus))
		abort();
	faults_spare(true);
	daemon.loop = ev_loop_new(EVBACKEND_EPOLL | EVFLAG_NOENV);
	faults_spare(false);
	talk_set_time(talk, START_NS);
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
	talk_disconnect(talk);
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
		talk_connect(&talk);
		converse(&talk);
	} else {
		fprintf(stderr, "%s\n", err.text);
	}
	bool starved = talk.starved || talk.daemon->live.starved || talk.daemon->recent.starved;
	end(&talk);
	return talk.wrong ? SCENARIO_WRONG : status || talk.refused || starved ? 4 : 0;
}
