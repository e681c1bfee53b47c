/* SPDX-License-Identifier: MIT */
#include "frames-json.h"

#include <stdio.h>

#include "json-build.h"
#include "option.h"
#include "search.h"

static const char *kind_of(const struct nod_frame *frame)
{
	return nod_frame_is_error(frame)     ? "error"
	       : frame->id & NOD_ID_REMOTE   ? "remote"
	       : frame->flags & NOD_FRAME_FD ? "fd"
					     : "data";
}

static json_t *interface_name(const struct nod_interfaces *names, unsigned index)
{
	return index == NOD_ALL_INTERFACES ? json_null() : nod_json_text(names->names[index]);
}

static json_t *frame_json(const struct nod_interfaces *names, const struct nod_frame *frame)
{
	char id[NOD_ID_TEXT], data[2 * sizeof(frame->data) + 1] = "";
	unsigned bytes = frame->id & NOD_ID_REMOTE ? 0 : frame->length;
	json_t *o = json_object();

	for (unsigned i = 0; i < bytes; i++)
		snprintf(data + 2 * i, 3, "%02X", frame->data[i]);
	nod_json_put(&o, "what", json_string("frame"));
	nod_json_put(&o, "time", nod_json_time(frame->time));
	nod_json_put(&o, "interface", interface_name(names, frame->interface));
	nod_json_put(&o, "kind", json_string(kind_of(frame)));
	nod_json_put(&o, "id", nod_json_text(nod_id_print(id, nod_frame_id(frame))));
	nod_json_put(&o, "length", json_integer(frame->length));
	nod_json_put(&o, "data", json_string(data));
	if (frame->flags & NOD_FRAME_FD) {
		nod_json_put(&o, "brs", json_boolean(frame->flags & NOD_FRAME_BRS));
		nod_json_put(&o, "esi", json_boolean(frame->flags & NOD_FRAME_ESI));
	}
	if (frame->flags & (NOD_FRAME_SENT | NOD_FRAME_RECEIVED))
		nod_json_put(&o, "sent", json_boolean(frame->flags & NOD_FRAME_SENT));
	return o;
}

static json_t *loss_json(const struct nod_interfaces *names, const struct nod_event *event)
{
	json_t *o = json_object();

	nod_json_put(&o, "what", json_string("lost"));
	nod_json_put(&o, "time", nod_json_time(event->time));
	nod_json_put(&o, "interface", interface_name(names, event->loss.interface));
	nod_json_put(&o, "frames", json_integer((json_int_t)event->loss.count));
	return o;
}

static json_t *header_json(const struct nod_event *event)
{
	json_t *o = json_object();

	nod_json_put(&o, "what", json_string("header"));
	nod_json_put(&o, "key", nod_json_text(event->header.key));
	nod_json_put(&o, "value", nod_json_text(event->header.value));
	return o;
}

void nod_frames_json_event(const struct nod_interfaces *names, const struct nod_event *event)
{
	if (event->kind == NOD_EVENT_FRAME)
		nod_option_print_json_line(frame_json(names, &event->frame));
	else if (event->kind == NOD_EVENT_LOSS)
		nod_option_print_json_line(loss_json(names, event));
	else if (event->kind == NOD_EVENT_HEADER)
		nod_option_print_json_line(header_json(event));
}

int nod_frames_json_counts(const struct nod_source *source)
{
	struct nod_source_counts n;
	json_t *o = json_object();

	nod_source_counts(source, &n);
	nod_json_put(&o, "form", nod_json_text(nod_source_form(source)));
	nod_json_put(&o, "lines", json_integer((json_int_t)n.lines));
	nod_json_put(&o, "frames", json_integer((json_int_t)n.frames));
	nod_json_put(&o, "errors", json_integer((json_int_t)n.errors));
	nod_json_put(&o, "defects", json_integer((json_int_t)n.defects));
	nod_json_put(&o, "lost", json_integer((json_int_t)n.lost));
	nod_json_put(&o, "back_steps", json_integer((json_int_t)n.back_steps));
	nod_json_put(&o, "largest_back_step", nod_json_length(n.largest_back_step));
	nod_json_put(&o, "cut_off", json_boolean(n.torn));
	nod_json_put(&o, "only_newline_missing", json_boolean(n.unended));
	return nod_option_print_json(o);
}
