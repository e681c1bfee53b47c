/* SPDX-License-Identifier: MIT */
#include "live-keys.h"

#include <curses.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "json-build.h"

/* Keys, what they enter, and what has to be typed after them. */
static const struct {
	int key;
	enum nod_mark_kind kind;
	const char *label, *prompt; /* prompt NULL: nothing to type */
	const char *ends;           /* it ends or begins the watch: asked once; NULL: it does not */
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

const char *const nod_live_key_help[] = {
	"Keys",
	"",
	"  l  locked          the car was locked: all deadlines begin anew (asked once)",
	"  u  unlocked        this watch is over (asked once)",
	"  d  door            a door, lid or bonnet was opened or closed",
	"  i  isolated ...    a fuse or module was pulled; an empty line: nothing",
	"  r  refitted ...    it was put back",
	"  t  touched ...     a switch, latch or lid was worked",
	"  m  reading ...     a meter reading: F12 2.3 mV",
	"  n  note ...        anything worth remembering",
	"  z  takes the last mark back, again: the one before it",
	"",
	"  y o x  answer a question: yes, another, nothing was done",
	"  k  the look: the terminal's own, dark, light      b  the bell, on or off",
	"  q  ends the view; the recording goes on           ?  back",
};
const int nod_live_key_help_lines = (int)(sizeof(nod_live_key_help) / sizeof(nod_live_key_help[0]));

#define ESCAPE 27

void nod_live_print_keys(char *line, size_t size, const struct nod_live_view *live)
{
	size_t used = 0;

	line[0] = 0;
	if (live->prompt) {
		snprintf(line, size, "%s: %s", live->prompt, live->typed);
		return;
	}
	for (size_t i = 0; i < KEY_COUNT && used < size; i++)
		used += (size_t)snprintf(line + used, size - used, "%c:%s ", keys[i].key,
					 keys[i].label);
	if (used < size)
		snprintf(line + used, size - used, "q:quit ?");
}

static void send_mark(struct nod_live_view *live)
{
	struct nod_error err = {"out of memory"};
	const char *name = nod_mark_kind_name(live->kind);
	struct nod_mark mark = {{0}, live->kind, live->typed};
	json_t *request = NULL, *answer = NULL;

	if (!nod_mark_check(&mark, &err))
		request = json_pack("{s:s, s:s}", "kind", name, "subject", live->typed);
	if (live->time_ns != INT64_MIN)
		nod_json_put(&request, "time_ns", json_integer(live->time_ns));
	if (request)
		answer = nod_client_request(live->client, "mark", request, &err);
	if (answer)
		snprintf(live->said, sizeof(live->said), "in the journal: %s %s", name,
			 live->typed);
	else
		snprintf(live->said, sizeof(live->said), "NOT in the journal: %.200s", err.text);
	json_decref(answer);
	live->prompt = NULL;
	live->typed[0] = 0;
	live->time_ns = INT64_MIN;
}

static void undo(struct nod_live_view *live)
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
static bool answer_question(struct nod_live_view *live, int key)
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

static void take_typed(struct nod_live_view *live, int key)
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
static bool is_meant(struct nod_live_view *live, size_t i)
{
	bool again = live->asked == keys[i].key;

	live->asked = keys[i].ends && !again ? keys[i].key : 0;
	if (!live->asked)
		return true;
	snprintf(live->said, sizeof(live->said), "%s: %s; press %c again", keys[i].label,
		 keys[i].ends, keys[i].key);
	return false;
}

static void take_mark_key(struct nod_live_view *live, int key)
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

void nod_live_take_key(struct nod_live_view *live, int key)
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
	case 'q':
		live->quit = true;
		break;
	case 'z':
		undo(live);
		break;
	case 'k':
		live->look = (live->look + 1) % NOD_LOOKS;
		live->look_changed = true;
		break;
	case 'b':
		live->bell = !live->bell;
		snprintf(live->said, sizeof(live->said), "the bell is %s",
			 live->bell ? "on" : "off");
		break;
	default:
		if (key >= 128 || key <= ' ' || !answer_question(live, key))
			take_mark_key(live, key);
	}
}
