/* SPDX-License-Identifier: MIT */
/* What a payload bit is called: the signal of the vehicle file that it belongs to, else its
 * byte and bit. */
#ifndef NOD_SIGNALS_H
#define NOD_SIGNALS_H

#include "findings.h"

/* The message that an ID is, by the vehicle file; NULL when it is none. */
const struct nod_message *nod_signals_message(const struct nod_findings *f,
					      const struct nod_ident_finding *ident);

/* The signal that bit `bit` (0: lowest of byte 0) belongs to, in a frame whose first eight
 * bytes are `word`: of several the narrowest, one that this frame has before others. NULL: none. */
const struct nod_signal *nod_signals_of_bit(const struct nod_findings *f,
					    const struct nod_ident_finding *ident, unsigned bit,
					    uint64_t word);

#define NOD_SIGNAL_TEXT 240

/* "TailgateSwitch (418)", or "418 byte 4 bit 5". All return buf. */
char *nod_signals_print_bit(char buf[NOD_SIGNAL_TEXT], const struct nod_findings *f,
			    const struct nod_ident_finding *ident, unsigned bit);

/* "TailgateSwitch went closed → open (418)", or "418 byte 4 bit 5 went 0 → 1": that bit, from
 * one payload to another. */
char *nod_signals_print_move(char buf[NOD_SIGNAL_TEXT], const struct nod_findings *f,
			     const struct nod_ident_finding *ident, unsigned bit, uint64_t before,
			     uint64_t after);

/* The value alone: "open", or "1". */
char *nod_signals_print_value(char buf[NOD_SIGNAL_TEXT], const struct nod_findings *f,
			      const struct nod_ident_finding *ident, unsigned bit, uint64_t word);

/* "TailgateSwitch, byte 2 bit 1": the bits of a mask, each signal once; "..." when there
 * is more than fits. Never longer than `size`. */
char *nod_signals_print_mask(char *buf, size_t size, const struct nod_findings *f,
			     const struct nod_ident_finding *ident, uint64_t mask);

/* The bits of a mask that belong to the signal of its lowest bit (that bit alone without one). */
uint64_t nod_signals_same(const struct nod_findings *f, const struct nod_ident_finding *ident,
			  uint64_t mask);

#endif
