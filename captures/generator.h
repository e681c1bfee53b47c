/* SPDX-License-Identifier: MIT */
/* Simulated sessions with known truth, for tests, the benchmark and the
 * `generate` program. Nothing touches the disk here.
 *
 *     gen = nod_generator_open("repeated-waker", 7, NULL, &err);
 *     vehicle = nod_vehicle_parse(nod_generator_map(gen), ...);
 *     while (nod_generator_next(gen, &event))
 *             nod_engine_take(engine, event);
 *     truth = nod_generator_truth(gen);
 *     nod_generator_close(gen);
 *
 * The same situation, seed and options give the same events, byte for byte. */
#ifndef NOD_GENERATOR_H
#define NOD_GENERATOR_H

#include "error.h"
#include "event.h"
#include "source.h"

struct nod_generator;

/* How the person keeps the journal of what was pulled and put back. */
enum nod_generator_habit {
	NOD_HABIT_USUAL,   /* a second early to four late */
	NOD_HABIT_EXACT,   /* at its very time */
	NOD_HABIT_LATE,    /* up to `late` after it */
	NOD_HABIT_FORGETS, /* never */
	NOD_HABIT_MISNAMES /* at its very time, as another fuse of the map */
};

struct nod_generator_options {
	enum nod_generator_habit habit;
	nod_duration late;
	bool small;       /* few modules, a few minutes: for shipped captures */
	int64_t frames;   /* periods are stretched until about so many remain; 0: realistic
			      * periods, which can be some million frames; default (no options):
			      * NOD_GENERATOR_FRAMES, or NOD_GENERATOR_SMALL_FRAMES when small */
	bool good;        /* the same car without its fault: a good recording to compare with */
	unsigned session; /* which recording of this car: 0 is the first; a later one is of
			   * another day, with the same car, map and culprit */
	bool another;     /* with `session`: another car of the same kind, who is to blame is drawn
			   * anew */
	unsigned world;   /* 0 or 1: the first; see sim/world.h. Up to NOD_GENERATOR_WORLDS */
	bool no_interventions; /* nobody isolates anything (for whoever drives it, see below) */
};
#define NOD_GENERATOR_WORLDS 4
#define NOD_GENERATOR_FRAMES 60000
#define NOD_GENERATOR_SMALL_FRAMES 2200

/* Situations: name and one line, by index; NULL after the last. */
const char *nod_generator_situation(size_t index);
const char *nod_generator_help(size_t index);

/* What is special about a world, one line; NULL when there is none of that number. */
const char *nod_generator_world(unsigned world);

/* options may be NULL. NULL with errno and err set: EINVAL for a situation
 * or world that does not exist, ENOMEM. */
struct nod_generator *nod_generator_open(const char *situation, uint64_t seed,
					 const struct nod_generator_options *options,
					 struct nod_error *err);
void nod_generator_close(struct nod_generator *generator);

/* The user's vehicle file: it may have holes or a wrong entry. Owned by the
 * generator. */
const char *nod_generator_map(const struct nod_generator *generator);

/* The interfaces that frames refer to. */
const struct nod_interfaces *nod_generator_interfaces(const struct nod_generator *generator);

/* The next event, valid until the next call; false at the end of the recording
 * (or when memory ran out: see nod_generator_failed()). Events come in the order in
 * which they happened; their times go back only where the situation says so
 * (clock step, merged recorders) and by the order within one microsecond. */
bool nod_generator_next(struct nod_generator *generator, const struct nod_event **event);
bool nod_generator_failed(const struct nod_generator *generator);

/* The recording's clock now, and at the end of the recording as planned. */
nod_time nod_generator_now(const struct nod_generator *generator);
nod_time nod_generator_end(const struct nod_generator *generator);

/* Driving it: what the person does `after` from now (mark included). subject:
 * a fuse or module by name. kind: isolated, refitted, tester-off, note. 0,
 * -EINVAL (unknown subject or a kind that cannot be driven) or -ENOSPC. */
int nod_generator_act(struct nod_generator *generator, enum nod_mark_kind kind, const char *subject,
		      nod_duration after);

/* Records for so much longer than planned. To be said before the last event is
 * delivered: a recording that has ended stays ended. */
void nod_generator_extend(struct nod_generator *generator, nod_duration by);

#define NOD_GENERATOR_NETWORKS 3
#define NOD_TRUTH_IDS 24
#define NOD_TRUTH_OFF_IDS 200

struct nod_truth_network {
	const char *name, *interface;
	const char *scheme; /* "autosar", "osek", "j1939", "none" */
	nod_time slept_at;  /* last frame before its first sleep after the lock; NONE: never */
	unsigned wakes;     /* wake-ups after that sleep, heard or not */
	bool awake_at_end;  /* of the recording */
	bool hidden;        /* the adapter cannot hear it */
};

/* The truth about a session, complete when its last event was delivered.
 * Strings live as long as the generator. */
struct nod_truth {
	const char *situation;
	uint64_t seed;
	const char *verdict;     /* what the car does, in the words of the design */
	bool verdict_determined; /* the recording shows it */
	const char
		*role; /* holder, waker, none, tester, unknown-id, drain, disturbance, wake-line */
	const char *culprits[2]; /* names of modules, also when the map lacks them */
	bool in_map[2];
	int culprit_count;
	const char *fuses[2];           /* of the culprits, "" when none */
	uint32_t ids[2][NOD_TRUTH_IDS]; /* all that they send, NM PDUs included */
	int id_count[2];
	int source_address[2]; /* J1939, -1 */
	/* What the situation isolates or unplugs last, "" when nothing, and what it sends. */
	const char *isolated;
	uint32_t isolated_ids[NOD_TRUTH_IDS];
	int isolated_id_count;
	uint32_t off_ids[NOD_TRUTH_OFF_IDS]; /* of all that has no power or plug then */
	int off_id_count;
	const char *network; /* concerned; "" when none */
	bool determined;     /* the recording with the map shows who it is */
	const char *why;     /* one line: what determines it, or why nothing does */
	const char *note;    /* what else there is to know */
	nod_time lock;
	const char *lock_mark; /* "journal", "header", "none" */
	nod_time deadline;
	nod_time start, end;        /* of the recording */
	nod_duration current_clock; /* logger's clock minus the frames' clock */
	bool has_current;
	unsigned first_of, wakes_heard; /* waker: its frame was the first recorded of so many */
	uint64_t frames;
	struct nod_truth_network networks[NOD_GENERATOR_NETWORKS];
	int network_count;
};

const struct nod_truth *nod_generator_truth(struct nod_generator *generator);

/* What was really pulled and put back in the recording, in time order: false beyond the last. */
struct nod_generator_act {
	bool off;            /* pulled or unplugged; else put back */
	nod_time time;       /* on the recording's clock */
	const char *subject; /* its name, whatever the journal says */
};
bool nod_generator_act_done(const struct nod_generator *generator, size_t index,
			    struct nod_generator_act *act);

#endif
