/* SPDX-License-Identifier: MIT */
#include "nm-watch.h"

#include <errno.h>
#include <stdlib.h>

#include "autosar-nm.h"
#include "nm-rules.h"

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

void nod_nm_watch_request(struct nod_node *node, const struct nod_nm_message *message)
{
	nod_time time = message->frame->time;

	node->requests[message->phase]++;
	node->span_requests++;
	if (nod_time_since(time, node->last_request).ns > PAUSE_NS)
		node->request_from = time;
	node->last_request = time;
}

static void begin_span(struct nod_node *node, nod_time time, uint32_t span)
{
	node->span = span;
	node->span_first = time;
	node->span_active = node->span_alive = false;
	node->span_early = node->span_requests = 0;
}

struct nod_node *nod_nm_watch_node(const struct nod_nm_message *m)
{
	if (make_node(m->ident))
		return NULL;
	if (m->ident->node->span != m->span)
		begin_span(m->ident->node, m->frame->time, m->span);
	return m->ident->node;
}

int nod_nm_watch_take(struct nod_ident *ident, const struct nod_frame *frame,
		      const struct nod_nm_layout *layout, enum nod_phase phase, uint32_t span)
{
	const struct nod_nm_rules *rules = nod_nm_rules_of(layout->scheme);
	struct nod_nm_message message = {ident, frame, layout, phase, span};
	int status = rules && rules->take ? rules->take(&message) : 0;

	if (status <= 0)
		return status;
	struct nod_node *node = ident->node;
	node->pdus[phase]++;
	node->span_early += nod_time_since(frame->time, node->span_first).ns < NOD_NM_EARLY_NS;
	if (!nod_time_is_set(node->first))
		node->first = frame->time;
	node->last = frame->time;
	return 0;
}

void nod_nm_watch_forget(struct nod_ident *ident)
{
	free(ident->node);
	ident->node = NULL;
	ident->held_request = ident->held_ready = ident->held_request_from = NOD_TIME_NONE;
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
	const struct nod_nm_rules *rules = nod_nm_rules_of(layout->scheme);
	if (!rules || !rules->only_requests)
		return 0;
	for (int p = 0; p < NOD_PHASES; p++)
		node->requests[p] = ident->frames[p];
	node->last_request = ident->held_request = ident->last;
	node->request_from = ident->held_request_from = ident->first;
	node->span_requests = 1;
	return 0;
}
