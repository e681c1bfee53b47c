/* SPDX-License-Identifier: MIT */
/* nodoff live: what nodoffd hears right now, on one screen. */
#include <curses.h>
#include <locale.h>
#include <poll.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "client.h"
#include "command.h"
#include "door.h"
#include "live-events.h"
#include "live-keys.h"
#include "option.h"
#include "plain-text.h"

int nod_cmd_live(int argc, char **argv);

static const char help[] =
	"usage: nodoff live [OPTION ...]\n"
	"\n"
	"Shows what nodoffd hears: which networks are awake or asleep and since when,\n"
	"the time left to each settle deadline, the load, the current, who is suspected,\n"
	"the last wake-up, what is out of the car, and what to do next. Keys put marks\n"
	"into the journal; ? shows them.\n"
	"\n"
	"  --plain            an event a line, as it happens, and none is left out: for\n"
	"                     pipes and logs; also used when the output is no terminal\n"
	"  -j, --json         the same as an object a line: time_ns, what, about, text\n"
	"  --look LOOK        dark or light [the terminal's own]; key k changes it\n"
	"  --bell             rings when a network sleeps, wakes, or its deadline passes;\n"
	"                     key b changes it\n" NOD_CLIENT_HELP;

/* ---- drawing ---- */

static void draw_keys(const struct nod_live_view *live)
{
	char line[NOD_LIVE_LINE_BYTES];

	nod_live_print_keys(line, sizeof(line), live);
	nod_text_make_plain(line, '?');
	mvaddnstr(LINES - 1, 0, line, -1);
}

/* Dark: for the night, grey on black. Light: for the sun, black on white. */
static void wear(enum nod_live_look look)
{
	static const short colours[NOD_LOOKS][2] = {[NOD_LOOK_OWN] = {-1, -1},
						    [NOD_LOOK_DARK] = {COLOR_WHITE, COLOR_BLACK},
						    [NOD_LOOK_LIGHT] = {COLOR_BLACK, COLOR_WHITE}};

	if (has_colors())
		assume_default_colors(colours[look][0], colours[look][1]);
	clear();
}

static void draw_help(void)
{
	erase();
	for (int i = 0; i < nod_live_key_help_lines && i < LINES; i++)
		mvaddnstr(i, 0, nod_live_key_help[i], COLS);
	curs_set(0);
	refresh();
}

static attr_t attribute(enum nod_live_emphasis emphasis)
{
	return emphasis == NOD_LIVE_ALARM    ? A_REVERSE
	       : emphasis == NOD_LIVE_STRONG ? A_BOLD
					     : A_NORMAL;
}

static void draw(struct nod_live_view *live)
{
	if (live->helping) {
		draw_help();
		return;
	}
	nod_live_screen_render(&live->screen, live->view, COLS, LINES);
	erase();
	for (int i = 0; i < live->screen.count && i < LINES - 2; i++) {
		attrset((int)attribute(live->screen.emphasis[i]));
		mvaddnstr(i, 0, live->screen.lines[i], -1);
	}
	attrset(A_NORMAL);
	nod_text_make_plain(live->said, '?'); /* what nodoffd answered is in it */
	mvaddnstr(LINES - 2, 0, live->said, -1);
	draw_keys(live);
	curs_set(live->prompt ? 1 : 0);
	refresh();
}

/* ---- the two modes ---- */

/* True when a network fell asleep, woke up or passed its deadline. */
static bool is_worth_a_bell(const json_t *old, const json_t *view)
{
	size_t i, k;
	const json_t *network, *was;

	json_array_foreach(json_object_get(view, "networks"), i, network)
		json_array_foreach(json_object_get(old, "networks"), k, was) {
			long long deadline = nod_client_integer(network, "deadline_ns");
			if (strcmp(nod_client_text(was, "name"), nod_client_text(network, "name")))
				continue;
			if (strcmp(nod_live_state(was), nod_live_state(network)) ||
			    (deadline != INT64_MIN &&
			     nod_client_integer(old, "now_ns") < deadline &&
			     nod_client_integer(view, "now_ns") >= deadline))
				return true;
		}
	return false;
}

/* Takes the newest of the events that are there. Negative: broken. */
static int take_events(struct nod_live_view *live, int milliseconds, struct nod_error *err)
{
	json_t *view;
	int status;

	while ((status = nod_client_event(live->client, milliseconds, &view, err)) > 0) {
		if (live->bell && is_worth_a_bell(live->view, view))
			beep();
		json_decref(live->view);
		live->view = view;
		milliseconds = 0;
	}
	return status;
}

static int run_screen(struct nod_live_view *live, struct nod_error *err)
{
	struct pollfd waiting[2] = {{STDIN_FILENO, POLLIN, 0},
				    {nod_client_descriptor(live->client), POLLIN, 0}};
	int key, status = 0;

	nod_door_close(); /* curses writes as it wants, and shows control characters as '^[' */
	initscr();
	cbreak();
	noecho();
	keypad(stdscr, TRUE);
	nodelay(stdscr, TRUE);
	if (has_colors()) {
		start_color();
		use_default_colors();
	}
	if (live->look != NOD_LOOK_OWN)
		wear(live->look);
	set_escdelay(50); /* ms; chosen: over ssh the bytes of one key come together */
	while (!live->quit && status >= 0) {
		draw(live);
		poll(waiting, 2, 1000); /* a change of the size interrupts it */
		while (!live->quit && (key = getch()) != ERR)
			nod_live_take_key(live, key);
		if (live->look_changed)
			wear(live->look);
		live->look_changed = false;
		if (waiting[0].revents & (POLLHUP | POLLERR))
			live->quit = true; /* the terminal is gone */
		status = take_events(live, 0, err);
	}
	endwin();
	nod_door_open();
	return status;
}

static int run_plain(struct nod_live_view *live, bool as_json, struct nod_error *err)
{
	json_t *old = NULL;
	int status = 1;

	while (status > 0) { /* one view after the other: nothing that happened is left out */
		nod_live_events_print(stdout, old, live->view, as_json);
		if (fflush(stdout) || ferror(stdout))
			break;
		json_decref(old);
		old = live->view;
		live->view = NULL;
		status = nod_client_event(live->client, -1, &live->view, err);
	}
	json_decref(old);
	return status;
}

static int run(struct nod_live_view *live, const char *socket, bool plain, bool as_json)
{
	struct nod_error err;
	int status;

	live->client = nod_client_open(socket, &err);
	if (live->client)
		live->view = nod_client_request(live->client, "watch", json_object(), &err);
	if (!live->view) {
		nod_client_close(live->client);
		return nod_unreadable("%s", err.text);
	}
	status = plain ? run_plain(live, as_json, &err) : run_screen(live, &err);
	json_decref(live->view);
	nod_client_close(live->client);
	return status < 0 ? nod_unreadable("%s", err.text) : nod_option_finish();
}

struct arguments {
	const char *socket, *look;
	bool plain, json, bell;
};

static int parse_look(enum nod_live_look *look, const char *word)
{
	if (word && strcmp(word, "dark") && strcmp(word, "light"))
		return nod_usage("live", "--look: `%s` is not dark or light", word);
	*look = !word ? NOD_LOOK_OWN : !strcmp(word, "dark") ? NOD_LOOK_DARK : NOD_LOOK_LIGHT;
	return NOD_EXIT_OK;
}

int nod_cmd_live(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_FLAG(0, "plain", struct arguments, plain),
						 NOD_FLAG('j', "json", struct arguments, json),
						 NOD_TEXT(0, "look", struct arguments, look),
						 NOD_FLAG(0, "bell", struct arguments, bell),
						 NOD_TEXT(0, "socket", struct arguments, socket),
						 {0}};
	static const struct nod_options options = {.command = "live", .help = help, .list = list};
	static struct nod_live_view live; /* too large for the stack */
	struct arguments a = {.plain = !isatty(STDOUT_FILENO) || !isatty(STDIN_FILENO)};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first < argc)
		return nod_usage("live", "`%s` is not expected", argv[first]);
	memset(&live, 0, sizeof(live));
	live.time_ns = INT64_MIN;
	live.bell = a.bell;
	status = parse_look(&live.look, a.look);
	if (status)
		return status;
	if (!a.plain && !a.json)
		setlocale(LC_ALL, ""); /* for curses */
	return run(&live, a.socket, a.plain || a.json, a.json);
}
