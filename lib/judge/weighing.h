/* SPDX-License-Identifier: MIT */
/* The weighing of one network's trouble: the hypotheses and the tallies that
 * observations are made from. Internal; see suspects.c. */
#ifndef NOD_WEIGHING_H
#define NOD_WEIGHING_H

#include "analysis.h"
#include "switches.h"

/* What one sender did on the network, summed over its messages. */
struct nod_tally {
	bool present; /* spoke on this network since the lock */
	bool tester;
	nod_time last;   /* last frame in the longest awake span (NONE: not in it) */
	double coverage; /* share of the late time through which it spoke; -1: cannot be said */
	double request_coverage; /* the same for its requests of the network */
	int64_t fastest;         /* shortest cyclic period among its messages, ns; 0: none cyclic */
	bool paced;              /* one of its messages keeps to an interval */
	nod_time due, stopped;   /* later than this it has missed its turn; it has stopped */
	/* silent_frames: late, of the message that was silent least. */
	uint64_t frames, frames_late, changes_late, events_late, silent_frames;
	unsigned lone_runs;   /* stretches after the deadline in which nobody else spoke */
	int64_t lone_ns;      /* how long these were together */
	int64_t silence;      /* its longest after the deadline, ns; 0: cannot be said */
	unsigned pauses;      /* how often it was silent for long */
	int changing_ident;   /* the message whose data says most, NOD_NONE */
	struct nod_data data; /* what it says, after the deadline */
	int repeats;          /* the message of another that said it before, NOD_NONE */
	unsigned woke_moved;  /* so often a switch had moved when it began to speak again */
	unsigned kept,
		slowed;    /* cyclic messages that kept their pace; that slowed down or stopped */
	unsigned resumed;  /* lulls of the network that it ended */
	int64_t lulled_ns; /* how long these were together */
	int64_t fastest_late; /* shortest interval that it keeps to after the deadline, ns; 0: none */
	bool node;            /* sends network-management PDUs */
	nod_time request, ready; /* last in the longest span */
	nod_time request_from;   /* since when it requested without a pause */
	int64_t nm_period;       /* of its NM PDUs, ns */
	bool limp_home;
	uint64_t releases; /* OSEK: so often it gave the indication after a request, late */
	uint64_t asked;    /* messages by which it requested the network, late */
	uint64_t agreed;   /* OSEK: messages by which it was ready to sleep, late */
	bool ring_request; /* OSEK: its requests are ring messages, not only limp-home ones */
	uint64_t partial;  /* partial-network bits it requests late */
	unsigned first_of, only_of, active_in, burst_in, kept_in; /* wake-ups */
	double first_clarity; /* sum over first_of: 1 when far ahead of the second */
	bool unmapped;        /* no module of the map: could be a gateway's as well */
	bool gateway;         /* by the map, or heard on two networks */
};

struct nod_weighing {
	struct nod_analysis *a;
	struct nod_network_finding *n;
	struct nod_tally *
		*tallies; /* by sender; who is not heard here shares one, not to be written */
	struct nod_hypothesis *hypotheses;
	size_t count;

	bool held;            /* awake past the deadline */
	bool woken;           /* woken again for no stated reason */
	bool tentative;       /* neither yet: what is seen so far */
	struct nod_span span; /* the longest awake span since the lock */
	uint32_t serial;      /* 0: none */
	nod_time end;         /* of that span; or the end of the recording while it is open, or
			       * the first isolation in it: what comes after is disturbed */
	bool open;            /* it did not end in sleep of its own accord */
	const struct nod_snapshot *cut; /* of that isolation, NULL: none */
	int lone;                       /* the sender that was alone at `end`, NOD_NONE */
	nod_time lone_from;             /* the last frame of anybody else, or the span's begin */
	int64_t late;           /* ns of it after the deadline (tentative: since the lock) */
	uint64_t ring_slept;    /* OSEK: sleep acknowledges after the deadline: all were ready */
	nod_time ring_slept_at; /* ... the last of them */
	unsigned ring_kept;     /* wake-ups in which one node of a ring alone requested it */
	double unslept;         /* the probability that it never slept, and so was not woken */
	unsigned wakes;         /* unexplained wake-ups that this network began */
	unsigned nodes;         /* NM nodes in the span */
	unsigned passive;       /* senders without NM of their own that speak in it, too */
	unsigned requesting;    /* of these, still requesting at its end */
	int64_t lone_ns;        /* of all senders together */
	int pauseless;          /* the sender that never paused while all others did, NOD_NONE */
	unsigned pause_count;   /* ... so often */
	double pause_weight;
	int beginner;         /* who ends the lulls of the network, NOD_NONE */
	double beginner_nats; /* what that says for it */
	bool steady_request;  /* OSEK: somebody requests it by ring messages and never lets go */
	int64_t lulled_ns;    /* the same: lulls that somebody ended */
	unsigned resumed;     /* how many */
	unsigned covering;    /* senders that spoke through much of the late time */
	unsigned common;      /* requesting ones that no gateway role explains */
	nod_time last_request;
};

/* Adds evidence to a hypothesis at a weight 0..1 of its rule's strength. */
__attribute__((format(printf, 5, 6))) void nod_hypothesis_add(struct nod_weighing *w,
							      struct nod_hypothesis *h,
							      enum nod_evidence kind, double weight,
							      const char *format, ...);

/* tally.c: fills tallies and the figures of the longest span. */
int nod_weighing_tally(struct nod_weighing *w);

/* A sender that spoke (or requested the network) through less than this share
 * of the late time did so for a reason of the moment: a bonnet opened, a wake-up
 * that all follow. Chosen. */
#define NOD_COVERAGE_MIN 0.3

/* True when the node still requested the network at the end of the span. */
bool nod_weighing_requests(const struct nod_weighing *w, const struct nod_tally *t);

/* Shorter silences are part of going to sleep. Chosen. */
#define NOD_SILENT_MIN_NS (45 * NOD_NS_PER_S)

/* So many of its periods after the last time its turn has passed. Chosen. */
#define NOD_DUE_PERIODS 1.8

/* The later of two times, ns. */
static inline int64_t nod_later(int64_t a, int64_t b)
{
	return a > b ? a : b;
}

/* tally-silence.c: adds how long the sender of one message was silent, which was heard last in the
 * span at `last`. */
void nod_tally_silence(struct nod_weighing *w, struct nod_tally *t, const struct nod_ident *ident,
		       const struct nod_ident_finding *f, nod_time last);

/* tally-inputs.c: adds what one message tells of its sender's inputs. */
void nod_tally_inputs(struct nod_weighing *w, struct nod_tally *t, const struct nod_ident *ident,
		      int index);

/* tally-repeats.c: who says only what another said before. */
void nod_weighing_find_repeats(struct nod_weighing *w);

/* observe-pauses.c: set pauseless and what belongs to it, and beginner. */
void nod_weighing_find_pauseless(struct nod_weighing *w);
void nod_weighing_find_beginner(struct nod_weighing *w);

/* unmarked-person.c: log-odds that somebody was at the car in these unexplained wake-ups and noted
 * nothing, against a fault. */
double nod_prior_person(const struct nod_weighing *w, unsigned wakes);

/* common-start.c: log-likelihood that all started together, and who spoke first merely fastest,
 * against the others' having started at its frame. */
double nod_common_start(const struct nod_weighing *w, int first);

/* ... the same by who is how late on average; NAN: it cannot be said. */
double nod_start_order(const struct nod_weighing *w, int first);

/* However many wake-ups, chance and a common cause leave some doubt: the strengths of single
 * wake-ups add up to this many at most. Chosen. */
#define NOD_WAKES_COUNTED 4

/* observe-*.c: each adds its evidence to all hypotheses. */
void nod_observe_traffic(struct nod_weighing *w);
void nod_observe_inputs(struct nod_weighing *w);
void nod_observe_management(struct nod_weighing *w);
void nod_observe_pauses(struct nod_weighing *w);
void nod_observe_wakes(struct nod_weighing *w);
void nod_observe_isolations(struct nod_weighing *w);
void nod_observe_fuses(struct nod_weighing *w);
void nod_observe_good(struct nod_weighing *w);
void nod_observe_earlier(struct nod_weighing *w);

/* observe-like.c: the posterior, with what is known of like cars weighed in. 0 or -ENOMEM. */
int nod_posterior_of_like_cars(struct nod_weighing *all, size_t count);

#endif
