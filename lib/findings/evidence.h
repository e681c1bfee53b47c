/* SPDX-License-Identifier: MIT */
/* What speaks for and against a suspect: one table, one row per kind of
 * observation. See evidence.c for the strengths and why they are what they
 * are. */
#ifndef NOD_EVIDENCE_H
#define NOD_EVIDENCE_H

enum nod_evidence {
	/* holding */
	NOD_EV_ALONE,           /* it alone kept the network awake */
	NOD_EV_NM_ONLY_REQUEST, /* the only node that still requests the network */
	NOD_EV_NM_REQUEST,      /* still requests the network, as others do */
	NOD_EV_NM_READY,        /* stopped requesting (ready to sleep) while others did not */
	NOD_EV_NM_LIMP_HOME,    /* in limp home: it does not hear the others */
	NOD_EV_PARTIAL_REQUEST, /* requests a partial network after the deadline */
	NOD_EV_STOPPED,         /* fell silent while the network stayed awake */
	NOD_EV_NO_PAUSE,        /* never paused while all others fell silent and woke again */
	NOD_EV_LAST_TO_STOP,    /* the network slept right after its last frame */
	NOD_EV_PAYLOAD,         /* its data goes on changing while parked */
	NOD_EV_EVENTS,          /* sends on event while parked */
	NOD_EV_UNUSUAL_PERIOD,  /* keeps its fast period where others slowed */
	NOD_EV_GATEWAY_SPREAD,  /* a gateway whose other network is awake: it passes it on */
	/* waking */
	NOD_EV_FIRST_SPEAKER, /* spoke first in wake-ups */
	NOD_EV_NOT_FIRST,     /* did not speak first in wake-ups */
	NOD_EV_ACTIVE_WAKEUP, /* says itself that it woke the network */
	NOD_EV_KEPT_IT,       /* requested the network in wake-ups when all others had stopped */
	NOD_EV_ONLY_SPEAKER,  /* the only one that spoke in a wake-up */
	/* tests */
	NOD_EV_ISOLATED_SLEPT,     /* isolated, and the network slept */
	NOD_EV_REFIT_WOKE,         /* refitted, and it woke and stayed awake */
	NOD_EV_REFIT_SLEPT,        /* refitted, and it slept again with it in place */
	NOD_EV_ISOLATED_UNCHANGED, /* isolated, and nothing changed */
	/* current and fuses */
	NOD_EV_FUSE_CARRIES, /* its fuse carries current */
	NOD_EV_FUSE_DEAD,    /* its fuse carries none */
	/* a good recording */
	NOD_EV_GOOD_DIFFERS, /* it behaves otherwise than in the good recording */
	NOD_EV_GOOD_SAME,    /* it behaves as in the good recording */
	/* earlier sessions of the same car */
	NOD_EV_EARLIER, /* what an earlier session says */
	/* holding, without network management */
	NOD_EV_RESUMES, /* speaks first after pauses of the whole network */
	/* solved cars with the same messages */
	NOD_EV_LIKE_CARS, /* it was it in some of them */
	NOD_EVIDENCE_KINDS
};

struct nod_evidence_rule {
	enum nod_evidence kind;
	const char *name;  /* stable, for JSON: "alone", "only-request", ... */
	const char *needs; /* what must be recorded for it to be seen */
	double strength;   /* log-odds (nats) at full weight */
	const char *why;   /* the argument for the strength */
};

const struct nod_evidence_rule *nod_evidence_rule(enum nod_evidence kind);

#endif
