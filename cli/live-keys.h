/* SPDX-License-Identifier: MIT */
/* The state of the live view on a terminal, and what its keys do. */
#ifndef NOD_LIVE_KEYS_H
#define NOD_LIVE_KEYS_H

#include <stdbool.h>

#include "client.h"
#include "journal.h"
#include "live-screen.h"

#define NOD_LIVE_TYPED_MAX 200 /* bytes; chosen: two lines of a screen */

enum nod_live_look { NOD_LOOK_OWN, NOD_LOOK_DARK, NOD_LOOK_LIGHT, NOD_LOOKS };

struct nod_live_view {
	struct nod_client *client;
	json_t *view;
	struct nod_live_screen screen;
	const char *prompt; /* NULL: keys act at once */
	enum nod_mark_kind kind;
	long long time_ns; /* of the mark, INT64_MIN: now */
	char typed[NOD_LIVE_TYPED_MAX];
	char said[256]; /* about the last mark */
	int asked;      /* the key that is to be pressed again, 0: none */
	bool quit, helping, bell;
	enum nod_live_look look;
	bool look_changed; /* by a key: to be put on */
};

/* What a key does: marks in the journal, answers to questions, the look, the end. */
void nod_live_take_key(struct nod_live_view *live, int key);

/* The last line of the screen: the prompt, or the keys. */
void nod_live_print_keys(char *line, size_t size, const struct nod_live_view *live);

/* The lines that `?` shows. */
extern const char *const nod_live_key_help[];
extern const int nod_live_key_help_lines;

#endif
