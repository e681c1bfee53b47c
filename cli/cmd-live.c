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
#include "journal.h"
#include "live-screen.h"
#include "option.h"

int nod_cmd_live(int argc, char **argv);

static const char help[] =
	"usage: nodoff live [--plain] [--socket PATH]\n"
	"\n"
	"Shows what nodoffd hears: which networks are awake or asleep and since when,\n"
	"the time left to each settle deadline, the load, the current, who is suspected,\n"
	"the last wake-up, and what to do next. Keys put entries into the journal.\n"
	"\n"
	"  --plain            a line for each change, for pipes and logs; also used when\n"
	"                     the output is no terminal\n"
	NOD_CLIENT_HELP;

/* Keys, what they enter, and what has to be typed after them. */
static const struct {
	int key;
	enum nod_mark_kind kind;
	const char *label, *prompt; /* prompt NULL: nothing to type */
} keys[] = {
	{'l', NOD_MARK_LOCKED, "locked", NULL},
	{'u', NOD_MARK_UNLOCKED, "unlocked", NULL},
	{'d', NOD_MARK_DOOR, "door", NULL},
	{'i', NOD_MARK_ISOLATED, "isolated", "isolated (fuse or module)"},
	{'r', NOD_MARK_REFITTED, "refitted", "refitted (fuse or module)"},
	{'t', NOD_MARK_TOUCHED, "touch", "touched (switch, latch, lid)"},
	{'m', NOD_MARK_READING, "meter", "reading (F12 2.3 mV)"},
	{'n', NOD_MARK_NOTE, "note", "note"},
};
#define KEY_COUNT (sizeof(keys) / sizeof(keys[0]))

#define TYPED_MAX 200 /* bytes; chosen: two lines of a screen */
#define ESCAPE 27

struct live {
	struct nod_client *client;
	json_t *view;
	struct nod_live_screen screen;
	const char *prompt; /* NULL: keys act at once */
	enum nod_mark_kind kind;
	char typed[TYPED_MAX];
	char said[256]; /* about the last entry */
	bool quit;
};

/* ---- drawing ---- */

static void draw_keys(const struct live *live)
{
	move(LINES - 1, 0);
	if (live->prompt) {
		printw("%s: %s", live->prompt, live->typed);
		return;
	}
	for (size_t i = 0; i < KEY_COUNT; i++)
		printw("%c:%s ", keys[i].key, keys[i].label);
	printw("q:quit");
}

static attr_t attribute(enum nod_live_emphasis emphasis)
{
	return emphasis == NOD_LIVE_ALARM ? A_REVERSE : emphasis == NOD_LIVE_STRONG ? A_BOLD : A_NORMAL;
}

static void draw(struct live *live)
{
	nod_live_screen_render(&live->screen, live->view, COLS, LINES);
	erase();
	for (int i = 0; i < live->screen.count && i < LINES - 2; i++) {
		attrset((int)attribute(live->screen.emphasis[i]));
		mvaddnstr(i, 0, live->screen.lines[i], -1);
	}
	attrset(A_NORMAL);
	mvaddnstr(LINES - 2, 0, live->said, -1);
	draw_keys(live);
	curs_set(live->prompt ? 1 : 0);
	refresh();
}

/* ---- keys ---- */

static void send_mark(struct live *live)
{
	struct nod_error err;
	const char *name = nod_mark_kind_name(live->kind);
	json_t *answer = nod_client_request(live->client, "mark",
					    json_pack("{s:s, s:s}", "kind", name, "subject",
						      live->typed), &err);

	if (answer)
		snprintf(live->said, sizeof(live->said), "in the journal: %s %s", name, live->typed);
	else
		snprintf(live->said, sizeof(live->said), "NOT in the journal: %.200s", err.text);
	json_decref(answer);
	live->prompt = NULL;
	live->typed[0] = 0;
}

static void take_typed(struct live *live, int key)
{
	size_t length = strlen(live->typed);

	if (key == ESCAPE) {
		live->prompt = NULL;
	} else if (key == '\n' || key == '\r' || key == KEY_ENTER) {
		if (length)
			send_mark(live);
		else
			live->prompt = NULL;
	} else if (key == KEY_BACKSPACE || key == 127 || key == '\b') {
		while (length && ((unsigned char)live->typed[--length] & 0xC0) == 0x80)
			continue; /* the rest of a UTF-8 character */
		live->typed[length] = 0;
	} else if (key >= ' ' && key < 256 && length + 1 < sizeof(live->typed)) {
		live->typed[length] = (char)key;
		live->typed[length + 1] = 0;
	}
}

static void take_key(struct live *live, int key)
{
	if (live->prompt) {
		take_typed(live, key);
		return;
	}
	if (key == 'q')
		live->quit = true;
	for (size_t i = 0; i < KEY_COUNT; i++) {
		if (keys[i].key != key)
			continue;
		live->kind = keys[i].kind;
		live->typed[0] = live->said[0] = 0;
		live->prompt = keys[i].prompt;
		if (!live->prompt)
			send_mark(live);
	}
}

/* ---- the two modes ---- */

/* Takes the newest of the events that are there. Negative: broken. */
static int take_events(struct live *live, int milliseconds, struct nod_error *err)
{
	json_t *view;
	int status;

	while ((status = nod_client_event(live->client, milliseconds, &view, err)) > 0) {
		json_decref(live->view);
		live->view = view;
		milliseconds = 0;
	}
	return status;
}

static int run_screen(struct live *live, struct nod_error *err)
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
	set_escdelay(50); /* ms; chosen: over ssh the bytes of one key come together */
	while (!live->quit && status >= 0) {
		draw(live);
		poll(waiting, 2, 1000); /* a change of the size interrupts it */
		while (!live->quit && (key = getch()) != ERR)
			take_key(live, key);
		if (waiting[0].revents & (POLLHUP | POLLERR))
			live->quit = true; /* the terminal is gone */
		status = take_events(live, 0, err);
	}
	endwin();
	nod_door_open();
	return status;
}

static int run_plain(struct live *live, struct nod_error *err)
{
	json_t *old = NULL;
	int status = 0;

	while (status >= 0) {
		nod_live_screen_changes(&live->screen, old, live->view);
		for (int i = 0; i < live->screen.count; i++)
			puts(live->screen.lines[i]);
		if (fflush(stdout) || ferror(stdout))
			break;
		json_decref(old);
		old = json_incref(live->view);
		status = take_events(live, -1, err);
	}
	json_decref(old);
	return status;
}

static int run(const char *socket, bool plain)
{
	static struct live live; /* too large for the stack */
	struct nod_error err;
	int status;

	memset(&live, 0, sizeof(live));
	live.client = nod_client_open(socket, &err);
	if (live.client)
		live.view = nod_client_request(live.client, "watch", json_object(), &err);
	if (!live.view) {
		nod_client_close(live.client);
		return nod_unreadable("%s", err.text);
	}
	status = plain ? run_plain(&live, &err) : run_screen(&live, &err);
	json_decref(live.view);
	nod_client_close(live.client);
	return status < 0 ? nod_unreadable("%s", err.text) : nod_option_finish();
}

struct arguments {
	const char *socket;
	bool plain;
};

int nod_cmd_live(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_FLAG(0, "plain", struct arguments, plain),
		NOD_TEXT(0, "socket", struct arguments, socket),
		{0}};
	static const struct nod_options options = {.command = "live", .help = help, .list = list};
	struct arguments a = {.plain = !isatty(STDOUT_FILENO) || !isatty(STDIN_FILENO)};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first < argc)
		return nod_usage("live", "`%s` is not expected", argv[first]);
	if (!a.plain)
		setlocale(LC_ALL, ""); /* for curses */
	return run(a.socket, a.plain);
}
