/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "current-input.h"
#include "sysfs-channel.h"

static char directory[] = "/tmp/nod-current-XXXXXX";
static int64_t samples[64];
static size_t sample_count;

static void take(void *context, int64_t microamps)
{
	(void)context;
	if (sample_count < 64)
		samples[sample_count++] = microamps;
}

static const char *file(const char *name)
{
	static char path[128];

	snprintf(path, sizeof(path), "%s/%s", directory, name);
	return path;
}

static void put(const char *name, const char *text)
{
	FILE *out = fopen(file(name), "w");

	fputs(text, out);
	fclose(out);
}

static void turn(struct ev_loop *loop)
{
	for (int i = 0; i < 4; i++)
		ev_run(loop, EVRUN_NOWAIT);
}

static void takes_lines_however_they_are_cut(void **state)
{
	struct ev_loop *loop = ev_loop_new(EVBACKEND_EPOLL);
	const char *text = "0.43 A\r\n430 mA\n\nnonsense\n12.1 V\n"
			   "1000000.000001 A\n-0.005\n-1000001\n1";
	char longer[600];
	struct nod_error err;
	int fd;

	(void)state;
	sample_count = 0;
	mkfifo(file("fifo"), 0600);
	fd = open(file("fifo"), O_RDWR);
	struct nod_current_input *input = nod_current_input_new(loop, file("fifo"), take, NULL,
								&err);
	assert_non_null(input);
	for (const char *p = text; *p; p++) {
		assert_int_equal(write(fd, p, 1), 1);
		turn(loop);
	}
	assert_int_equal(sample_count, 3); /* the last line has no end yet */
	assert_int_equal(samples[0], 430000);
	assert_int_equal(samples[1], 430000);
	assert_int_equal(samples[2], -5000);
	memset(longer, '1', sizeof(longer));
	longer[sizeof(longer) - 1] = '\n';
	assert_int_equal(write(fd, longer, sizeof(longer)), sizeof(longer));
	assert_int_equal(write(fd, "2\n", 2), 2);
	turn(loop);
	assert_int_equal(sample_count, 4); /* the endless line is left out */
	assert_int_equal(samples[3], 2000000);
	nod_current_input_free(input);
	close(fd);
	unlink(file("fifo"));
	ev_loop_destroy(loop);
}

static void takes_a_socket(void **state)
{
	struct ev_loop *loop = ev_loop_new(EVBACKEND_EPOLL);
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	struct nod_error err;
	char source[160];
	int server = socket(AF_UNIX, SOCK_STREAM, 0), fd;

	(void)state;
	sample_count = 0;
	strcpy(address.sun_path, file("sock"));
	assert_int_equal(bind(server, (struct sockaddr *)&address, sizeof(address)), 0);
	assert_int_equal(listen(server, 1), 0);
	snprintf(source, sizeof(source), "unix:%s", file("sock"));
	struct nod_current_input *input = nod_current_input_new(loop, source, take, NULL, &err);
	assert_non_null(input);
	fd = accept(server, NULL, NULL);
	assert_int_equal(write(fd, "1.5\n", 4), 4);
	turn(loop);
	assert_int_equal(sample_count, 1);
	assert_int_equal(samples[0], 1500000);
	close(fd);
	turn(loop); /* it ends; opened again by the timer */
	nod_current_input_free(input);
	close(server);
	unlink(file("sock"));
	ev_loop_destroy(loop);
}

static void takes_a_port(void **state)
{
	struct ev_loop *loop = ev_loop_new(EVBACKEND_EPOLL);
	struct sockaddr_in address = {.sin_family = AF_INET,
				      .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t length = sizeof(address);
	struct nod_error err = {""};
	char source[40];
	int server = socket(AF_INET, SOCK_STREAM, 0), fd;

	(void)state;
	sample_count = 0;
	assert_int_equal(bind(server, (struct sockaddr *)&address, length), 0); /* any port */
	assert_int_equal(getsockname(server, (struct sockaddr *)&address, &length), 0);
	assert_int_equal(listen(server, 1), 0);
	snprintf(source, sizeof(source), "tcp:127.0.0.1:%d", ntohs(address.sin_port));
	struct nod_current_input *input = nod_current_input_new(loop, source, take, NULL, &err);
	assert_string_equal(err.text, "");
	assert_non_null(input);
	fd = accept(server, NULL, NULL);
	assert_int_equal(write(fd, "1.5\n", 4), 4);
	turn(loop);
	assert_int_equal(sample_count, 1);
	assert_int_equal(samples[0], 1500000);
	nod_current_input_free(input);
	close(fd);
	close(server);
	ev_loop_destroy(loop);
}

static void says_what_cannot_be_opened(void **state)
{
	struct ev_loop *loop = ev_loop_new(EVBACKEND_EPOLL);
	static const char *const sources[] = {
		"/nowhere/at/all",          "tcp:nowhere",   "tcp:name:80", "unix:/nowhere",
		"/sys/nowhere/curr1_input", "/dev/null@9600"};
	struct nod_error err;

	(void)state;
	for (size_t i = 0; i < sizeof(sources) / sizeof(sources[0]); i++) {
		assert_null(nod_current_input_new(loop, sources[i], take, NULL, &err));
		assert_non_null(strstr(err.text, sources[i]));
	}
	ev_loop_destroy(loop);
}

/* Documentation/hwmon/sysfs-interface and ABI/testing/sysfs-bus-iio */
static void reads_drivers(void **state)
{
	struct nod_sysfs_channel *channel;
	int64_t microamps;

	(void)state;
	put("curr1_input", "431\n");
	channel = nod_sysfs_channel_new(file("curr1_input"));
	assert_int_equal(nod_sysfs_channel_read(channel, &microamps), 0);
	assert_int_equal(microamps, 431000);
	put("curr1_input", "-12\n");
	assert_int_equal(nod_sysfs_channel_read(channel, &microamps), 0);
	assert_int_equal(microamps, -12000);
	put("curr1_input", "987654321"); /* a line has no end in some */
	put("curr2_input", "12");
	struct nod_sysfs_channel *other = nod_sysfs_channel_new(file("curr2_input"));
	assert_int_equal(nod_sysfs_channel_read(channel, &microamps), 0);
	assert_int_equal(nod_sysfs_channel_read(other, &microamps), 0);
	assert_int_equal(microamps, 12000);
	nod_sysfs_channel_free(other);
	unlink(file("curr2_input"));
	put("curr1_input", "none\n");
	assert_int_equal(nod_sysfs_channel_read(channel, &microamps), -EINVAL);
	nod_sysfs_channel_free(channel);

	put("in_current3_raw", "100\n");
	put("in_current3_offset", "-20\n");
	put("in_current_scale", "0.5\n"); /* shared by all channels of the kind */
	channel = nod_sysfs_channel_new(file("in_current3_raw"));
	assert_int_equal(nod_sysfs_channel_read(channel, &microamps), 0);
	assert_int_equal(microamps, 40000);
	put("in_current3_raw", "1e308\n"); /* no driver's; infinite, times 0 it is no number */
	put("in_current_scale", "0\n");
	put("in_current3_offset", "1e308\n");
	nod_sysfs_channel_free(channel);
	assert_null(nod_sysfs_channel_new(file("in_current3_raw")));
	assert_int_equal(errno, ERANGE);
	unlink(file("curr1_input"));
	unlink(file("in_current3_raw"));
	unlink(file("in_current3_offset"));
	unlink(file("in_current_scale"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(takes_lines_however_they_are_cut),
		cmocka_unit_test(takes_a_socket),
		cmocka_unit_test(takes_a_port),
		cmocka_unit_test(says_what_cannot_be_opened),
		cmocka_unit_test(reads_drivers),
	};
	int failed;

	if (!mkdtemp(directory))
		return 1;
	failed = cmocka_run_group_tests(tests, NULL, NULL);
	rmdir(directory);
	return failed;
}
