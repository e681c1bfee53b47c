/* SPDX-License-Identifier: MIT */
/* What other recordings of this car and of like cars say, as plain data: found by who keeps them
 * (lib/memory), weighed by the judge (observe-like.c), told in the answer. */
#ifndef NOD_KNOWN_H
#define NOD_KNOWN_H

#include <stddef.h>

/* A sender that was it in like cars. */
struct nod_known_sender {
	const char *name; /* as the findings of the recording here have it */
	unsigned cars;    /* in so many of the solved ones */
};

/* All of it must outlive the engine's findings. */
struct nod_known {
	unsigned recordings;        /* that were looked through */
	unsigned unread;            /* that could not be read */
	const char *good;           /* path of the one taken as the good recording; NULL: none */
	const char *const *earlier; /* paths of those whose isolations count here, latest first */
	size_t earlier_count;
	unsigned like;   /* recordings of other cars like this one */
	unsigned solved; /* cars like it (or this one, before it was mended) that were solved */
	const struct nod_known_sender *senders; /* most cars first */
	size_t sender_count;
	const char *brief;        /* one line of at most 80 columns; "": nothing was used */
	const char *const *lines; /* all of it, in sentences */
	size_t line_count;
};

#endif
