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
#include "live-events.h"
#include "live-screen.h"
#include "option.h"

int nod_cmd_live(int argc, char **argv);

static const char help[] =
	"usage: nodoff live [OPTION ...]\n"
	"\n"
	"Shows what nodoffd hears: which networks are awake or asleep and since when,\n"
	"the time left to each settle deadline, the load, the current, who is suspected,\n"
	"the last wake-up, what is out of the car, and what to do next. Keys put entries\n"
	"into the journal; ? shows them.\n"
	"\n"
	"  --plain            an event a line, as it happens, and none is left out: for\n"
	"                     pipes and logs; also used when the output is no terminal\n"
	"  -j, --json         the same as an object a line: time_ns, what, about, text\n"
	"  --look LOOK        dark or light [the terminal's own]; key k changes it\n"
	"  --bell             rings when a network sleeps, wakes, or its deadline passes;\n"
	"                     key b changes it\n"
	NOD_CLIENT_HELP;

/* Keys, what they enter, and what has to be typed after them. */
static const struct {
	int key;
	enum nod_mark_kind kind;
	const char *label, *prompt; /* prompt NULL: nothing to type */
	const char *ends; /* it ends or begins the watch: asked once; NULL: it does not */
} keys[] = {
	{'l', NOD_MARK_LOCKED, "locked", NULL, "all deadlines begin anew"},
	{'u', NOD_MARK_UNLOCKED, "unlocked", NULL, "this watch is over"},
	{'d', NOD_MARK_DOOR, "door", NULL, NULL},
	{'i', NOD_MARK_ISOLATED, "isolated", "isolated (fuse or module)", NULL},
	{'r', NOD_MARK_REFITTED, "refitted", "refitted (fuse or module)", NULL},
	{'t', NOD_MARK_TOUCHED, "touch", "touched (switch, latch, lid)", NULL},
	{'m', NOD_MARK_READING, "meter", "reading (F12 2.3 mV)", NULL},
	{'n', NOD_MARK_NOTE, "note", "note", NULL},
};
#define KEY_COUNT (sizeof(keys) / sizeof(keys[0]))

static const char *const key_help[] = {
	"Keys",
	"",
	"  l  locked          the car was locked: all deadlines begin anew (asked once)",
	"  u  unlocked        this watch is over (asked once)",
	"  d  door            a door, lid or bonnet was opened or closed",
	"  i  isolated ...    a fuse or module was pulled; an empty line: nothing",
	"  r  refitted ...    it was put back",
	"  t  touched ...     a handle, latch or switch was worked",
	"  m  reading ...     a meter reading: F12 2.3 mV",
	"  n  note ...        anything worth remembering",
	"  z  takes the last entry back, again: the one before it",
	"",
	"  y o x  answer a question: yes, another, nothing was done",
	"  k  the look: the terminal's own, dark, light      b  the bell, on or off",
	"  q  ends the view; the recording goes on           ?  back",
};
#define KEY_HELP_LINES (int)(sizeof(key_help) / sizeof(key_help[0]))

#define TYPED_MAX 200 /* bytes; chosen: two lines of a screen */
#define ESCAPE 27

enum look { LOOK_OWN, LOOK_DARK, LOOK_LIGHT, LOOKS };

struct live {
	struct nod_client *client;
	json_t *view;
	struct nod_live_screen screen;
	const char *prompt; /* NULL: keys act at once */
	enum nod_mark_kind kind;
	long long time_ns; /* of the entry, INT64_MIN: now */
	char typed[TYPED_MAX];
	char said[256]; /* about the last entry */
	int asked; /* the key that is to be pressed again, 0: none */
	bool quit, helping, bell;
	enum look look;
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
	printw("q:quit ?");
}

/* Dark: for the night, grey on black. Light: for the sun, black on white. */
static void wear(enum look look)
{
	static const short colours[LOOKS][2] = {
		[LOOK_OWN] = {-1, -1}, [LOOK_DARK] = {COLOR_WHITE, COLOR_BLACK},
		[LOOK_LIGHT] = {COLOR_BLACK, COLOR_WHITE}};

	if (has_colors())
		assume_default_colors(colours[look][0], colours[look][1]);
	clear();
}

static void draw_help(void)
{
	erase();
	for (int i = 0; i < KEY_HELP_LINES && i < LINES; i++)
		mvaddnstr(i, 0, key_help[i], COLS);
	curs_set(0);
	refresh();
}

static attr_t attribute(enum nod_live_emphasis emphasis)
{
	return emphasis == NOD_LIVE_ALARM ? A_REVERSE : emphasis == NOD_LIVE_STRONG ? A_BOLD : A_NORMAL;
}

static void draw(struct live *live)
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
	mvaddnstr(LINES - 2, 0, live->said, -1);
	draw_keys(live);
	curs_set(live->prompt ? 1 : 0);
	refresh();
}

/* ---- keys ---- */

static void send_mark(struct live *live)
{
	struct nod_error err = {"out of memory"};
	const char *name = nod_mark_kind_name(live->kind);
	struct nod_mark mark = {{0}, live->kind, live->typed};
	json_t *request = NULL, *answer = NULL;

	if (!nod_mark_check(&mark, &err))
		request = json_pack("{s:s, s:s}", "kind", name, "subject", live->typed);
	if (request && live->time_ns != INT64_MIN)
		json_object_set_new(request, "time_ns", json_integer(live->time_ns));
	if (request)
		answer = nod_client_request(live->client, "mark", request, &err);
	if (answer)
		snprintf(live->said, sizeof(live->said), "in the journal: %s %s", name, live->typed);
	else
		snprintf(live->said, sizeof(live->said), "NOT in the journal: %.200s", err.text);
	json_decref(answer);
	live->prompt = NULL;
	live->typed[0] = 0;
	live->time_ns = INT64_MIN;
}

static void undo(struct live *live)
{
	struct nod_error err = {"out of memory"};
	json_t *answer = nod_client_request(live->client, "undo", json_object(), &err);
	const json_t *undone = json_object_get(answer, "undone");

	if (answer)
		snprintf(live->said, sizeof(live->said), "taken back: %s %.200s",
			 nod_client_text(undone, "kind"), nod_client_text(undone, "subject"));
	else
		snprintf(live->said, sizeof(live->said), "%.200s", err.text);
	json_decref(answer);
}

/* y, o and x answer the first question, if there is one. */
static bool answer_question(struct live *live, int key)
{
	const json_t *question = json_array_get(json_object_get(live->view, "questions"), 0);

	if (!question || !strchr("yox", key))
		return false;
	live->time_ns = nod_client_integer(question, "time_ns");
	live->kind = NOD_MARK_NOTHING;
	if (key != 'x')
		nod_mark_kind_parse(&live->kind, nod_client_text(question, "kind"));
	snprintf(live->typed, sizeof(live->typed), "%s",
		 key == 'y' ? nod_client_text(question, "subject") : "");
	if (key == 'o')
		live->prompt = "which fuse or module";
	else
		send_mark(live);
	return true;
}

static void take_typed(struct live *live, int key)
{
	size_t length = strlen(live->typed);

	if (key == ESCAPE) {
		live->prompt = NULL;
		live->time_ns = INT64_MIN;
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

/* A key that ends a watch counts when it is pressed twice. */
static bool is_meant(struct live *live, size_t i)
{
	bool again = live->asked == keys[i].key;

	live->asked = keys[i].ends && !again ? keys[i].key : 0;
	if (!live->asked)
		return true;
	snprintf(live->said, sizeof(live->said), "%s: %s; press %c again", keys[i].label, keys[i].ends,
		 keys[i].key);
	return false;
}

static void take_entry_key(struct live *live, int key)
{
	for (size_t i = 0; i < KEY_COUNT; i++) {
		if (keys[i].key != key || !is_meant(live, i))
			continue;
		live->kind = keys[i].kind;
		live->typed[0] = live->said[0] = 0;
		live->prompt = keys[i].prompt;
		if (!live->prompt)
			send_mark(live);
		return;
	}
}

static void take_key(struct live *live, int key)
{
	if (live->prompt) {
		take_typed(live, key);
		return;
	}
	if (key != live->asked)
		live->asked = 0;
	if (live->helping || key == '?') {
		live->helping = !live->helping;
		return;
	}
	switch (key) {
	case 'q': live->quit = true; break;
	case 'z': undo(live); break;
	case 'k': wear(live->look = (live->look + 1) % LOOKS); break;
	case 'b':
		live->bell = !live->bell;
		snprintf(live->said, sizeof(live->said), "the bell is %s", live->bell ? "on" : "off");
		break;
	default:
		if (key >= 128 || key <= ' ' || !answer_question(live, key))
			take_entry_key(live, key);
	}
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
			    (deadline != INT64_MIN && nod_client_integer(old, "now_ns") < deadline &&
			     nod_client_integer(view, "now_ns") >= deadline))
				return true;
		}
	return false;
}

/* Takes the newest of the events that are there. Negative: broken. */
static int take_events(struct live *live, int milliseconds, struct nod_error *err)
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
	if (has_colors()) {
		start_color();
		use_default_colors();
	}
	if (live->look != LOOK_OWN)
		wear(live->look);
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

static int run_plain(struct live *live, bool as_json, struct nod_error *err)
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

static int run(struct live *live, const char *socket, bool plain, bool as_json)
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

static int parse_look(enum look *look, const char *word)
{
	if (word && strcmp(word, "dark") && strcmp(word, "light"))
		return nod_usage("live", "--look: `%s` is not dark or light", word);
	*look = !word ? LOOK_OWN : !strcmp(word, "dark") ? LOOK_DARK : LOOK_LIGHT;
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
	static struct live live; /* too large for the stack */
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
