/* SPDX-License-Identifier: MIT */
#include "mark-words.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "command.h"
#include "when.h"

int nod_mark_of_words(struct nod_mark *mark, char line[NOD_MARK_LINE_MAX], char **words,
		      const char *command)
{
	size_t used = (size_t)snprintf(line, NOD_MARK_LINE_MAX, "(0)");
	struct nod_error err = {"expected a kind of mark"};
	unsigned column;

	for (; *words; words++) {
		size_t length = strlen(*words);
		if (length + 2 > NOD_MARK_LINE_MAX - used)
			return nod_usage(command, "the mark is too long");
		line[used++] = ' ';
		memcpy(line + used, *words, length + 1);
		used += length;
	}
	if (nod_mark_parse(mark, line, &column, &err) <= 0)
		return nod_usage(command, "%s", err.text);
	if (nod_mark_is_persons(mark->kind) && nod_mark_check(mark, &err))
		return nod_usage(command, "%s", err.text);
	return NOD_EXIT_OK;
}

/* How many arguments this option takes with its value; 0: it is a word. */
static int option_length(const char *word, const struct nod_option *list)
{
	if (!strcmp(word, "-h"))
		return 1;
	if (strncmp(word, "--", 2) != 0 || !isalpha((unsigned char)word[2]))
		return 0;
	for (; list->name; list++)
		if (!strcmp(word + 2, list->name))
			return list->kind == NOD_OPTION_FLAG ? 1 : 2;
	return 1; /* with its value behind "=", or unknown */
}

int nod_mark_part_words(int argc, char **argv, const struct nod_option *list)
{
	int front = 1, at = 1;

	while (at < argc) {
		int length = option_length(argv[at], list);
		if (length > argc - at)
			length = argc - at;
		for (int i = 0; i < length; i++, at++, front++) {
			char *word = argv[at];
			memmove(&argv[front + 1], &argv[front],
				(size_t)(at - front) * sizeof(*argv));
			argv[front] = word;
		}
		at += !length;
	}
	return front;
}

void nod_mark_print_kinds(bool all)
{
	for (int kind = 0; kind < NOD_MARK_KINDS; kind++)
		if (all || nod_mark_is_persons((enum nod_mark_kind)kind))
			printf("  %-14s %s\n", nod_mark_kind_name((enum nod_mark_kind)kind),
			       nod_mark_kind_help((enum nod_mark_kind)kind));
}

static nod_time now(void)
{
	struct timespec ts;

	clock_gettime(CLOCK_REALTIME, &ts);
	return (nod_time){ts.tv_sec * NOD_NS_PER_S + ts.tv_nsec};
}

/* "40s", "2 min": a number alone could be meant as minutes. */
static int time_ago(nod_time *time, const char *ago, const char *command)
{
	nod_duration length;

	if (nod_duration_parse(&length, ago) || length.ns < 0 || !strpbrk(ago, "smhd"))
		return nod_usage(command,
				 "--ago: `%s` is no length with its unit; expected one as 40s or "
				 "'2 min'",
				 ago);
	*time = nod_time_after(now(), (nod_duration){-length.ns});
	return NOD_EXIT_OK;
}

static int time_at(nod_time *time, const char *at, const char *command)
{
	struct nod_when_base base = {
		.lock = NOD_TIME_NONE, .start = NOD_TIME_NONE, .end = NOD_TIME_NONE, .now = now()};
	struct nod_error err = {""};

	return nod_when_parse(time, at, &base, &err) ? nod_usage(command, "--at: %s", err.text)
						     : NOD_EXIT_OK;
}

int nod_mark_time_of_options(nod_time *time, const char *ago, const char *at, const char *command)
{
	if (ago && at)
		return nod_usage(command, "either --ago or --at");
	return ago ? time_ago(time, ago, command) : at ? time_at(time, at, command) : NOD_EXIT_OK;
}
