/* SPDX-License-Identifier: MIT */
#include "signal-watch.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "command.h"
#include "json-build.h"
#include "moment-text.h"
#include "nearest-word.h"
#include "table-row.h"
#include "search.h"
#include "signal-value.h"

#define VALUE_TEXT 120

int nod_signal_watch_begin(struct nod_signal_watch *w, const struct nod_vehicle *vehicle,
			   const struct nod_interfaces *interfaces)
{
	struct nod_nearest nearest = {.word = w->name};

	w->vehicle = vehicle;
	w->interfaces = interfaces;
	if (!vehicle || !vehicle->message_count)
		return nod_usage(
			"history", "--signal %s: %s", w->name,
			vehicle ? "the vehicle file has no messages"
				: "signals stand in a vehicle file, give one with --vehicle");
	for (size_t i = 0; i < vehicle->message_count; i++)
		for (size_t k = 0; k < vehicle->messages[i].signal_count; k++) {
			if (!strcasecmp(vehicle->messages[i].signals[k].name, w->name))
				return NOD_EXIT_OK;
			nod_nearest_offer(&nearest, vehicle->messages[i].signals[k].name);
		}
	return nod_usage("history", "the vehicle file has no signal `%s`%s%s%s", w->name,
			 nearest.best ? "; did you mean `" : "", nearest.best ? nearest.best : "",
			 nearest.best ? "`?" : "");
}

static const struct nod_signal *signal_of(const struct nod_signal_watch *w,
					  const struct nod_message *message)
{
	for (size_t i = 0; i < message->signal_count; i++)
		if (!strcasecmp(message->signals[i].name, w->name))
			return &message->signals[i];
	return NULL;
}

/* The one of this message on this network; begun when it is new. NULL: out of memory, or
 * more than are kept (errno 0). */
static struct nod_watched *watched_of(struct nod_signal_watch *w, const struct nod_message *message,
				      const struct nod_signal *signal, int network)
{
	errno = 0;
	for (size_t i = 0; i < w->count; i++)
		if (w->watched[i]->message == message && w->watched[i]->network == network)
			return w->watched[i];
	if (w->count == NOD_WATCH_MAX)
		return NULL;
	struct nod_watched *s = calloc(1, sizeof(*s));
	if (!s)
		return NULL;
	s->message = message;
	s->signal = signal;
	s->network = network;
	return w->watched[w->count++] = s;
}

static void change(struct nod_watched *s, nod_time time, uint64_t raw)
{
	double value = nod_signal_value(s->signal, raw);
	uint64_t n = s->changes++;

	s->least = n && s->least < value ? s->least : value;
	s->most = n && s->most > value ? s->most : value;
	s->raw = raw;
	if (n < NOD_WATCH_FIRST)
		s->first[n] = (struct nod_signal_change){time, raw};
	else
		s->recent[n % NOD_WATCH_LAST] = (struct nod_signal_change){time, raw};
}

int nod_signal_watch_take(struct nod_signal_watch *w, const struct nod_frame *frame, nod_time time)
{
	const struct nod_signal *signal;
	uint64_t raw;

	if (frame->id & (NOD_ID_ERROR | NOD_ID_REMOTE))
		return 0;
	int network = nod_vehicle_network_of_interface(w->vehicle,
						       w->interfaces->names[frame->interface]);
	int index = nod_vehicle_message_of_id(w->vehicle, network, frame->id);
	if (index == NOD_NONE)
		return 0;
	const struct nod_message *message = &w->vehicle->messages[index];
	signal = signal_of(w, message);
	if (!signal || !nod_signal_present(message, signal, frame->data, frame->length) ||
	    !nod_signal_raw(signal, frame->data, frame->length, &raw))
		return 0;
	struct nod_watched *s = watched_of(w, message, signal, network);
	if (!s)
		return -errno;
	if (!s->frames++ || s->raw != raw)
		change(s, time, raw);
	s->last = time;
	return 0;
}

void nod_signal_watch_end(struct nod_signal_watch *w)
{
	for (size_t i = 0; i < w->count; i++)
		free(w->watched[i]);
	w->count = 0;
}

/* ---- what it did ---- */

/* Those kept, in time order; the number left out is between FIRST and the next. */
static uint64_t kept(const struct nod_watched *s)
{
	return s->changes < NOD_WATCH_FIRST + NOD_WATCH_LAST ? s->changes
							     : NOD_WATCH_FIRST + NOD_WATCH_LAST;
}

static const struct nod_signal_change *change_at(const struct nod_watched *s, uint64_t i)
{
	return i < NOD_WATCH_FIRST ? &s->first[i]
				   : &s->recent[(s->changes - kept(s) + i) % NOD_WATCH_LAST];
}

static const char *network_name(const struct nod_findings *f, const struct nod_watched *s)
{
	return s->network == NOD_NONE ? "any network" : f->vehicle->networks[s->network].name;
}

static nod_time end_of(const struct nod_watched *s, uint64_t i)
{
	return i + 1 < kept(s) ? change_at(s, i + 1)->time : s->last;
}

static void print_changes(const struct nod_watched *s, const struct nod_findings *f, FILE *out)
{
	char at[NOD_MOMENT_TEXT], length[NOD_TIME_TEXT], value[VALUE_TEXT] = "  ";
	int width = nod_moment_cell_width(f, NULL);

	NOD_ROW(out, {-width, nod_moment_cell_heading(f)}, {-10, "for"}, {40, "  value"});
	for (uint64_t i = 0; i < kept(s); i++) {
		const struct nod_signal_change *c = change_at(s, i);
		if (i == NOD_WATCH_FIRST && s->changes > kept(s))
			fprintf(out, "  (%" PRIu64 " changes are left out here)\n",
				s->changes - kept(s));
		nod_signal_print(value + 2, sizeof(value) - 2, s->signal, c->raw);
		NOD_ROW(out, {-width, nod_moment_print_cell(at, f, c->time, NULL)},
			{-10, nod_duration_print(length, nod_time_since(end_of(s, i), c->time))},
			{40, value});
	}
}

static void print_one(const struct nod_watched *s, const struct nod_findings *f, FILE *out)
{
	char id[NOD_ID_TEXT];
	uint64_t moves = s->changes - 1;

	nod_id_print(id, s->message->id.first);
	fprintf(out, "%s of %s (%s on %s)\n", s->signal->name, s->message->name, id,
		network_name(f, s));
	fprintf(out, "  %" PRIu64 " frame%s, %" PRIu64 " change%s", s->frames,
		s->frames == 1 ? "" : "s", moves, moves == 1 ? "" : "s");
	if (moves && !nod_signal_is_switch(s->signal))
		fprintf(out, ", from %.6g to %.6g%s%s", s->least, s->most,
			s->signal->unit ? " " : "", s->signal->unit ? s->signal->unit : "");
	fputc('\n', out);
	print_changes(s, f, out);
	fputc('\n', out);
}

void nod_signal_watch_print(const struct nod_signal_watch *w, const struct nod_findings *f,
			    FILE *out)
{
	for (size_t i = 0; i < w->count; i++)
		print_one(w->watched[i], f, out);
	if (!w->count)
		fprintf(out, "%s: not heard\n", w->name);
}

static json_t *changes_json(const struct nod_watched *s)
{
	json_t *array = json_array();
	char text[VALUE_TEXT];

	for (uint64_t i = 0; i < kept(s); i++) {
		const struct nod_signal_change *c = change_at(s, i);
		json_t *o = json_object();
		nod_json_put(&o, "time", nod_json_time(c->time));
		nod_json_put(&o, "raw", json_integer(nod_signal_integer(s->signal, c->raw)));
		nod_json_put(&o, "value", json_real(nod_signal_value(s->signal, c->raw)));
		nod_signal_print(text, sizeof(text), s->signal, c->raw);
		nod_json_put(&o, "text", nod_json_text(text));
		nod_json_append(&array, o);
	}
	return array;
}

json_t *nod_signal_watch_json(const struct nod_signal_watch *w, const struct nod_findings *f)
{
	json_t *array = json_array();
	char id[NOD_ID_TEXT];

	for (size_t i = 0; i < w->count; i++) {
		const struct nod_watched *s = w->watched[i];
		json_t *o = json_object();
		nod_json_put(&o, "signal", nod_json_text(s->signal->name));
		nod_json_put(&o, "message", nod_json_text(s->message->name));
		nod_json_put(&o, "id", nod_json_text(nod_id_print(id, s->message->id.first)));
		nod_json_put(&o, "network", nod_json_text(network_name(f, s)));
		nod_json_put(&o, "unit",
			     s->signal->unit ? nod_json_text(s->signal->unit) : json_null());
		nod_json_put(&o, "frames", json_integer((json_int_t)s->frames));
		nod_json_put(&o, "changes", json_integer((json_int_t)s->changes - 1));
		nod_json_put(&o, "values", changes_json(s));
		nod_json_append(&array, o);
	}
	return array;
}
