/* SPDX-License-Identifier: MIT */
#include "faults.h"

#include <dlfcn.h>
#include <errno.h>
#include <execinfo.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "faults-private.h"

#define CALLS_MAX (1L << 18) /* whose callers are kept; a run makes fewer */
#define DEPTH_MAX 8
#define OWN_FRAMES 3 /* of this program: note_callers, strikes, the wrapper */

struct counted {
	long count;
	uint32_t callers[CALLS_MAX][DEPTH_MAX]; /* nearest first, low halves of the addresses */
};

static struct counted allocations[2], calls[2]; /* of the first thread, and elsewhere */
static struct fault armed;
static bool is_armed, struck, torn;
static __thread bool busy, spared;
static pthread_t first_thread;
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static const char *struck_call = "";
static void *struck_at[FAULTS_CALLERS + OWN_FRAMES];

static struct counted *counted_of(enum fault_of of, bool elsewhere)
{
	return &(of == FAULT_OF_ALLOCATION ? allocations : calls)[elsewhere];
}

static __attribute__((noinline)) void note_callers(struct counted *c)
{
	void *frames[OWN_FRAMES + DEPTH_MAX] = {NULL};

	if (c->count > CALLS_MAX)
		return;
	int n = backtrace(frames, OWN_FRAMES + DEPTH_MAX);
	for (int i = 0; i < DEPTH_MAX; i++)
		c->callers[c->count - 1][i] = OWN_FRAMES + i < n
						      ? (uint32_t)(uintptr_t)frames[OWN_FRAMES + i]
						      : 0;
}

/* What struck first, and where. */
static __attribute__((noinline)) void note_strike(const char *name)
{
	busy = true;
	struck_call = name;
	memset(struck_at, 0, sizeof(struck_at));
	backtrace(struck_at, FAULTS_CALLERS + OWN_FRAMES);
	busy = false;
}

__attribute__((noinline)) bool faults_strike(enum fault_of of, const char *name)
{
	if (!is_armed || busy || spared)
		return false;
	bool elsewhere = !pthread_equal(pthread_self(), first_thread);
	struct counted *c = counted_of(of, elsewhere);

	pthread_mutex_lock(&lock);
	busy = true; /* backtrace() may allocate */
	long number = ++c->count;
	if (armed.of == FAULT_OF_NONE)
		note_callers(c);
	busy = false;
	bool strikes = armed.of == of && armed.elsewhere == elsewhere &&
		       (number == armed.at || (number > armed.at && armed.lasting));
	if (strikes && !struck)
		note_strike(name);
	struck |= strikes;
	pthread_mutex_unlock(&lock);
	if (!strikes)
		return false;
	errno = of == FAULT_OF_ALLOCATION ? ENOMEM : armed.error;
	return true;
}

bool faults_tear(void)
{
	torn = armed.tear;
	return torn;
}

bool faults_torn(void)
{
	if (!torn)
		return false;
	torn = false;
	errno = armed.error;
	return true;
}

void faults_arm(const struct fault *fault)
{
	void *frames[1];

	backtrace(frames, 1); /* loads what it needs */
	armed = *fault;
	first_thread = pthread_self();
	for (int i = 0; i < 2; i++)
		allocations[i].count = calls[i].count = 0;
	struck = torn = false;
	struck_call = "";
	is_armed = true;
}

const struct fault *faults_armed(void)
{
	return &armed;
}

void faults_disarm(void)
{
	is_armed = torn = false;
}

void faults_spare(bool spare)
{
	spared = spare;
}

bool faults_spared(void)
{
	return spared;
}

long faults_count(enum fault_of of, bool elsewhere)
{
	return counted_of(of, elsewhere)->count;
}

bool faults_struck(void)
{
	return struck;
}

const char *faults_struck_call(void)
{
	return struck_call;
}

bool faults_struck_in(const char *library)
{
	Dl_info info;

	for (int i = OWN_FRAMES; i < OWN_FRAMES + 2; i++)
		if (struck_at[i] && dladdr(struck_at[i], &info) && info.dli_fname &&
		    strstr(info.dli_fname, library))
			return true;
	return false;
}

void faults_print_place(FILE *out)
{
	extern const char __executable_start; /* of the linker */

	for (int i = OWN_FRAMES; i < FAULTS_CALLERS + OWN_FRAMES && struck_at[i]; i++) {
		ptrdiff_t offset = (const char *)struck_at[i] - &__executable_start;
		if (offset > 0 && offset < INT32_MAX) /* else it is in a library */
			fprintf(out, " 0x%tx", offset - 1);
	}
}

int faults_open_files(void)
{
	int open_files = 0;

	for (int fd = 0; fd < 256; fd++)
		open_files += fcntl(fd, F_GETFD) >= 0;
	return open_files;
}

/* ---- choosing ---- */

/* A set of chains of callers, with where each was seen last. */
#define SEEN_ROOM (1U << 16)
static struct {
	uint64_t hash;
	size_t place; /* of its last occurrence in the list */
	unsigned times;
} seen[SEEN_ROOM];

static uint64_t hash_callers(const uint32_t *callers, int depth)
{
	uint64_t hash = 14695981039346656037U; /* FNV-1a */

	for (int i = 0; i < depth; i++)
		hash = (hash ^ callers[i]) * 1099511628211U;
	return hash | 1;
}

static size_t find_seen(uint64_t hash)
{
	size_t slot = (hash >> 17) % SEEN_ROOM;

	while (seen[slot].hash && seen[slot].hash != hash)
		slot = (slot + 1) % SEEN_ROOM;
	return slot;
}

static int by_number(const void *a, const void *b)
{
	long x = *(const long *)a, y = *(const long *)b;

	return (x > y) - (x < y);
}

size_t faults_places(long *at, size_t room, enum fault_of of, bool elsewhere, long all, int depth)
{
	const struct counted *c = counted_of(of, elsewhere);
	size_t count = 0;

	memset(seen, 0, sizeof(seen));
	for (long n = 1; n <= c->count && n <= CALLS_MAX && count < room; n++) {
		uint64_t hash = hash_callers(c->callers[n - 1], depth);
		size_t slot = find_seen(hash);
		if (n > all && seen[slot].times >= 2) {
			at[seen[slot].place] = n; /* the last one so far */
			continue;
		}
		seen[slot].hash = hash;
		seen[slot].times += n > all || !seen[slot].times;
		seen[slot].place = count;
		at[count++] = n;
	}
	qsort(at, count, sizeof(*at), by_number);
	return count;
}
