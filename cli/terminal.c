/* SPDX-License-Identifier: MIT */
#include "terminal.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command.h"
#include "settings.h"

static bool can_do_more_than_text(void)
{
	const char *term = getenv("TERM");

	return isatty(STDOUT_FILENO) && term && *term && strcmp(term, "dumb");
}

bool nod_terminal_has_colour(void)
{
	const char *no = getenv("NO_COLOR");

	const char *set = nod_setting(NOD_SETTING_COLOUR);

	if (set && !strcmp(set, "always"))
		return true;
	return can_do_more_than_text() && (!no || !*no) && (!set || strcmp(set, "never"));
}

int nod_terminal_take_colour(void *self, const struct nod_given *given)
{
	bool *colour = (bool *)self + given->option->offset;
	const char *when = given->value;

	if (strcmp(when, "always") && strcmp(when, "never") && strcmp(when, "auto"))
		return nod_given_wrong(given, "always, never or auto");
	*colour = !strcmp(when, "auto") ? nod_terminal_has_colour() : !strcmp(when, "always");
	return NOD_EXIT_OK;
}

/* ---- the pager ---- */

static pid_t pager; /* 0: none */

static void wait_for_pager(void)
{
	signal(SIGINT, SIG_IGN); /* Ctrl-C is the pager's */
	fclose(stdout);
	close(STDOUT_FILENO);
	waitpid(pager, NULL, 0);
}

/* Who leaves the pager early has seen enough: that is the end, and no fault. */
static void pager_has_left(int signal_number)
{
	(void)signal_number;
	waitpid(pager, NULL, 0);
	_exit(NOD_EXIT_OK);
}

static const char *pager_command(void)
{
	const char *choices[] = {getenv("NODOFF_PAGER"), nod_setting(NOD_SETTING_PAGER),
				 getenv("PAGER")};

	for (size_t i = 0; i < 3; i++)
		if (choices[i])
			return strcmp(choices[i], "cat") ? choices[i] : "";
	return "if command -v less >/dev/null; then exec less; else exec cat; fi";
}

static void become_pager(int in, const char *command)
{
	dup2(in, STDIN_FILENO);
	setenv("LESS", "FRX", 0); /* leave what fits the screen, keep colours and the screen */
	execl("/bin/sh", "sh", "-c", command, (char *)NULL);
	_exit(127);
}

void nod_terminal_page(void)
{
	const char *command = pager_command();
	int ends[2];

	if (pager || !*command || !can_do_more_than_text() || fflush(stdout) || pipe(ends))
		return;
	pager = fork();
	if (!pager) {
		close(ends[1]);
		become_pager(ends[0], command);
	}
	close(ends[0]);
	if (pager > 0) {
		dup2(ends[1], STDOUT_FILENO);
		setenv("COLUMNS", "80", 0); /* a terminal still, if behind a pipe */
		signal(SIGPIPE, pager_has_left);
		atexit(wait_for_pager);
	}
	close(ends[1]);
}

/* ---- Ctrl-C ---- */

static volatile sig_atomic_t interrupted;

/* What is in a pipe by now still counts; then comes its end, since nobody waits any more. */
static void note_interrupt(int signal_number)
{
	struct stat info;

	(void)signal_number;
	interrupted = 1;
	if (!fstat(STDIN_FILENO, &info) && S_ISFIFO(info.st_mode))
		fcntl(STDIN_FILENO, F_SETFL, O_NONBLOCK);
}

void nod_terminal_catch_interrupt(void)
{
	struct sigaction action = {.sa_handler = note_interrupt, .sa_flags = (int)SA_RESETHAND};

	interrupted = 0;
	sigemptyset(&action.sa_mask);
	sigaction(SIGINT, &action, NULL);
}

bool nod_terminal_is_interrupted(void)
{
	return interrupted;
}

void nod_terminal_let_go(void)
{
	signal(SIGINT, SIG_DFL);
}
