/* SPDX-License-Identifier: MIT */
#include "command.h"
#include "door.h"
#include "nearest-word.h"
#include "settings.h"
#include "terminal.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

int nod_cmd_analyse(int argc, char **argv);
int nod_cmd_frames(int argc, char **argv);
int nod_cmd_battery(int argc, char **argv);
int nod_cmd_compare(int argc, char **argv);
int nod_cmd_current(int argc, char **argv);
int nod_cmd_fuses(int argc, char **argv);
int nod_cmd_bitrate(int argc, char **argv);
int nod_cmd_live(int argc, char **argv);
int nod_cmd_gate(int argc, char **argv);
int nod_cmd_mark(int argc, char **argv);
int nod_cmd_page(int argc, char **argv);
int nod_cmd_pins(int argc, char **argv);
int nod_cmd_session(int argc, char **argv);
int nod_cmd_record(int argc, char **argv);
int nod_cmd_vehicle(int argc, char **argv);
int nod_cmd_report(int argc, char **argv);
int nod_cmd_timeline(int argc, char **argv);
int nod_cmd_wait(int argc, char **argv);
int nod_cmd_history(int argc, char **argv);
int nod_cmd_wakeups(int argc, char **argv);

/* The commands, in the order in which the work uses them. */
/* clang-format off */
static const struct nod_command commands[] = {
	{"analyse", "who keeps the car awake, why, and what to isolate next", nod_cmd_analyse, false},
	{"record", "starts, stops and lists the recordings of nodoffd", nod_cmd_record, false},
	{"live", "what nodoffd hears right now, on one screen", nod_cmd_live, false},
	{"mark", "a mark of now in the journal: locked, door, isolated F12, ...", nod_cmd_mark, false},
	{"page", "the same on a phone, with buttons for the journal", nod_cmd_page, false},
	{"wait", "returns when a network sleeps, wakes or its deadline passes", nod_cmd_wait, false},
	{"vehicle", "checks a vehicle file, or drafts one from a recording", nod_cmd_vehicle, true},
	{"timeline", "what happened when, as a picture in text", nod_cmd_timeline, false},
	{"wakeups", "lists the wake-ups of a recording, all or those asked for", nod_cmd_wakeups, false},
	{"history", "when an ID or a module was heard, and what it changed", nod_cmd_history, false},
	{"report", "what a session shows, as one HTML page", nod_cmd_report, false},
	{"compare", "before and after a repair: fixed, better, no change, worse", nod_cmd_compare, false},
	{"session", "makes, shows, marks and cuts sessions on disk", nod_cmd_session, true},
	{"bitrate", "finds the bitrate of a network by listening only", nod_cmd_bitrate, false},
	{"frames", "prints the frames of captures as a candump log", nod_cmd_frames, false},
	{"current", "what the battery current shows; takes a logger's file in", nod_cmd_current, true},
	{"fuses", "millivolts across fuses: which carry current, and what they share", nod_cmd_fuses, false},
	{"pins", "what a multimeter reads at the pins of a network", nod_cmd_pins, false},
	{"battery", "how charged it is, and how many days it still starts", nod_cmd_battery, false},
	{"gate", "recordings against what nodoff must say of them, for CI", nod_cmd_gate, false},
	{NULL, NULL, NULL, false},
};
/* clang-format on */

int nod_usage(const char *command, const char *format, ...)
{
	va_list args;
	va_start(args, format);
	fprintf(stderr, "nodoff%s%s: ", command ? " " : "", command ? command : "");
	nod_door_vline(stderr, format, args);
	va_end(args);
	fputc('\n', stderr);
	if (command)
		fprintf(stderr, "Try `nodoff %s --help`.\n", command);
	return NOD_EXIT_USAGE;
}

int nod_unreadable(const char *format, ...)
{
	va_list args;
	va_start(args, format);
	fprintf(stderr, "nodoff: ");
	nod_door_vline(stderr, format, args);
	va_end(args);
	fputc('\n', stderr);
	return NOD_EXIT_UNREADABLE;
}

static int print_help(FILE *out)
{
	fprintf(out, "nodoff: finds the module that keeps a parked car awake\n\n"
		     "usage: nodoff COMMAND [ARGUMENT ...]\n\n");
	for (const struct nod_command *c = commands; c->name; c++)
		fprintf(out, "  %-10s %s\n", c->name, c->summary);
	fprintf(out,
		"\n`nodoff COMMAND --help` explains a command. Every command takes --zone, as in\n"
		"--zone Europe/Berlin, for times of day. nodoff only ever listens.\n");
	return NOD_EXIT_OK;
}

static const struct nod_command *find(const char *name)
{
	const struct nod_command *c = commands;

	while (c->name && strcmp(name, c->name))
		c++;
	return c->name ? c : NULL;
}

/* The error is the last thing said: a list of commands would push it off the screen. */
static int unknown(const char *name)
{
	struct nod_nearest nearest = {name, NULL, 0};

	for (const struct nod_command *c = commands; c->name; c++)
		nod_nearest_offer(&nearest, c->name);
	nod_door_line(stderr, "nodoff: there is no command `%.80s`", name);
	if (nearest.best)
		fprintf(stderr, "; did you mean `%s`?", nearest.best);
	fprintf(stderr, "\nTry `nodoff help`.\n");
	return NOD_EXIT_USAGE;
}

/* `nodoff help session cut` is `nodoff session cut --help`. */
static int help_on(char **words)
{
	char help[] = "--help";
	const struct nod_command *command = find(words[0]);
	bool part = command && command->has_parts && words[1];
	char *argv[] = {words[0], part ? words[1] : help, part ? help : NULL, NULL};

	return command ? command->run(part ? 3 : 2, argv) : unknown(words[0]);
}

static int run(int argc, char **argv)
{
	const char *name = argc > 1 ? argv[1] : "";

	if (!strcmp(name, "help") && argc > 2)
		return help_on(argv + 2);
	if (!strcmp(name, "help") || !strcmp(name, "--help") || !strcmp(name, "-h")) {
		nod_terminal_page();
		return print_help(stdout);
	}
	if (!strcmp(name, "--version")) {
		puts("nodoff " NOD_VERSION);
		return NOD_EXIT_OK;
	}
	const struct nod_command *command = find(name);
	if (command)
		return command->run(argc - 1, argv + 1);
	if (argc > 1)
		return unknown(name);
	print_help(stderr);
	return NOD_EXIT_USAGE;
}

int main(int argc, char **argv)
{
	if (nod_door_open())
		return nod_unreadable("out of memory");
	nod_settings_read();
	int status = run(argc, argv);
	nod_settings_free();
	nod_door_close();
	return status;
}
