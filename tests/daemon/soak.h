/* SPDX-License-Identifier: MIT */
/* A parked car's days through the daemon's own path, in compressed time.
 *
 * Only the kernel is simulated: the linker sends the daemon's calls for CAN
 * sockets and clocks here (--wrap). Listener, pump, merger, recorder, engine
 * and control socket are the daemon's own. The cars are the generator's. */
#ifndef SOAK_H
#define SOAK_H

#include "daemon.h"
#include "generator.h"
#include "../lib/scratch.h"
#include "soak-sum.h"

#ifdef __SANITIZE_ADDRESS__
#define SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define SANITIZED 1
#endif
#endif
#ifndef SANITIZED
#define SANITIZED 0
#endif

#define HOUR (3600 * NOD_NS_PER_S)
/* Under the sanitizers, which cost several times as much, a tenth of it. */
#define LENGTH (SANITIZED ? 17 * HOUR : 7 * 24 * HOUR)

struct soak {
	struct nod_daemon daemon;
	struct nod_options options;
	struct scratch scratch;
	char vehicle[96], socket[96];
	int client;
	int64_t start, end, second, hour, pumped, last_frame;
	unsigned wakes; /* after the first day */
	struct sum fed;
	size_t day_one, peak; /* memory in use, bytes */
	unsigned views;
};

/* Starts the daemon and a recording of the generator's car. */
void soak_begin(struct soak *soak, struct nod_generator *generator, int64_t start);

/* What happens to the car; time goes on up to it. */
void soak_take(struct soak *soak, const struct nod_event *event);

/* Time goes on; the daemon's timer fires. */
void soak_go_on(struct soak *soak, int64_t until);

/* Ends the recording. path: PATH_MAX bytes, where it lies. Returns its size, bytes. */
int64_t soak_end_record(struct soak *soak, char *path);

/* Ends the daemon and removes what it has recorded. */
void soak_finish(struct soak *soak);

#endif
