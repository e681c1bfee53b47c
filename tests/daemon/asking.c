/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "asking.h"
#include "session.h"

void asking_begin(struct asking *a)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};

	memset(&kernel, 0, sizeof(kernel));
	kernel.period = 10 * MS;
	kernel.next = kernel.period;
	kernel.last = 3 * S;
	*a = (struct asking){calloc(1, sizeof(*a->run)), -1, NULL, 0};
	mishap_begin(a->run);
	mishap_go_on(a->run, 5 * S);
	strcpy(address.sun_path, a->run->socket);
	a->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	assert_int_equal(connect(a->fd, (struct sockaddr *)&address, sizeof(address)), 0);
}

void asking_end(struct asking *a)
{
	json_decref(a->answer);
	close(a->fd);
	mishap_finish(a->run);
}

/* The next line that is no event. */
static json_t *asking_receive(struct asking *a)
{
	static char text[1 << 20];
	size_t length = 0;

	for (int turn = 0; turn < 100; turn++) {
		ev_run(a->run->daemon.loop, EVRUN_NOWAIT);
		mishap_go_on(a->run, kernel.now + 1); /* a tick, and what it puts on the disk */
		ssize_t got = recv(a->fd, text + length, sizeof(text) - 1 - length, MSG_DONTWAIT);
		length += got > 0 ? (size_t)got : 0;
		text[length] = '\0';
		char *newline = strchr(text, '\n');
		if (!newline)
			continue;
		*newline = '\0';
		json_t *line = json_loads(text, 0, NULL);
		assert_non_null(line);
		if (!json_object_get(line, "event"))
			return line;
		a->views++;
		json_decref(line);
		length -= (size_t)(newline + 1 - text);
		memmove(text, newline + 1, length + 1);
	}
	fail_msg("no answer");
	return NULL;
}

const json_t *asking_ask(struct asking *a, const char *request)
{
	size_t length = strlen(request);

	assert_int_equal(write(a->fd, request, length), (ssize_t)length);
	assert_int_equal(write(a->fd, "\n", 1), 1);
	json_decref(a->answer);
	a->answer = asking_receive(a);
	return a->answer;
}

const json_t *asking_grant(struct asking *a, const char *request)
{
	const json_t *ok = json_object_get(asking_ask(a, request), "ok");

	if (!json_is_true(ok))
		fail_msg("%s: %s", request, json_string_value(json_object_get(a->answer, "error")));
	return a->answer;
}

void asking_refuse(struct asking *a, const char *request, const char *why)
{
	const char *error = json_string_value(json_object_get(asking_ask(a, request), "error"));

	assert_true(json_is_false(json_object_get(a->answer, "ok")));
	if (!error || !strstr(error, why))
		fail_msg("%s: \"%s\" lacks \"%s\"", request, error ? error : "", why);
}

const char *asking_text(const json_t *object, const char *key)
{
	const char *text = json_string_value(json_object_get(object, key));

	assert_non_null(text);
	return text;
}

json_int_t asking_number(const json_t *object, const char *key)
{
	assert_non_null(object);
	assert_true(json_is_integer(json_object_get(object, key)));
	return json_integer_value(json_object_get(object, key));
}

unsigned asking_recorded(const struct asking *a, enum nod_mark_kind kind, const char *subject)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(a->run->daemon.live.directory, &err);
	const struct nod_event *event;
	unsigned count = 0;

	assert_non_null(session);
	while (nod_session_next(session, &event, &err) > 0)
		count += event->kind == NOD_EVENT_MARK && event->mark.kind == kind &&
			 !strcmp(event->mark.subject, subject);
	nod_session_close(session);
	return count;
}
