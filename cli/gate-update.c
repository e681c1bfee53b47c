/* SPDX-License-Identifier: MIT */
/* One expectation brought up to date: shown first, written when wanted. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "command.h"
#include "gate-judge.h"
#include "option.h"
#include "output.h"
#include "text-stream.h"

struct update {
	struct nod_gate_session session;
	struct nod_expectation *old; /* NULL: there is none yet */
	struct nod_judged judged;
	struct nod_differences *differences;
	char *text; /* of the new expectation */
	size_t size;
};

static int load(struct update *u)
{
	struct nod_error err = {""};

	u->old = nod_expectation_load(u->session.expectation, &err);
	if (!u->old && errno != ENOENT)
		return nod_unreadable("%s", err.text);
	int code = nod_gate_analyse(&u->session, u->old, &u->judged);
	if (code || !u->old)
		return code;
	u->differences = nod_expectation_compare(u->old, u->judged.findings);
	return u->differences ? NOD_EXIT_OK : nod_unreadable("out of memory");
}

static int make_text(struct update *u)
{
	struct nod_error err = {""};
	struct nod_text_stream stream;
	int result;

	if (nod_text_stream_open(&stream))
		return nod_unreadable("out of memory");
	FILE *out = stream.out;
	result = u->old ? nod_expectation_revise(out, u->session.expectation, u->differences, &err)
			: nod_expectation_draft(out, u->judged.findings);
	int closed = nod_text_stream_close(&stream);
	u->text = stream.text;
	u->size = stream.size;
	if (closed || result)
		return nod_unreadable("%s", *err.text ? err.text : "out of memory");
	return NOD_EXIT_OK;
}

static void show_lines(char sign, const char *text)
{
	while (*text) {
		int length = (int)strcspn(text, "\n");
		printf("%c %.*s\n", sign, length, text);
		text += length + (text[length] == '\n');
	}
}

/* Walks both texts: a line of the old one stays, or goes and makes room for
 * those that stand before the next one that stayed. */
static void show_diff(const char *old, const char *new)
{
	while (*old) {
		int length = (int)strcspn(old, "\n");
		const char *same = new;
		while (*same &&
		       ((int)strcspn(same, "\n") != length || strncmp(same, old, (size_t)length)))
			same += strcspn(same, "\n") + 1;
		if (!*same) {
			printf("- %.*s\n", length, old);
		} else {
			while (new < same) {
				int added = (int)strcspn(new, "\n");
				printf("+ %.*s\n", added, new);
				new += added + 1;
			}
			printf("  %.*s\n", length, old);
			new += length + 1;
		}
		old += length + (old[length] == '\n');
	}
	show_lines('+', new);
}

/* "" when there is none yet; NULL with errno when it cannot be read. */
static char *read_text(const char *path)
{
	FILE *file = fopen(path, "r");
	char *text = NULL;
	size_t size;

	if (!file)
		return errno == ENOENT ? strdup("") : NULL;
	errno = 0;
	if (getdelim(&text, &size, '\0', file) < 0) { /* nothing in it, or an error */
		free(text);
		text = errno || ferror(file) ? NULL : strdup("");
	}
	int code = errno;
	fclose(file);
	errno = code;
	return text;
}

static bool ask(void)
{
	char answer[16];

	if (!isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO))
		return false;
	printf("Write it? [y/N] ");
	fflush(stdout);
	return fgets(answer, sizeof(answer), stdin) && (*answer == 'y' || *answer == 'Y');
}

static int settle(struct update *u, bool yes)
{
	char *old = read_text(u->session.expectation);

	if (!old)
		return nod_unreadable("%s: %s", u->session.expectation, strerror(errno));
	bool same = !strcmp(old, u->text);
	printf("%s:\n", u->session.expectation);
	if (!same)
		show_diff(old, u->text);
	free(old);
	if (same) {
		printf("It is as expected; nothing to write.\n");
		return NOD_EXIT_OK;
	}
	if (!yes && !ask()) {
		printf("Nothing was written; with --yes it is.\n");
		return NOD_EXIT_FAILED;
	}
	int code = nod_output_write(u->session.expectation, u->text, u->size, true);
	if (!code)
		printf("Written.\n");
	return code;
}

int nod_gate_update(const char *path, bool yes)
{
	struct update u = {.old = NULL};
	int code = nod_gate_find_one(&u.session, path);

	if (!code)
		code = load(&u);
	if (!code)
		code = make_text(&u);
	if (!code)
		code = settle(&u, yes);
	if (code != NOD_EXIT_UNREADABLE && nod_option_finish())
		code = NOD_EXIT_UNREADABLE; /* what it is about was not seen */
	free(u.text);
	nod_differences_free(u.differences);
	nod_judged_close(&u.judged);
	nod_expectation_free(u.old);
	nod_gate_session_free(&u.session);
	return code;
}
