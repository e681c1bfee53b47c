/* SPDX-License-Identifier: MIT */
/* Answers as nodoffd does (daemon/PROTOCOL.md), always the same, in a process of its
 * own: for the commands that ask it. An entry "cut N" is answered with the first N bytes
 * of the answer only, and then the connection ends. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include "stage.h"

#define VIEW_OF(state)                                                                                \
	"\"now_ns\":1700000100000000000,\"session\":{\"recording\":true,\"path\":\"/s/one\","         \
	"\"started_ns\":1700000000000000000,\"frames\":12,\"lost\":0,\"bytes\":99,\"problem\":\"\"}," \
	"\"taps\":[{\"interface\":\"can0\",\"called\":\"can0\",\"state\":\"listening\","              \
	"\"listening\":true,\"since_ns\":1700000000000000000,\"note\":\"\",\"bitrate\":500000,"       \
	"\"bitrate_found\":false,\"clock\":\"kernel receive time\",\"frames\":12,\"lost\":0,"         \
	"\"errors\":0}],\"networks\":[{\"name\":\"body\",\"interface\":\"can0\","                     \
	"\"listening\":true,\"state\":\"" state "\",\"since_ns\":1700000000000000000,"                \
	"\"deadline_ns\":null,\"load\":0.1,\"verdict\":\"kept awake\",\"reason\":\"\","               \
	"\"frames\":12,\"lost\":0}],\"current\":null,\"verdict\":\"kept awake\","                     \
	"\"sentence\":\"s\",\"next\":\"n\",\"lock_ns\":null,\"lock_source\":\"none\","                \
	"\"suspects\":[],\"wake\":null,\"marks\":[]"

static const struct {
	const char *request, *members;
	const char *event; /* sent behind it, and then the connection ends; NULL: nothing */
} answers[] = {
	{"view", VIEW_OF("awake"), NULL},
	{"watch", VIEW_OF("awake"), VIEW_OF("asleep")},
	{"start", "\"path\":\"/s/two\"", NULL},
	{"stop", "\"path\":\"/s/two\",\"text\":\"the final answer\\n\"", NULL},
	{"list",
	 "\"directory\":\"/s\",\"recording\":\"/s/two\",\"sessions\":"
	 "[{\"name\":\"one\",\"path\":\"/s/one\"},{\"name\":\"two\",\"path\":\"/s/two\"}]",
	 NULL},
	{"answer", "\"text\":\"an answer\\nof two lines\\n\"", NULL},
	{"mark", "\"time_ns\":1700000101000000000", NULL},
};

static pid_t server;

/* What follows a member's name in a line of ours. */
static const char *value_of(const char *line, const char *member)
{
	const char *at = strstr(line, member);

	return at ? at + strlen(member) : "";
}

/* False: the connection ends. */
static bool reply(int fd, const char *line)
{
	const char *what = value_of(line, "\"do\":\""), *cut = value_of(line, "\"subject\":\"cut ");
	char text[4096];
	size_t i = 0;

	for (; i < sizeof(answers) / sizeof(answers[0]); i++)
		if (!strncmp(what, answers[i].request, strcspn(what, "\"")))
			break;
	if (i == sizeof(answers) / sizeof(answers[0]))
		return false;
	int length = snprintf(text, sizeof(text), "{\"id\":%d,\"ok\":true,\"protocol\":1,%s}\n",
			      atoi(value_of(line, "\"id\":")), answers[i].members);
	if (*cut && atoi(cut) < length)
		length = atoi(cut);
	if (send(fd, text, (size_t)length, MSG_NOSIGNAL) != length || *cut)
		return false;
	if (!answers[i].event)
		return true;
	length = snprintf(text, sizeof(text), "{\"event\":\"view\",\"protocol\":1,%s}\n",
			  answers[i].event);
	return send(fd, text, (size_t)length, MSG_NOSIGNAL) == length && false;
}

static void serve(int fd)
{
	char line[4096];
	size_t length = 0;
	ssize_t received;

	while ((received = recv(fd, line + length, sizeof(line) - 1 - length, 0)) > 0) {
		length += (size_t)received;
		line[length] = '\0';
		if (!strchr(line, '\n'))
			continue;
		if (!reply(fd, line))
			return;
		length = 0;
	}
}

void server_start(const struct stage *stage)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	struct timeval patience = {5, 0}; /* with a client that neither asks nor goes */
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);

	snprintf(address.sun_path, sizeof(address.sun_path), "%snodoff.sock", stage->fixtures);
	if (bind(fd, (struct sockaddr *)&address, sizeof(address)) || listen(fd, 8))
		abort();
	server = fork();
	if (server < 0)
		abort();
	if (server) {
		close(fd);
		return;
	}
	prctl(PR_SET_PDEATHSIG, SIGKILL);
	for (;;) {
		int client = accept4(fd, NULL, NULL, SOCK_CLOEXEC);
		setsockopt(client, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof(patience));
		serve(client);
		close(client);
	}
}

void server_stop(void)
{
	kill(server, SIGKILL);
	waitpid(server, NULL, 0);
}
