/* SPDX-License-Identifier: MIT */
/* All of libnodoff, for programs that link the shared library:
 *
 *     session = nod_session_open(path, &err);
 *     vehicle = nod_vehicle_load(nod_session_vehicle(session), &err);
 *     engine = nod_engine_new(vehicle, nod_session_interfaces(session));
 *     while (nod_session_next(session, &event, &err) > 0)
 *             nod_engine_take(engine, event);
 *     findings = nod_engine_findings(engine);
 *     nod_answer_print(stdout, findings, (struct nod_answer_style){0});
 *
 * examples/verdict.c is such a program. Build with `pkg-config --cflags --libs
 * nodoff`. Each header also compiles alone in C; in C++ include this one, which
 * says extern "C" for all of them.
 *
 * The layout of the structs belongs to the version of the library's name
 * (libnodoff.so.0): another layout gets another number, but for members added
 * at the end of what the library allocates; so elements of lists are reached
 * with the functions of elements.h. A program that uses
 * one thread for each engine needs no locks. */
#ifndef NOD_NODOFF_H
#define NOD_NODOFF_H

/* Before the extern "C": in C++ these may hold more than C. */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#ifdef __cplusplus
extern "C" {
#endif

#include "answer.h"
#include "elements.h"
#include "engine.h"
#include "error.h"
#include "event.h"
#include "evidence.h"
#include "findings.h"
#include "frame.h"
#include "journal.h"
#include "rhythm.h"
#include "session.h"
#include "source.h"
#include "timestamp.h"
#include "vehicle.h"
#include "version.h"

#ifdef __cplusplus
}
#endif

#endif
