/* Which network management a network uses, from its traffic alone.
 *
 * For networks the vehicle file says nothing about. Streaming, in bounded
 * memory: feed it every frame of one network, ask whenever you like.
 *
 * Looked for:
 * - OSEK/VDX direct NM: IDs base + node whose byte 1 is always an operation
 *   code (the coding two open implementations share) and whose byte 0 names
 *   the successor; the successors close a ring, and the messages come in its
 *   order.
 * - AUTOSAR CanNm: IDs base + node that carry their own node number in byte 0
 *   (or 1) and a control bit vector without reserved bits in the other, a
 *   period of at least 50 ms, the same for all nodes.
 * - J1939: 29-bit IDs with well-known parameter groups from several addresses.
 * Not found are other codings, other byte positions, a node number that is
 * not in the ID, and indirect network management (it has no messages). */
#ifndef NOD_NM_DETECT_H
#define NOD_NM_DETECT_H

#include "frame.h"
#include "vehicle.h"

#define NOD_NM_REASON_TEXT 240

struct nod_nm_detection {
	/* scheme NOD_NM_UNKNOWN when nothing was found. ids_given is false: they are not from a
	 * file. The IDs end before any ID that is known to be something else. */
	struct nod_nm_layout layout;
	double confidence; /* 0..1, that it is this scheme with this layout; 0: nothing found */
	unsigned nodes;	   /* seen */
	char reason[NOD_NM_REASON_TEXT]; /* what speaks for it, a phrase; "" when nothing */
};

struct nod_nm_detect;

/* NULL when there is no memory. */
struct nod_nm_detect *nod_nm_detect_new(void);
void nod_nm_detect_free(struct nod_nm_detect *detect);

void nod_nm_detect_feed(struct nod_nm_detect *detect, const struct nod_frame *frame);

/* The best of the schemes as things stand. Costs some microseconds. */
void nod_nm_detect_result(const struct nod_nm_detect *detect, struct nod_nm_detection *result);

#endif
