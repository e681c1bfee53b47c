/* SPDX-License-Identifier: MIT */
/* Lines of a journal and of a current log: what is taken is written as a line that
 * is read back as the same. */
#include "current-log.h"
#include "fuzz.h"
#include "journal.h"

static void take_mark(const char *text)
{
	struct nod_error err = {""};
	unsigned column = 0;
	char *copy = fuzz_text(text, strlen(text));
	size_t length = strlen(copy);
	struct nod_mark mark, again;
	char line[NOD_MARK_LINE_MAX];
	int status = nod_mark_parse(&mark, copy, &column, &err);

	if (status < 0)
		FUZZ_CHECK(err.text[0] && column >= 1 && column <= length + 1);
	if (status == 1) {
		FUZZ_CHECK(mark.kind < NOD_MARK_KINDS && nod_time_is_set(mark.time));
		FUZZ_CHECK(mark.subject >= copy && mark.subject <= copy + length);
		int printed = nod_mark_print(line, sizeof(line), &mark);
		FUZZ_CHECK(printed > 0 || length + 40 > sizeof(line));
		if (printed > 0) {
			char *subject = strdup(mark.subject);
			FUZZ_CHECK(subject && line[printed - 1] == '\n');
			for (char *p = subject; *p; p++)
				if ((unsigned char)*p < ' ' || *p == 127)
					*p = ' ';
			line[printed - 1] = '\0';
			FUZZ_CHECK(nod_mark_parse(&again, line, &column, &err) == 1);
			FUZZ_CHECK(again.time.ns == mark.time.ns && again.kind == mark.kind);
			FUZZ_CHECK(strstr(subject, again.subject) || !*again.subject);
			free(subject);
		}
	}
	free(copy);
}

static void take_sample(const char *text)
{
	struct nod_error err = {""};
	unsigned column = 0;
	nod_time time, time_again;
	int64_t ua, ua_again;
	char line[NOD_CURRENT_LINE];
	int status = nod_current_parse(&time, &ua, text, &column, &err);

	if (status < 0)
		FUZZ_CHECK(err.text[0] && column >= 1 && column <= strlen(text) + 1);
	if (status != 1)
		return;
	int length = nod_current_print(line, time, ua);
	FUZZ_CHECK(length > 0 && length < (int)sizeof(line) && line[length - 1] == '\n');
	line[length - 1] = '\0';
	FUZZ_CHECK(nod_current_parse(&time_again, &ua_again, line, &column, &err) == 1);
	FUZZ_CHECK(ua_again == ua && time_again.ns <= time.ns && time.ns - time_again.ns < 1000);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct fuzz_input in = {data, size};

	while (in.left) {
		char *line = fuzz_text_until(&in, '\n');
		take_mark(line);
		take_sample(line);
		free(line);
	}
	return 0;
}
