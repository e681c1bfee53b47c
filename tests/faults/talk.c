/* SPDX-License-Identifier: MIT */
#include "talk.h"

#include <errno.h>
#include <linux/can.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#define TURNS 60  /* of the loop, within which a request is answered */
#define AT_ONCE 8 /* frames; such a socket holds ten */
#define TURN_NS (20 * NOD_NS_PER_MS)

void talk_say_wrong(struct talk *talk, const char *what, const char *more)
{
	fprintf(stderr, "WRONG: %s: %s\n", what, more);
	talk->wrong = true;
}

void *talk_allocate(void *block, long size)
{
	bool spared = faults_spared();

	faults_spare(true);
	void *result = size ? realloc(block, (size_t)size) : NULL;
	if (!size)
		free(block);
	faults_spare(spared);
	return result;
}

void talk_set_time(struct talk *talk, int64_t ns)
{
	talk->now = ns;
	faults_set_clock(ns);
}

void talk_connect(struct talk *talk)
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

void talk_disconnect(struct talk *talk)
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

/* But for what hangs on the tick of the file system's clock: whether a mark came later. */
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
	const char *fault = strstr(line, "\"fault\":\"");
	if (fault) {
		fprintf(stderr, "a session: %.*s\n", (int)strcspn(fault, ","), fault);
		talk->refused = true;
	}
	if (json_is_true(json_object_get(answer, "ok")) || json_object_get(answer, "event"))
		return;
	if (!error || !*error || strstr(error, "Success"))
		talk_say_wrong(talk, "it is refused and not said why", line);
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
		talk_say_wrong(talk, "no JSON object", talk->buffer);
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
	talk_set_time(talk, talk->now + TURN_NS);
}

/* Two seconds later: what came before then is handed on before anything is asked, however many
 * turns the recorder's thread has taken to answer the last time. */
static void pass(struct talk *talk)
{
	talk_set_time(talk, START_NS + (int64_t)++talk->steps * 2 * NOD_NS_PER_S);
	nod_pump_run(talk->daemon->pump);
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
				talk_say_wrong(talk, "half a line", talk->buffer);
			fprintf(stderr, "cut off, for want of memory or by its socket: %s",
				request);
			talk->refused = true;
			talk_disconnect(talk);
			talk_connect(talk);
			return NULL;
		}
		turn(talk);
	}
	if (faults_armed()->lasting && faults_armed()->of == FAULT_OF_CALL) {
		fprintf(stderr, "nobody gets through to it: %s", request);
		talk->refused = true;
	} else {
		talk_say_wrong(talk, "no answer", request);
	}
	return NULL;
}

json_t *talk_ask(struct talk *talk, const char *request)
{
	pass(talk);
	faults_spare(true);
	send(talk->fd, request, strlen(request), MSG_NOSIGNAL);
	faults_spare(false);
	return await(talk, request);
}

bool talk_ask_for(struct talk *talk, const char *request)
{
	json_t *answer = talk_ask(talk, request);
	bool granted = json_is_true(json_object_get(answer, "ok"));

	faults_spare(true);
	json_decref(answer);
	faults_spare(false);
	return granted;
}

void talk_ask_for_two(struct talk *talk, const char *requests)
{
	unsigned before = talk->connections;

	talk_ask_for(talk, requests);
	json_t *answer = talk->connections == before ? await(talk, "the second of two\n") : NULL;
	faults_spare(true);
	json_decref(answer);
	faults_spare(false);
}

void talk_send_frames(struct talk *talk, unsigned count)
{
	pass(talk);
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

void talk_let_second_pass(struct talk *talk)
{
	unsigned before = talk->events;

	pass(talk);
	ev_invoke(talk->daemon->loop, &talk->daemon->second, EV_TIMER);
	turn(talk);
	if (!receive(talk)) {
		fprintf(stderr, "cut off, for want of memory or by its socket: watching\n");
		talk->refused = true;
		talk_disconnect(talk);
		talk_connect(talk);
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
