/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "options.h"

/* Splits a command line at blanks; getopt wants to change it. */
static int parse(struct nod_options *options, const char *line, struct nod_error *err)
{
	static char copy[1024];
	char *argv[128];
	int argc = 0;

	strcpy(copy, line);
	for (char *word = strtok(copy, " "); word; word = strtok(NULL, " "))
		argv[argc++] = word;
	argv[argc] = NULL;
	return nod_options_parse(options, argc, argv, err);
}

static void takes_what_is_documented(void **state)
{
	struct nod_options o;
	struct nod_error err;

	(void)state;
	setenv("XDG_RUNTIME_DIR", "/run/user/7", 1);
	setenv("XDG_DATA_HOME", "/data", 1);
	assert_int_equal(parse(&o, "nodoffd", &err), 0);
	assert_true(o.record);
	/* root's are the service's, anybody else's their own */
	assert_string_equal(o.socket,
			    geteuid() ? "/run/user/7/nodoff/nodoff.sock" : NOD_SERVICE_SOCKET);
	assert_string_equal(o.sessions, geteuid() ? "/data/nodoff/sessions" : NOD_SERVICE_SESSIONS);
	assert_int_equal(parse(&o,
			       "nodoffd -v car.yaml -i can0=125000 --interface can1 -s s -g cars "
			       "-u recorder -d dir -c - --no-record",
			       &err),
			 0);
	assert_string_equal(o.vehicle, "car.yaml");
	assert_int_equal(o.interface_count, 2);
	assert_string_equal(o.interfaces[0].name, "can0");
	assert_int_equal(o.interfaces[0].bitrate, 125000);
	assert_int_equal(o.interfaces[1].bitrate, 0);
	assert_string_equal(o.group, "cars");
	assert_string_equal(o.user, "recorder");
	assert_string_equal(o.current, "-");
	assert_false(o.record);
}

static void refuses_the_rest(void **state)
{
	/* clang-format off */
	static const char *const lines[] = {
		"nodoffd can0",			 "nodoffd -i",
		"nodoffd -i can0=",		 "nodoffd -i can0=fast",
		"nodoffd -i can0=4999",		 "nodoffd -i can0=1000001",
		"nodoffd -i can0 -i can0",	 "nodoffd -i =500000",
		"nodoffd -i a-name-that-is-long", "nodoffd --unknown",
	};
	/* clang-format on */
	struct nod_options o;

	(void)state;
	for (size_t i = 0; i < sizeof(lines) / sizeof(lines[0]); i++) {
		struct nod_error err = {""};
		if (parse(&o, lines[i], &err) != -EINVAL || !err.text[0])
			fail_msg("`%s` is taken", lines[i]);
	}
}

static void bounds_the_number_of_interfaces(void **state)
{
	char line[1024] = "nodoffd";
	struct nod_options o;
	struct nod_error err;

	(void)state;
	for (int i = 0; i < NOD_TAPS_MAX; i++)
		sprintf(line + strlen(line), " -i can%d", i);
	assert_int_equal(parse(&o, line, &err), 0);
	strcat(line, " -i one-more");
	assert_int_equal(parse(&o, line, &err), -EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(takes_what_is_documented),
		cmocka_unit_test(refuses_the_rest),
		cmocka_unit_test(bounds_the_number_of_interfaces),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
