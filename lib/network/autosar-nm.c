/* SPDX-License-Identifier: MIT */
#include "autosar-nm.h"

#include <errno.h>
#include <string.h>

#include "nm-watch.h"

#define USER_DATA_UNSET 0xFF

static bool is_pdu(const struct nod_frame *frame, const struct nod_nm_layout *layout)
{
	return !(frame->id & (NOD_ID_ERROR | NOD_ID_REMOTE)) && frame->length <= 64 &&
	       frame->id >= layout->first_id && frame->id <= layout->last_id &&
	       layout->node_byte < frame->length && layout->control_byte < frame->length;
}

static bool has_partial(const struct nod_autosar_nm *pdu, const struct nod_nm_layout *layout)
{
	return layout->partial_first >= 0 &&
	       (!pdu->has_control || pdu->control & NOD_AUTOSAR_NM_PARTIAL);
}

static uint64_t without(uint64_t mask, int byte)
{
	return byte >= 0 && byte < 64 ? mask & ~(UINT64_C(1) << byte) : mask;
}

static void take_partial(struct nod_autosar_nm *out, const struct nod_frame *frame,
			 const struct nod_nm_layout *layout)
{
	for (int i = layout->partial_first; i <= layout->partial_last && i < frame->length; i++) {
		out->user_mask = without(out->user_mask, i);
		if (i - layout->partial_first < 8)
			out->partial |= (uint64_t)frame->data[i] << 8 * (i - layout->partial_first);
	}
}

static bool all_unset(const struct nod_frame *frame, uint64_t mask)
{
	for (int i = 0; i < frame->length; i++)
		if (mask >> i & 1 && frame->data[i] != USER_DATA_UNSET)
			return false;
	return mask != 0;
}

int nod_autosar_nm_decode(struct nod_autosar_nm *out, const struct nod_frame *frame,
			  const struct nod_nm_layout *layout)
{
	memset(out, 0, sizeof(*out));
	if (!is_pdu(frame, layout))
		return -EINVAL;
	out->node = layout->node_byte >= 0 ? frame->data[layout->node_byte]
					   : (int)(frame->id - layout->first_id);
	out->has_control = layout->control_byte >= 0;
	if (out->has_control)
		out->control = frame->data[layout->control_byte];
	out->user_mask = frame->length == 64 ? ~UINT64_C(0) : (UINT64_C(1) << frame->length) - 1;
	out->user_mask = without(without(out->user_mask, layout->node_byte), layout->control_byte);
	if (has_partial(out, layout))
		take_partial(out, frame, layout);
	out->user_unset = all_unset(frame, out->user_mask);
	return 0;
}

int nod_autosar_nm_take(const struct nod_nm_message *m)
{
	struct nod_autosar_nm pdu;

	if (nod_autosar_nm_decode(&pdu, m->frame, m->layout))
		return 0;
	struct nod_node *node = nod_nm_watch_node(m);
	if (!node)
		return -ENOMEM;
	node->changes += nod_time_is_set(node->first) && node->address != pdu.node;
	node->address = pdu.node;
	node->control = pdu.control;
	node->control_any |= pdu.control;
	node->control_all &= pdu.control;
	nod_nm_watch_request(node, m);
	node->partial[m->phase] |= pdu.partial;
	if (pdu.control & NOD_AUTOSAR_NM_ACTIVE_WAKEUP) {
		node->active_wakeups[m->phase]++;
		node->span_active = true;
	}
	return 1;
}
