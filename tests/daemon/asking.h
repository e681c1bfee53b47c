/* SPDX-License-Identifier: MIT */
/* A client of the daemon that records one network (mishap.h), over its socket. */
#ifndef ASKING_H
#define ASKING_H

#include <jansson.h>

#include "mishap.h"

struct asking {
	struct run *run;
	int fd;
	json_t *answer; /* the last */
	unsigned views; /* that came unasked */
};

/* After five seconds, in the first three of which frames came every 10 ms. */
void asking_begin(struct asking *a);
void asking_end(struct asking *a);

/* The answer, which is the asker's; granted, or refused for such a reason. */
const json_t *asking_ask(struct asking *a, const char *request);
const json_t *asking_grant(struct asking *a, const char *request);
void asking_refuse(struct asking *a, const char *request, const char *why);

/* A member of an object that must be there. */
const char *asking_text(const json_t *object, const char *key);
json_int_t asking_number(const json_t *object, const char *key);

/* How often the recording has such a mark, those that were taken back left out. */
unsigned asking_recorded(const struct asking *a, enum nod_mark_kind kind, const char *subject);

#endif
