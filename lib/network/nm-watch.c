/* SPDX-License-Identifier: MIT */
#include "nm-watch.h"

#include <errno.h>
#include <stdlib.h>

#include "autosar-nm.h"
#include "osek-nm.h"

static int make_node(struct nod_ident *ident)
{
	if (ident->node)
		return 0;
	ident->node = calloc(1, sizeof(*ident->node));
	if (!ident->node)
		return -ENOMEM;
	ident->node->control_all = 0xFF;
	ident->node->first = ident->node->last = NOD_TIME_NONE;
	ident->node->last_request = ident->node->last_ready = NOD_TIME_NONE;
	ident->node->request_from = ident->node->last_acknowledge = NOD_TIME_NONE;
	return 0;
}

/* A pause longer than this between requests ends a run of them: several NM
 * cycles (<= 1 s in published example sets) or turns of a ring. Chosen. */
#define PAUSE_NS (10 * NOD_NS_PER_S)

static void note_request(struct nod_node *node, nod_time time, enum nod_phase phase)
{
	node->requests[phase]++;
	node->span_requests++;
	if (nod_time_since(time, node->last_request).ns > PAUSE_NS)
		node->request_from = time;
	node->last_request = time;
}

static void take_autosar(struct nod_node *node, const struct nod_autosar_nm *pdu,
			 const struct nod_frame *frame, enum nod_phase phase)
{
	node->address = pdu->node;
	node->control = pdu->control;
	node->control_any |= pdu->control;
	node->control_all &= pdu->control;
	note_request(node, frame->time, phase);
	node->partial[phase] |= pdu->partial;
	if (pdu->control & NOD_AUTOSAR_NM_ACTIVE_WAKEUP) {
		node->active_wakeups[phase]++;
		node->span_active = true;
	}
}

static void take_osek(struct nod_node *node, const struct nod_osek_nm *pdu,
		      const struct nod_frame *frame, enum nod_phase phase)
{
	node->address = pdu->source;
	node->control = pdu->opcode;
	node->limp_home[phase] += pdu->limp_home;
	node->span_alive |= pdu->alive && frame->time.ns == node->span_first.ns;
	if (pdu->sleep_acknowledge)
		node->last_acknowledge = frame->time;
	if (pdu->sleep_indication) {
		node->ready[phase]++;
		node->releases[phase] += node->last_request.ns > node->last_ready.ns;
		node->last_ready = frame->time;
	} else if (nod_osek_nm_is_request(pdu)) {
		node->ring_requests[phase] += pdu->ring;
		note_request(node, frame->time, phase);
	}
}

static void begin_span(struct nod_node *node, nod_time time, uint32_t span)
{
	node->span = span;
	node->span_first = time;
	node->span_active = node->span_alive = false;
	node->span_early = node->span_requests = 0;
}

int nod_nm_watch_take(struct nod_ident *ident, const struct nod_frame *frame,
		      const struct nod_nm_layout *layout, enum nod_phase phase, uint32_t span)
{
	struct nod_autosar_nm autosar;
	struct nod_osek_nm osek;

	bool is_osek = layout->scheme == NOD_NM_OSEK;

	if (is_osek ? nod_osek_nm_decode(&osek, frame, layout) != 0
		    : nod_autosar_nm_decode(&autosar, frame, layout) != 0)
		return 0;
	if (make_node(ident))
		return -ENOMEM;
	struct nod_node *node = ident->node;
	if (node->span != span)
		begin_span(node, frame->time, span);
	if (is_osek)
		take_osek(node, &osek, frame, phase);
	else
		take_autosar(node, &autosar, frame, phase);
	node->pdus[phase]++;
	node->span_early += nod_time_since(frame->time, node->span_first).ns < NOD_NM_EARLY_NS;
	if (!nod_time_is_set(node->first))
		node->first = frame->time;
	node->last = frame->time;
	return 0;
}

bool nod_nm_watch_coordinates(const struct nod_node *node)
{
	uint8_t changing = node->control_any & (uint8_t)~node->control_all;

	return changing & NOD_AUTOSAR_NM_SLEEP_READY ||
	       (node->control_any & node->control_all & NOD_AUTOSAR_NM_COORDINATOR_ID);
}

int nod_nm_watch_recall(struct nod_ident *ident, const struct nod_nm_layout *layout, int address)
{
	if (make_node(ident))
		return -ENOMEM;
	struct nod_node *node = ident->node;
	node->address = address;
	node->first = ident->first;
	node->last = ident->last;
	node->span = ident->span;
	node->span_first = ident->span_first;
	for (int p = 0; p < NOD_PHASES; p++)
		node->pdus[p] = ident->frames[p];
	if (layout->scheme != NOD_NM_AUTOSAR)
		return 0;
	for (int p = 0; p < NOD_PHASES; p++)
		node->requests[p] = ident->frames[p];
	node->last_request = ident->held_request = ident->last;
	node->request_from = ident->held_request_from = ident->first;
	node->span_requests = 1;
	return 0;
}
