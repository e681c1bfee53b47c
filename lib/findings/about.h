/* SPDX-License-Identifier: MIT */
/* What each fact and each doubt of the answer is about: what kind it is and of what it speaks.
 * Two of one kind that speak of the same thing are one, however they are worded; all words are
 * made in judge/fact-words.c and judge/doubt-words.c. New kinds stand at the end. */
#ifndef NOD_ABOUT_H
#define NOD_ABOUT_H

enum nod_fact {
	NOD_FACT_IN_USE,          /* of: use */
	NOD_FACT_MORE_USES,       /* of: those before */
	NOD_FACT_EVIDENCE,        /* of: suspect; part: its evidence */
	NOD_FACT_ADDRESS,         /* of: sender with a J1939 address */
	NOD_FACT_BITS,            /* of: message whose data moves while parked */
	NOD_FACT_TOUCH,           /* of: touch */
	NOD_FACT_RING,            /* of: network */
	NOD_FACT_ISOLATION,       /* of: isolation; part: the suspect it is said of, or none */
	NOD_FACT_ALONE,           /* of: network; part: span at whose end one was alone */
	NOD_FACT_WAKE,            /* of: wake-up */
	NOD_FACT_MORE_WAKES,      /* of: those before */
	NOD_FACT_REST_CURRENT,    /* lowest steady current since the lock */
	NOD_FACT_NETWORK_CURRENT, /* of: network */
	NOD_FACT_ASLEEP_CURRENT,  /* while all networks slept */
	NOD_FACT_EXPLAINED,       /* how much of the charge awake networks explain */
	NOD_FACT_CHARGE,          /* taken since the lock */
	NOD_FACT_PULSES,          /* of: group of pulses */
	NOD_FACT_NETWORK,         /* of: network, the reason of its verdict */
	NOD_FACT_PERSON,          /* how the wake-ups came: somebody may have been at the car */
	NOD_FACT_ONLY,            /* of: network; part: the only sender ever heard on it */
	NOD_FACT_WAKES_COST,      /* what all wake-ups take in a day, beside the battery */
	NOD_FACTS
};

enum nod_doubt {
	NOD_DOUBT_HOLE,         /* of: hole */
	NOD_DOUBT_MORE_HOLES,   /* of: those before */
	NOD_DOUBT_MAP_NETWORKS, /* the map's interfaces are not those heard */
	NOD_DOUBT_MAP_MARKS,    /* the journal names what the map does not have */
	NOD_DOUBT_LATE_START,   /* listening began after the lock */
	NOD_DOUBT_BENCH,        /* so little that it may be one module on a bench */
	NOD_DOUBT_NO_LOCK,      /* nothing says when the car was locked */
	NOD_DOUBT_DEADLINE,     /* nodoff's default, not this car's */
	NOD_DOUBT_END,          /* nothing says until when it was listened */
	NOD_DOUBT_DEAF,         /* of: network; nobody listens any more */
	NOD_DOUBT_LOST,         /* of: network; frames were lost */
	NOD_DOUBT_ERRORS,       /* of: network; error reports */
	NOD_DOUBT_SHORT,        /* of: the first network; watched asleep for a short time only */
	NOD_DOUBT_SPANS,        /* of: network; no room for all its spans */
	NOD_DOUBT_IDS,          /* of: network; no room for all its IDs */
	NOD_DOUBT_MARKS,        /* no room for all marks of the journal */
	NOD_DOUBT_ISOLATIONS,   /* no room for all isolations */
	NOD_DOUBT_TOUCHES,      /* no room for all touched inputs */
	NOD_DOUBT_CLOCK,        /* the recording's clock was set */
	NOD_DOUBT_RESTARTS,     /* time runs back, and other traffic begins there */
	NOD_DOUBT_LAGGING,      /* an adapter's clock is behind the others' */
	NOD_DOUBT_DEFECTS,      /* lines that could not be read */
	NOD_DOUBT_GAPS,         /* nobody listened for a while */
	NOD_DOUBTS
};

/* Indices into the findings' lists, by kind; 0 where the kind says it all. */
struct nod_about {
	int kind; /* enum nod_fact or enum nod_doubt */
	int of, part;
};

/* "rest-current": words that programs may go by, which stay when the text changes. */
const char *nod_fact_name(enum nod_fact kind);
const char *nod_doubt_name(enum nod_doubt kind);

#endif
