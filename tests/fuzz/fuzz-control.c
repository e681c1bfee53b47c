/* SPDX-License-Identifier: MIT */
/* The daemon's control socket, both ends. The first byte chooses: what a client sends
 * (answered in the daemon's way), or what a daemon answers (read in the client's way, and
 * events laid out for the live view). */
#include <errno.h>
#include <limits.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "client.h"
#include "control.h"
#include "current-log.h"
#include "daemon.h"
#include "fuzz.h"
#include "live-events.h"
#include "live-screen.h"
#include "requests.h"
#include "session-name.h"
#include "vehicle.h"
#include "view.h"

static struct nod_daemon nodoffd;
static struct nod_control_ticket ticket;
static char directory[64], path[96], other[96];
static int listening;

/* ---- what writes to a disk or needs the taps; --wrap puts these in its place ---- */

int __wrap_nod_daemon_record(struct nod_daemon *daemon, const char *title, struct nod_error *err);
int __wrap_nod_daemon_end_record(struct nod_daemon *daemon, json_t **answer, struct nod_error *err);
int __wrap_nod_daemon_push_current(struct nod_daemon *daemon, int64_t microamps);
int __wrap_nod_daemon_take_adapters(struct nod_daemon *daemon, const char *map,
				    struct nod_error *err);

/* No title leads out of the directory of sessions. */
int __wrap_nod_daemon_record(struct nod_daemon *daemon, const char *title, struct nod_error *err)
{
	const char *sessions = daemon->options->sessions;
	size_t length = strlen(sessions);
	char name[PATH_MAX];

	FUZZ_CHECK(!nod_session_name(name, sizeof(name), sessions, title, (nod_time){0}));
	FUZZ_CHECK(!strncmp(name, sessions, length) && name[length] == '/');
	FUZZ_CHECK(name[length + 1] != '.' && !strchr(name + length + 1, '/'));
	if (!title || strlen(title) % 2)
		return nod_error_set(err, EROFS, "not here");
	snprintf(daemon->live.directory, sizeof(daemon->live.directory), "%s", name);
	return 0;
}

int __wrap_nod_daemon_end_record(struct nod_daemon *daemon, json_t **answer, struct nod_error *err)
{
	if (!daemon->live.directory[0])
		return nod_error_set(err, ENOENT, "no session is being recorded");
	daemon->live.directory[0] = '\0';
	*answer = nod_view_answer(daemon, false, err);
	return *answer ? 0 : -ENOMEM;
}

int __wrap_nod_daemon_push_current(struct nod_daemon *daemon, int64_t microamps)
{
	FUZZ_CHECK(daemon == &nodoffd);
	FUZZ_CHECK(microamps <= NOD_CURRENT_MOST && microamps >= -NOD_CURRENT_MOST);
	return 0;
}

/* A map is read; there are no adapters. */
int __wrap_nod_daemon_take_adapters(struct nod_daemon *daemon, const char *map,
				    struct nod_error *err)
{
	struct nod_vehicle *vehicle = nod_vehicle_parse(map, strlen(map), "vehicle", err);

	FUZZ_CHECK(daemon == &nodoffd);
	int status = vehicle ? 0 : -EINVAL;
	nod_vehicle_free(vehicle);
	return status;
}

/* ---- the daemon's end ---- */

static json_t *handle(void *context, struct nod_control_client *client, const char *what,
		      const json_t *request, struct nod_error *err)
{
	FUZZ_CHECK(json_is_object(request) && what);
	if (!strcmp(what, "later")) {
		if (ticket.id)
			json_decref(ticket.id);
		ticket = nod_control_defer(client, request);
		return NULL;
	}
	return nod_request_answer(context, client, what, request, err);
}

static void clean_up(void)
{
	close(listening);
	unlink(other);
	nod_control_free(nodoffd.control);
	nod_live_close(&nodoffd.live, (nod_time){NOD_NS_PER_S});
	ev_loop_destroy(nodoffd.loop);
	rmdir(directory);
}

static struct sockaddr_un address_of(const char *name)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};

	snprintf(address.sun_path, sizeof(address.sun_path), "%s", name);
	return address;
}

static void set_up(void)
{
	static struct nod_options options;
	struct nod_error err = {""};

	snprintf(directory, sizeof(directory), "%s/nodoff-fuzz-XXXXXX",
		 access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm");
	FUZZ_CHECK(mkdtemp(directory));
	snprintf(path, sizeof(path), "%s/daemon", directory);
	snprintf(other, sizeof(other), "%s/other", directory);
	options.sessions = directory;
	nodoffd.options = &options;
	nodoffd.loop = ev_loop_new(EVBACKEND_POLL);
	nodoffd.interfaces = (struct nod_interfaces){.count = 1, .names = {"can0"}};
	nodoffd.last_mark = NOD_TIME_NONE;
	FUZZ_CHECK(!nod_live_open(&nodoffd.live, NULL, &nodoffd.interfaces, (nod_time){0}, &err));
	nodoffd.control = nod_control_new(nodoffd.loop, path, NULL, handle, &nodoffd, &err);
	struct sockaddr_un address = address_of(other);
	listening = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	FUZZ_CHECK(nodoffd.control && listening >= 0 &&
		   !bind(listening, (struct sockaddr *)&address, sizeof(address)) &&
		   !listen(listening, 4));
	atexit(clean_up);
}

/* Every answer is one line with one JSON object. */
static void check_answers(int fd)
{
	static char answers[512 * 1024];
	size_t length = 0;
	ssize_t n;

	while ((n = recv(fd, answers + length, sizeof(answers) - length, MSG_DONTWAIT)) > 0)
		length += (size_t)n;
	for (char *line = answers, *end; length;
	     length -= (size_t)(end + 1 - line), line = end + 1) {
		end = memchr(line, '\n', length);
		FUZZ_CHECK(end);
		json_t *answer = json_loadb(line, (size_t)(end - line), 0, NULL);
		FUZZ_CHECK(json_is_object(answer) && json_object_get(answer, "protocol"));
		FUZZ_CHECK(json_object_get(answer, "ok"));
		json_decref(answer);
	}
}

/* Sent in two parts, so that lines are put together. */
static void serve(const uint8_t *data, size_t size)
{
	struct sockaddr_un address = address_of(path);
	struct nod_error err = {"late"};
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	size_t first = size / 2;

	FUZZ_CHECK(fd >= 0 && !connect(fd, (struct sockaddr *)&address, sizeof(address)));
	ev_run(nodoffd.loop, EVRUN_NOWAIT);
	for (int part = 0; part < 2; part++) {
		if (send(fd, part ? data + first : data, part ? size - first : first,
			 MSG_NOSIGNAL) < 0)
			break;
		for (int turn = 0; turn < 12; turn++)
			ev_run(nodoffd.loop, EVRUN_NOWAIT);
	}
	if (ticket.id)
		nod_control_answer(nodoffd.control, &ticket, NULL, &err);
	ticket.id = NULL;
	check_answers(fd);
	close(fd);
	ev_run(nodoffd.loop, EVRUN_NOWAIT);
	ev_run(nodoffd.loop, EVRUN_NOWAIT);
}

static void show(json_t *old, json_t *view, int width)
{
	static struct nod_live_screen screen;

	nod_live_screen_render(&screen, view, width, 24);
	FUZZ_CHECK(screen.count >= 0 && screen.count <= 22);
	FILE *nowhere = fopen("/dev/null", "w");
	FUZZ_CHECK(nowhere && nod_live_events_print(nowhere, old, view, width % 2) >= 0);
	fclose(nowhere);
}

static void ask(const uint8_t *data, size_t size)
{
	struct nod_error err = {""};
	struct nod_client *client = nod_client_open(other, &err);
	int fd = accept4(listening, NULL, NULL, SOCK_CLOEXEC);
	json_t *last = NULL, *event = NULL;

	FUZZ_CHECK(client && fd >= 0);
	FUZZ_CHECK(size == 0 || send(fd, data, size, MSG_NOSIGNAL) == (ssize_t)size);
	shutdown(fd, SHUT_WR); /* nobody waits for more */
	json_t *answer = nod_client_request(client, "view", NULL, &err);
	FUZZ_CHECK(answer || err.text[0]);
	if (answer)
		show(NULL, answer, 80);
	for (int i = 0; i < 20 && nod_client_event(client, 0, &event, &err) > 0; i++) {
		show(last, event, 40 + i);
		json_decref(last);
		last = event;
	}
	json_decref(last);
	json_decref(answer);
	nod_client_close(client);
	close(fd);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	if (!nodoffd.loop)
		set_up();
	if (!size)
		return 0;
	if (data[0] & 1)
		ask(data + 1, size - 1);
	else
		serve(data + 1, size - 1);
	return 0;
}
