/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "control.h"

struct bench {
	struct ev_loop *loop;
	struct nod_control *control;
	struct nod_control_ticket ticket;
	char directory[32], path[64];
};

static json_t *handle(void *context, struct nod_control_client *client, const char *what,
		      const json_t *request, struct nod_error *err)
{
	struct bench *bench = context;

	if (!strcmp(what, "echo"))
		return json_pack("{s:O}", "said", json_object_get(request, "say"));
	if (!strcmp(what, "watch")) {
		nod_control_subscribe(client);
		return json_object();
	}
	if (!strcmp(what,
		    "answer earlier")) { /* a mark runs the pump, which answers earlier ones */
		struct nod_control_ticket earlier = bench->ticket;
		bench->ticket = nod_control_defer(client, request);
		nod_control_answer(bench->control, &earlier, json_object(), err);
		return NULL;
	}
	if (!strcmp(what, "later")) {
		bench->ticket = nod_control_defer(client, request);
		return NULL;
	}
	nod_error_set(err, EINVAL, "no such request");
	return NULL;
}

static int set_up(void **state)
{
	struct bench *bench = calloc(1, sizeof(*bench));
	struct nod_error err;

	strcpy(bench->directory, "/tmp/nod-control-XXXXXX");
	assert_non_null(mkdtemp(bench->directory));
	snprintf(bench->path, sizeof(bench->path), "%s/sock", bench->directory);
	bench->loop = ev_loop_new(EVBACKEND_EPOLL);
	bench->control = nod_control_new(bench->loop, bench->path, NULL, handle, bench, &err);
	assert_non_null(bench->control);
	*state = bench;
	return 0;
}

static int tear_down(void **state)
{
	struct bench *bench = *state;

	nod_control_free(bench->control);
	assert_int_equal(access(bench->path, F_OK), -1);
	ev_loop_destroy(bench->loop);
	rmdir(bench->directory);
	free(bench);
	return 0;
}

static int dial(const struct bench *bench)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK, 0);

	strcpy(address.sun_path, bench->path);
	assert_int_equal(connect(fd, (struct sockaddr *)&address, sizeof(address)), 0);
	return fd;
}

static void turn(const struct bench *bench, int times)
{
	while (times--)
		ev_run(bench->loop, EVRUN_NOWAIT);
}

static void say(int fd, const char *text)
{
	assert_int_equal(send(fd, text, strlen(text), MSG_NOSIGNAL), strlen(text));
}

/* What the daemon has sent so far; "<end>" when it hung up. */
static const char *hear(int fd, char *buf, size_t size)
{
	ssize_t length = recv(fd, buf, size - 1, 0);

	if (length == 0 || (length < 0 && errno == ECONNRESET))
		return "<end>";
	buf[length < 0 ? 0 : length] = 0;
	return buf;
}

static void answers_each_line(void **state)
{
	struct bench *bench = *state;
	char buf[1024];
	int fd = dial(bench);

	say(fd, "{\"do\":\"echo\",\"id\":7,\"say\":\"a\"}\n{\"do\":\"echo\",\"say\":2}\n{\"do\":");
	turn(bench, 8);
	assert_string_equal(hear(fd, buf, sizeof(buf)),
			    "{\"id\":7,\"ok\":true,\"protocol\":1,\"said\":\"a\"}\n"
			    "{\"ok\":true,\"protocol\":1,\"said\":2}\n");
	say(fd, "\"nonsense\"}\n[]\nrubbish\n{\"do\":\"echo\",\"protocol\":9}\n{}\n");
	turn(bench, 8);
	assert_string_equal(
		hear(fd, buf, sizeof(buf)),
		"{\"error\":\"no such request\",\"ok\":false,\"protocol\":1}\n"
		"{\"error\":\"a request is one line with one JSON object\",\"ok\":false,\"protocol\":1}\n"
		"{\"error\":\"a request is one line with one JSON object\",\"ok\":false,\"protocol\":1}\n"
		"{\"error\":\"this daemon speaks protocol 1\",\"ok\":false,\"protocol\":1}\n"
		"{\"error\":\"a request is an object with a string \\\"do\\\"\",\"ok\":false,\"protocol\":1}\n");
	close(fd);
	turn(bench, 2);
}

static void answers_later(void **state)
{
	struct bench *bench = *state;
	struct nod_error err = {"full"};
	char buf[256];
	int fd = dial(bench);

	say(fd, "{\"do\":\"later\",\"id\":3}\n");
	turn(bench, 3);
	assert_string_equal(hear(fd, buf, sizeof(buf)), "");
	nod_control_answer(bench->control, &bench->ticket, NULL, &err);
	assert_string_equal(hear(fd, buf, sizeof(buf)),
			    "{\"error\":\"full\",\"id\":3,\"ok\":false,\"protocol\":1}\n");
	say(fd, "{\"do\":\"later\",\"id\":4}\n");
	turn(bench, 2);
	close(fd);
	turn(bench, 2);
	fd = dial(bench); /* takes the same slot, but is somebody else */
	turn(bench, 2);
	nod_control_answer(bench->control, &bench->ticket, json_object(), &err);
	assert_string_equal(hear(fd, buf, sizeof(buf)), "");
	close(fd);
}

/* The second request answers the first, which nobody takes: the client is cut off in the
 * middle of its own request. */
static void outlives_who_hangs_up_between_two_requests(void **state)
{
	struct bench *bench = *state;
	char buf[64];
	int fd = dial(bench), other = dial(bench);

	say(fd, "{\"do\":\"later\",\"id\":1}\n{\"do\":\"answer earlier\",\"id\":2}\n");
	assert_int_equal(shutdown(fd, SHUT_RD), 0);
	turn(bench, 4);
	json_decref(bench->ticket.id);
	say(other, "{\"do\":\"watch\"}\n");
	turn(bench, 3);
	assert_string_equal(hear(other, buf, sizeof(buf)), "{\"ok\":true,\"protocol\":1}\n");
	close(fd);
	close(other);
}

#define BLOCK 4096

static void say_block(const struct bench *bench, int fd)
{
	char block[BLOCK + 1];

	memset(block, 'x', BLOCK);
	block[BLOCK] = 0;
	say(fd, block);
	turn(bench, 2);
}

/* A map of a car comes in one request. */
static void takes_a_long_request(void **state)
{
	struct bench *bench = *state;
	static char buf[NOD_CONTROL_REQUEST_MAX];
	size_t length = 0, sent = 50 * BLOCK;
	int fd = dial(bench);

	say(fd, "{\"do\":\"echo\",\"say\":\"");
	for (int i = 0; i < 50; i++)
		say_block(bench, fd);
	say(fd, "\"}\n{\"do\":\"echo\",\"say\":1}\n");
	for (int i = 0; i < 200; i++) {
		turn(bench, 2);
		length += strlen(hear(fd, buf + length, sizeof(buf) - length));
	}
	assert_int_equal(length, strlen("{\"ok\":true,\"protocol\":1,\"said\":\"\"}\n") + sent +
					 strlen("{\"ok\":true,\"protocol\":1,\"said\":1}\n"));
	close(fd);
}

static void cuts_off_a_line_without_end(void **state)
{
	struct bench *bench = *state;
	char buf[64];
	int fd = dial(bench), other = dial(bench);

	for (size_t i = 0; i < NOD_CONTROL_REQUEST_MAX / BLOCK; i++)
		say_block(bench, fd);
	assert_string_equal(hear(fd, buf, sizeof(buf)), ""); /* it may still end */
	say_block(bench, fd);
	say(other, "{\"do\":\"watch\"}\n");
	turn(bench, 4);
	assert_string_equal(hear(fd, buf, sizeof(buf)), "<end>");
	assert_string_equal(hear(other, buf, sizeof(buf)), "{\"ok\":true,\"protocol\":1}\n");
	close(fd);
	close(other);
}

static void cuts_off_who_does_not_read(void **state)
{
	struct bench *bench = *state;
	static char text[60000];
	char buf[64];
	int slow = dial(bench), published = 0;

	memset(text, 'x', sizeof(text) - 1);
	say(slow, "{\"do\":\"watch\"}\n");
	turn(bench, 3);
	assert_true(nod_control_has_subscribers(bench->control));
	while (nod_control_has_subscribers(bench->control) && published < 1000) {
		nod_control_publish(bench->control, "view", json_pack("{s:s}", "text", text));
		published++;
	}
	/* the socket's own buffer and the daemon's, not more */
	assert_in_range(published, 2, 60);
	while (hear(slow, buf, sizeof(buf)) == buf && errno != EAGAIN)
		errno = 0;
	close(slow);
}

/* Clients that are each within their own bound, but not together. */
static void bounds_what_waits_for_all(void **state)
{
	struct bench *bench = *state;
	static char text[60000];
	const size_t line = sizeof(text) + 50;
	struct pollfd clients[NOD_CONTROL_CLIENTS_MAX];
	int cut = 0;

	memset(text, 'x', sizeof(text) - 1);
	for (int i = 0; i < NOD_CONTROL_CLIENTS_MAX; i++) {
		clients[i] = (struct pollfd){dial(bench), 0, 0};
		say(clients[i].fd, "{\"do\":\"watch\"}\n");
		turn(bench, 3);
	}
	/* half of what one alone may have waiting */
	for (size_t sent = 0; sent < NOD_CONTROL_OUTPUT_MAX / 2; sent += line)
		nod_control_publish(bench->control, "view", json_pack("{s:s}", "text", text));
	poll(clients, NOD_CONTROL_CLIENTS_MAX, 0);
	for (int i = 0; i < NOD_CONTROL_CLIENTS_MAX; i++) {
		cut += (clients[i].revents & POLLHUP) != 0;
		close(clients[i].fd);
	}
	assert_in_range(cut, NOD_CONTROL_CLIENTS_MAX / 4, NOD_CONTROL_CLIENTS_MAX - 1);
	turn(bench, 40);
}

static void has_room_for_a_new_client(void **state)
{
	struct bench *bench = *state;
	int idle[NOD_CONTROL_CLIENTS_MAX + 1];
	char buf[64];

	for (int i = 0; i <= NOD_CONTROL_CLIENTS_MAX; i++) {
		idle[i] = dial(bench);
		turn(bench, 2);
	}
	say(idle[NOD_CONTROL_CLIENTS_MAX], "{\"do\":\"watch\"}\n");
	turn(bench, 3);
	assert_string_equal(hear(idle[NOD_CONTROL_CLIENTS_MAX], buf, sizeof(buf)),
			    "{\"ok\":true,\"protocol\":1}\n");
	assert_string_equal(hear(idle[0], buf, sizeof(buf)), "<end>"); /* silent longest */
	for (int i = 0; i <= NOD_CONTROL_CLIENTS_MAX; i++)
		close(idle[i]);
	turn(bench, 40);
}

static void guards_its_socket(void **state)
{
	struct bench *bench = *state;
	struct nod_error err;
	struct stat info;

	assert_int_equal(stat(bench->path, &info), 0);
	assert_int_equal(info.st_mode & 0777, 0600);
	assert_null(nod_control_new(bench->loop, bench->path, NULL, handle, bench, &err));
	assert_int_equal(errno, EADDRINUSE);
	assert_int_equal(access(bench->path, F_OK), 0);
	assert_null(nod_control_new(bench->loop, "/tmp/nod-control-none", "no such group", handle,
				    bench, &err));
	assert_int_equal(access("/tmp/nod-control-none", F_OK), -1);
}

static void removes_only_a_socket_that_nobody_answers(void **state)
{
	struct bench *bench = *state;
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	struct nod_error err;
	struct nod_control *control;
	int fd = socket(AF_UNIX, SOCK_STREAM, 0);

	snprintf(address.sun_path, sizeof(address.sun_path), "%s/left", bench->directory);
	assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof(address)), 0);
	close(fd); /* as a killed nodoffd leaves it */
	control = nod_control_new(bench->loop, address.sun_path, NULL, handle, bench, &err);
	assert_non_null(control);
	nod_control_free(control);

	fclose(fopen(address.sun_path, "w"));
	assert_null(nod_control_new(bench->loop, address.sun_path, NULL, handle, bench, &err));
	assert_int_equal(errno, EEXIST);
	assert_non_null(strstr(err.text, "no socket"));
	assert_int_equal(access(address.sun_path, F_OK), 0);
	assert_int_equal(unlink(address.sun_path), 0);

	fd = socket(AF_UNIX, SOCK_DGRAM, 0); /* another program's, of another kind */
	assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof(address)), 0);
	assert_null(nod_control_new(bench->loop, address.sun_path, NULL, handle, bench, &err));
	assert_int_equal(errno, EADDRINUSE);
	close(fd);
	assert_int_equal(unlink(address.sun_path), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(answers_each_line, set_up, tear_down),
		cmocka_unit_test_setup_teardown(answers_later, set_up, tear_down),
		cmocka_unit_test_setup_teardown(outlives_who_hangs_up_between_two_requests, set_up,
						tear_down),
		cmocka_unit_test_setup_teardown(takes_a_long_request, set_up, tear_down),
		cmocka_unit_test_setup_teardown(cuts_off_a_line_without_end, set_up, tear_down),
		cmocka_unit_test_setup_teardown(cuts_off_who_does_not_read, set_up, tear_down),
		cmocka_unit_test_setup_teardown(bounds_what_waits_for_all, set_up, tear_down),
		cmocka_unit_test_setup_teardown(has_room_for_a_new_client, set_up, tear_down),
		cmocka_unit_test_setup_teardown(guards_its_socket, set_up, tear_down),
		cmocka_unit_test_setup_teardown(removes_only_a_socket_that_nobody_answers, set_up,
						tear_down),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
