/* SPDX-License-Identifier: MIT */
/* Which network management a network uses, from its traffic alone.
 *
 * For networks the vehicle file says nothing about. Streaming, in bounded
 * memory: feed it every frame of one network, ask whenever you like.
 *
 * Looked for:
 * - OSEK/VDX direct NM: IDs base + node whose byte 1 is an operation code (the
 *   coding two open implementations share) and whose byte 0 names the successor;
 *   the messages come in the order of the ring so named, each as long after the
 *   one before (TTyp is global), or nodes announce themselves.
 * - AUTOSAR CanNm: IDs base + node that carry their own node number in byte 0
 *   (or 1), with a control bit vector in the other or without. Without a node
 *   byte, or with numbers that have nothing to do with the ID, behaviour tells: the same
 *   period, length and look in one block of IDs.
 *   Ordinary messages can look the same, so either is believed only when one of them
 *   behaves so: a burst when it wakes the network, a repeat message bit that is soon gone,
 *   or an end by itself (its module talks on) while the network goes on.
 * - J1939: 29-bit IDs with well-known parameter groups from several addresses.
 * Not found are other codings, other byte positions, and indirect network
 * management (it has no messages). It goes on for as long as frames come: nodes
 * that join late are learned, what turns out to behave otherwise is left out
 * again. An ID that cannot be a node is not looked at any more, so the result
 * is the same whether its further frames are fed or not. */
#ifndef NOD_NM_DETECT_H
#define NOD_NM_DETECT_H

#include <stdbool.h>

#include "frame.h"
#include "vehicle.h"

#define NOD_NM_REASON_TEXT 240

/* What is found is used from this confidence on. Chosen. */
#define NOD_NM_ADOPTED 0.8

struct nod_nm_detection {
	/* scheme NOD_NM_UNKNOWN when nothing was found. ids_given is false: they are not from a
	 * file. The IDs end before any ID that is known to be something else. */
	struct nod_nm_layout layout;
	double confidence; /* 0..1, that it is this scheme with this layout; 0: nothing found */
	bool proved;       /* by how its messages behave, not only by their look */
	bool numbered;     /* AUTOSAR: the IDs are base + node number */
	unsigned nodes;    /* seen */
	uint32_t base;     /* ID of node 0 */
	uint32_t leader;   /* the first of the nodes */
	char reason[NOD_NM_REASON_TEXT]; /* what speaks for it, a phrase; "" when nothing */
};

struct nod_nm_detect;

/* NULL when there is no memory. */
struct nod_nm_detect *nod_nm_detect_new(void);
void nod_nm_detect_free(struct nod_nm_detect *detect);

/* Takes a frame. False: no frame of this ID need be fed any more, when
 * nod_nm_detect_second() is told instead. */
bool nod_nm_detect_feed(struct nod_nm_detect *detect, const struct nod_frame *frame);

/* When an ID was last heard; false: never. */
typedef bool nod_nm_last_fn(const void *context, uint32_t id, nod_time *last);

/* What came in bursts from then on had waited in an adapter. */
void nod_nm_detect_forget_bursts(struct nod_nm_detect *detect, nod_time from);

/* Of IDs that need not be fed any more, this says when they were last heard: who stops, does
 * so alone or with others. Without it, all frames are to be fed. */
void nod_nm_detect_ask_last(struct nod_nm_detect *detect, nod_nm_last_fn *last_of,
			    const void *context);

/* Says that the network was busy at this time: what the first frame of a whole second says
 * when it is not fed. */
void nod_nm_detect_second(struct nod_nm_detect *detect, nod_time time);

/* The best of the schemes as things stand. Costs some ten microseconds; what it works out of
 * single IDs is kept in the detector. */
void nod_nm_detect_result(struct nod_nm_detect *detect, struct nod_nm_detection *result);

/* Whether an ID is a node's, by what was found: other messages may lie between them. */
bool nod_nm_detect_is_node(const struct nod_nm_detect *detect, const struct nod_nm_detection *found,
			   uint32_t id);

#endif
