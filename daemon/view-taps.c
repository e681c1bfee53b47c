/* SPDX-License-Identifier: MIT */
/* What is listened to, and how each controller is set: part of view.h. */
#include "json-build.h"
#include "view.h"

/* null when it is not known. */
static json_t *counted(const struct nod_link *link, uint16_t errors)
{
	return link->has_counters ? json_integer(errors) : json_null();
}

/* What the kernel says that it is set to; null where there is none. */
static json_t *controller_view(const struct nod_link *link)
{
	const struct nod_interface_settings *set = &link->set;

	if (!link->has_mode || !link->up)
		return json_null();
	return json_pack("{s:I, s:I, s:I, s:I, s:b, s:b, s:s, s:o, s:o}", "bitrate",
			 (json_int_t)set->bitrate, "sample_point", (json_int_t)set->sample_point,
			 "data_bitrate", (json_int_t)(link->can_fd ? set->data_bitrate : 0),
			 "data_sample_point", (json_int_t)set->data_sample_point, "fd",
			 link->can_fd, "listen_only", link->listen_only, "state",
			 nod_link_state_name(link), "receive_errors",
			 counted(link, link->receive_errors), "transmit_errors",
			 counted(link, link->transmit_errors));
}

static json_t *tap_view(const struct nod_tap *tap)
{
	const struct nod_listener *listener = &tap->listener;

	return json_pack(
		"{s:s, s:s, s:s, s:b, s:o, s:s, s:i, s:b, s:o, s:s, s:I, s:I, s:I}", "interface",
		tap->interface, "called", tap->called, "state", nod_tap_state_name(tap->state),
		"listening", tap->state == NOD_TAP_LISTENING, "since_ns",
		json_integer(tap->since.ns), "note", tap->note.text, "bitrate",
		tap->searching ? 0 : (int)tap->settings.bitrate, "bitrate_found", tap->found,
		"controller", controller_view(&tap->controller), "clock",
		nod_stamp_clock_name(listener->clock), "frames", (json_int_t)listener->frames,
		"lost", (json_int_t)listener->lost, "errors", (json_int_t)listener->errors);
}

json_t *nod_view_taps(const struct nod_tap *taps, size_t count)
{
	json_t *list = json_array();

	for (size_t i = 0; i < count; i++)
		nod_json_append(&list, tap_view(&taps[i]));
	return list;
}
