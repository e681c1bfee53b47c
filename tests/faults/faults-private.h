/* SPDX-License-Identifier: MIT */
/* Between faults.c and the wrappers. */
#ifndef FAULTS_PRIVATE_H
#define FAULTS_PRIVATE_H

#include "faults.h"

/* Counts one; true: it has to fail, and errno is set. */
bool faults_strike(enum fault_of of, const char *name);

/* A write() that has to fail: true when it writes half now, and the next one fails. */
bool faults_tear(void);
/* This is that next one; errno is set. */
bool faults_torn(void);

#endif
