/* SPDX-License-Identifier: MIT */
/* The journal of a session: what the person did or measured, and when.
 *
 * On disk it is a text file of one mark a line, appended and never changed:
 *
 *     (1700000000.000000) locked
 *     (1700002400.500000) isolated F12
 *     (1700002700.000000) refitted F12
 *     (1700002710.000000) reading F12 2.3 mV
 *     (1700002800.000000) touched tailgate switch
 *     (1700002900.000000) note customer says it began after the rain
 *
 * The time has the form of a candump log (UNIX seconds, 6 or 9 fraction
 * digits) and the clock of the frames beside it. Then the kind (a word or
 * two of the table in journal.c), then what it applies to, up to the end of the line.
 * Lines starting with '#' and empty lines are comments. A last line without
 * a newline was cut off by a crash: it is not taken ("isolated F1" may have been
 * F12). Whoever appends the next mark closes it with " #cut-off", and it stays
 * untaken.
 *
 * Subjects with a form of their own:
 *     gap IFACE LENGTH      nobody listened on IFACE for LENGTH up to the mark's time:
 *                           "gap can0 12.5 s"; "all" for every interface
 *     not listening IFACE   from here on nobody listens on IFACE, until a "gap IFACE" says how
 *                           long that was, or a frame was heard on it
 *     clock step LENGTH     the clock was set: new time minus old, "+3600 s" or "-2 s"; the
 *                           mark's time is the first on the new clock; "unknown"
 *     undone MARK           the mark written earlier, as it stands there, is taken back:
 *                           "undone (1700002400.500000) isolated F12". Nothing is ever erased:
 *                           who reads the journal leaves the pair out. */
#ifndef NOD_JOURNAL_H
#define NOD_JOURNAL_H

#include <stdbool.h>
#include <stddef.h>

#include "error.h"
#include "timestamp.h"

enum nod_mark_kind {
	NOD_MARK_LOCKED,     /* the car was locked: the settle deadlines count from here */
	NOD_MARK_UNLOCKED,   /* unlocked: what follows is use, not parking */
	NOD_MARK_DOOR,       /* a door, lid or bonnet was opened or closed */
	NOD_MARK_KEY,        /* a key or phone key was in range */
	NOD_MARK_IGNITION,   /* ignition or start button */
	NOD_MARK_TESTER_ON,  /* a diagnostic tester was connected */
	NOD_MARK_TESTER_OFF, /* ... and disconnected */
	NOD_MARK_ISOLATED,   /* subject: a fuse or module was pulled or unplugged */
	NOD_MARK_REFITTED,   /* subject: ... and put back */
	NOD_MARK_TOUCHED,    /* subject: an input was worked on (a switch, a latch, a lid) */
	NOD_MARK_READING,    /* subject and value: a meter reading */
	NOD_MARK_ZEROED,     /* the current clamp was zeroed */
	NOD_MARK_NOTE,       /* free text */
	NOD_MARK_GAP, /* written by the daemon: not listening, subject names interface and length */
	NOD_MARK_CLOCK_STEP, /* written by the daemon: the clock was stepped, subject says by how much */
	NOD_MARK_STARTED, /* "started": listening began here */
	NOD_MARK_STOPPED, /* "stopped": listening ended here; silence up to it was heard */
	NOD_MARK_NOTHING, /* what the traffic showed then was nobody's doing */
	NOD_MARK_UNDONE,  /* subject: a mark that is taken back */
	NOD_MARK_DEAF,    /* written by the daemon: nobody listens on the subject from now on */
	NOD_MARK_KINDS
};

/* Ends a line that was cut off while it was written. */
#define NOD_MARK_CUT_OFF " #cut-off"

/* Longest line of a journal, with its newline. Chosen: a screen full of text. */
#define NOD_MARK_LINE_MAX 4096

struct nod_mark {
	nod_time time;
	enum nod_mark_kind kind;
	const char *subject; /* fuse, module, input or text; "" when none */
};

/* The word for a kind as it stands in the file: "locked", "isolated", ... */
const char *nod_mark_kind_name(enum nod_mark_kind kind);

/* One line of help for a person who chooses a kind. */
const char *nod_mark_kind_help(enum nod_mark_kind kind);

/* Finds the kind of a word or two; "tester-on" is "tester on". Returns 0 or
 * -EINVAL. */
int nod_mark_kind_parse(enum nod_mark_kind *kind, const char *word);

/* True for the kinds that wake a car or restart its way to sleep: unlocked,
 * door, key, ignition, tester, isolated, refitted, touched. */
bool nod_mark_disturbs(enum nod_mark_kind kind);

/* True for the kinds that a person enters; the others are written by nodoffd, or, for
 * "undone", in a way of their own. */
bool nod_mark_is_persons(enum nod_mark_kind kind);

/* Checks a mark that a person is about to make: what a kind needs is there (what was
 * isolated, a value with its unit, a text), and no option stands inside the text.
 * Returns 0 or -EINVAL with err saying what is missing. */
int nod_mark_check(const struct nod_mark *mark, struct nod_error *err);

/* The subject as it will be read again: control characters (those of U+0080 to U+009F, too)
 * become blanks, blanks around it and the sign of a torn line at its end are left out.
 * Returns 0 or -ENOBUFS. */
int nod_mark_clean(char buf[NOD_MARK_LINE_MAX], const char *subject);

/* Parses one line (without its newline). mark->subject points into `line`,
 * which is changed (trimmed, control characters become blanks). Returns 1 for a mark, 0 for a comment or an
 * empty line, -EINVAL with *column (from 1) and err saying what was expected. */
int nod_mark_parse(struct nod_mark *mark, char *line, unsigned *column, struct nod_error *err);

/* Writes the line for a mark with its newline into buf, its subject clean. mark->time must
 * be set. Returns the length or -ENOBUFS. */
int nod_mark_print(char *buf, size_t size, const struct nod_mark *mark);

#endif
