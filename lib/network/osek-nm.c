/* SPDX-License-Identifier: MIT */
#include "osek-nm.h"

#include <errno.h>
#include <string.h>

#include "nm-watch.h"

static uint8_t operations(const struct nod_nm_layout *layout)
{
	return layout->osek_alive | layout->osek_ring | layout->osek_limp_home;
}

/* One operation and no more, unless a coding gives two of them the same bits. */
static bool is_one_operation(uint8_t opcode, const struct nod_nm_layout *layout)
{
	uint8_t operation = opcode & operations(layout);

	return operation && (operation == (opcode & layout->osek_alive) ||
			     operation == (opcode & layout->osek_ring) ||
			     operation == (opcode & layout->osek_limp_home));
}

static uint8_t known_bits(const struct nod_nm_layout *layout)
{
	return operations(layout) | layout->osek_sleep_indication | layout->osek_sleep_acknowledge;
}

int nod_osek_nm_decode(struct nod_osek_nm *out, const struct nod_frame *frame,
		       const struct nod_nm_layout *layout)
{
	uint8_t opcode = frame->data[1];

	memset(out, 0, sizeof(*out));
	if (frame->id & (NOD_ID_ERROR | NOD_ID_REMOTE) || frame->length < 2 ||
	    frame->id < layout->first_id || frame->id > layout->last_id ||
	    !is_one_operation(opcode, layout))
		return -EINVAL;
	out->source = (int)(frame->id - layout->first_id);
	out->destination = frame->data[0];
	out->opcode = opcode;
	out->alive = opcode & layout->osek_alive;
	out->ring = opcode & layout->osek_ring;
	out->limp_home = opcode & layout->osek_limp_home;
	out->sleep_indication = opcode & layout->osek_sleep_indication;
	out->sleep_acknowledge = opcode & layout->osek_sleep_acknowledge;
	out->unknown_bits = opcode & ~known_bits(layout);
	return 0;
}

bool nod_osek_nm_is_request(const struct nod_osek_nm *message)
{
	return (message->ring || message->limp_home) && !message->sleep_indication;
}

/* Whom a ring message hands the ring to; an alive message names its sender. */
static void note_named(struct nod_node *node, const struct nod_osek_nm *pdu)
{
	if (!pdu->ring && !pdu->alive)
		return;
	node->names = pdu->alive && pdu->destination != (pdu->source & 0xFF) ? -1
									     : pdu->destination;
	node->naming++;
}

int nod_osek_nm_take(const struct nod_nm_message *m)
{
	struct nod_osek_nm pdu;

	if (nod_osek_nm_decode(&pdu, m->frame, m->layout))
		return 0;
	struct nod_node *node = nod_nm_watch_node(m);
	if (!node)
		return -ENOMEM;
	node->address = pdu.source;
	node->control = pdu.opcode;
	note_named(node, &pdu);
	node->limp_home[m->phase] += pdu.limp_home;
	node->span_alive |= pdu.alive && m->frame->time.ns == node->span_first.ns;
	if (pdu.sleep_acknowledge) {
		node->acknowledges[m->phase]++;
		node->last_acknowledge = m->frame->time;
	}
	if (pdu.sleep_indication) {
		node->ready[m->phase]++;
		node->releases[m->phase] += node->last_request.ns > node->last_ready.ns;
		node->last_ready = m->frame->time;
	} else if (nod_osek_nm_is_request(&pdu)) {
		node->ring_requests[m->phase] += pdu.ring;
		nod_nm_watch_request(node, m);
	}
	return 1;
}
