/* SPDX-License-Identifier: MIT */
/* Makes an allocation or a system call of the program under test fail.
 *
 * Calls are numbered from 1 in the order in which they are made while the
 * faults are armed, so the same run with the same number fails at the same place.
 *
 * Allocations: built without a sanitizer, malloc() and its kin are this
 * program's own, so that those of libc and of every other library (jansson,
 * libyaml, zlib, libzstd, libpcap) count, too. Under a sanitizer, which needs
 * malloc() for itself, the linker leads (--wrap) those of our own objects
 * here, and the others' cannot fail.
 *
 * The first thread and all others are numbered apart: only what one thread does comes
 * in the same order every time. A process that is forked goes on counting by itself.
 *
 * System calls: those of our own objects (--wrap), among them fopen() and its
 * kin. fsync() only ever pretends.
 *
 * Room: no file can grow beyond `at` bytes (RLIMIT_FSIZE), as on a disk that fills at
 * that moment. That also meets what stdio writes by itself. */
#ifndef FAULTS_H
#define FAULTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

enum fault_of { FAULT_OF_NONE, FAULT_OF_ALLOCATION, FAULT_OF_CALL, FAULT_OF_ROOM };

struct fault {
	enum fault_of of;
	long at;        /* the one that fails; bytes of room */
	bool lasting;   /* and every one after it */
	bool elsewhere; /* in the threads that the program starts, not in its first one */
	int error;      /* of a system call, positive errno */
	bool tear;      /* write() first writes half of what it should */
};

void faults_arm(const struct fault *fault);
void faults_disarm(void);
const struct fault *faults_armed(void);

/* What this thread does is not counted and does not fail: it plays somebody else. */
void faults_spare(bool spare);
bool faults_spared(void);

/* While armed last: how many there were (in the first thread, or elsewhere), and
 * whether one failed. */
long faults_count(enum fault_of of, bool elsewhere);
bool faults_struck(void);
const char *faults_struck_call(void); /* its name, "" when none was */

/* Whether the library of that name made the call that failed. */
bool faults_struck_in(const char *library);

/* What every clock says from now on, ns; 0: the real time again. */
void faults_set_clock(int64_t ns);

/* Who called what failed, for addr2line -e PROGRAM -ipfs: " 0x1234 0x5678 ...". */
#define FAULTS_CALLERS 12
void faults_print_place(FILE *out);

/* Blocks allocated and not freed since the program began (meaningful as a
 * difference, and only without a sanitizer), and files open. */
long faults_blocks(void);
bool faults_blocks_are_counted(void);
int faults_open_files(void);

/* Which to let fail to get to every place: the first `all` ones, then the first
 * and the last from each chain of callers `depth` long, in rising order. Call
 * after an armed run of the same without a fault. Returns how many. */
size_t faults_places(long *at, size_t room, enum fault_of of, bool elsewhere, long all, int depth);

#endif
