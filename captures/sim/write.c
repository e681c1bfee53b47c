/* SPDX-License-Identifier: MIT */
#include "write.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "truth.h"

enum { FILE_FRAMES, FILE_JOURNAL, FILE_CURRENT, FILE_VEHICLE, FILE_TRUTH, FILES };

struct session {
	const char *directory;
	FILE *files[FILES];
	const struct nod_interfaces *interfaces;
	uint64_t lost[256];
};

static FILE *file(struct session *s, int which)
{
	static const char *const names[FILES] = {"frames.log", "journal.log", "current.log",
						 "vehicle.yaml", "truth.txt"};
	char path[4096];

	if (!s->files[which]) {
		snprintf(path, sizeof(path), "%s/%s", s->directory, names[which]);
		s->files[which] = fopen(path, "w");
	}
	return s->files[which];
}

static const char *interface_name(const struct session *s, unsigned index)
{
	return index < s->interfaces->count ? s->interfaces->names[index] : "all";
}

static void write_frame(const struct session *s, FILE *out, const struct nod_frame *frame)
{
	static const char digits[] = "0123456789ABCDEF";
	char time[NOD_TIME_TEXT], id[NOD_ID_TEXT], hex[17];

	for (int i = 0; i < frame->length; i++) {
		hex[2 * i] = digits[frame->data[i] >> 4];
		hex[2 * i + 1] = digits[frame->data[i] & 15];
	}
	hex[2 * frame->length] = '\0';
	/* An error report is written as candump does: eight digits, flag and all. */
	if (nod_frame_is_error(frame))
		snprintf(id, sizeof(id), "%08" PRIX32, frame->id);
	else
		nod_id_print(id, frame->id);
	const char *separator = frame->flags & NOD_FRAME_FD ? "##1" : "#"; /* 1: bit rate switch */
	fprintf(out, "(%s) %s %s%s%s\n", nod_time_print(time, frame->time, 6),
		interface_name(s, frame->interface), id, separator, hex);
}

/* The console's and the log's words for what the kernel could not deliver. */
static void write_loss(struct session *s, FILE *out, const struct nod_event *event)
{
	unsigned i = event->loss.interface;

	s->lost[i] += event->loss.count;
	fprintf(out,
		"DROPCOUNT: dropped %" PRIu64 " CAN frame%s on '%s' socket (total drops %" PRIu64
		")\n",
		event->loss.count, event->loss.count > 1 ? "s" : "", interface_name(s, i),
		s->lost[i]);
}

static void write_mark(FILE *out, const struct nod_mark *mark)
{
	char time[NOD_TIME_TEXT];

	fprintf(out, "(%s) %s%s%s\n", nod_time_print(time, mark->time, 6),
		nod_mark_kind_name(mark->kind), *mark->subject ? " " : "", mark->subject);
}

static void write_gap(const struct session *s, FILE *out, const struct nod_event *event)
{
	char time[NOD_TIME_TEXT], length[NOD_TIME_TEXT];

	fprintf(out, "(%s) %s %s %s s\n", nod_time_print(time, event->time, 6),
		nod_mark_kind_name(NOD_MARK_GAP), interface_name(s, event->gap.interface),
		nod_duration_print_seconds(length, nod_time_since(event->time, event->gap.from),
					   6));
}

static void write_clock(FILE *out, const struct nod_event *event)
{
	char time[NOD_TIME_TEXT], step[NOD_TIME_TEXT];

	fprintf(out, "(%s) %s %s%s s\n", nod_time_print(time, event->time, 6),
		nod_mark_kind_name(NOD_MARK_CLOCK_STEP), event->clock.step.ns > 0 ? "+" : "",
		nod_duration_print_seconds(step, event->clock.step, 6));
}

static void write_current(FILE *out, const struct nod_event *event)
{
	char time[NOD_TIME_TEXT];
	int64_t ua = event->current.microamps, size = ua < 0 ? -ua : ua;

	fprintf(out, "(%s) %s%" PRId64 ".%06" PRId64 " A\n", nod_time_print(time, event->time, 6),
		ua < 0 ? "-" : "", size / 1000000, size % 1000000);
}

/* Where the supply failed a line was begun; what the logger writes first when it is back goes on
 * behind it and is lost with it. */
static void write_torn(FILE *out, const struct nod_event *event)
{
	char time[NOD_TIME_TEXT];

	fprintf(out, "(%s", nod_time_print(time, event->time, 6));
}

static int write_event(struct session *s, const struct nod_event *event)
{
	bool journal = event->kind == NOD_EVENT_MARK || event->kind == NOD_EVENT_GAP ||
		       event->kind == NOD_EVENT_CLOCK;
	FILE *out = file(s, journal                            ? FILE_JOURNAL
			    : event->kind == NOD_EVENT_CURRENT ? FILE_CURRENT
							       : FILE_FRAMES);

	if (!out)
		return -errno;
	if (event->kind == NOD_EVENT_FRAME)
		write_frame(s, out, &event->frame);
	else if (event->kind == NOD_EVENT_LOSS)
		write_loss(s, out, event);
	else if (event->kind == NOD_EVENT_DEFECT)
		write_torn(out, event);
	else if (event->kind == NOD_EVENT_GAP)
		write_gap(s, out, event);
	else if (event->kind == NOD_EVENT_CLOCK)
		write_clock(out, event);
	else if (event->kind == NOD_EVENT_CURRENT)
		write_current(out, event);
	else if (event->kind == NOD_EVENT_MARK)
		write_mark(out, &event->mark);
	else if (event->kind == NOD_EVENT_HEADER)
		fprintf(out, "# %s: %s\n", event->header.key, event->header.value);
	return 0;
}

static int write_all(struct session *s, struct nod_generator *generator)
{
	const struct nod_event *event;
	int result = 0;

	if (!file(s, FILE_FRAMES) || !file(s, FILE_JOURNAL) || !file(s, FILE_VEHICLE) ||
	    !file(s, FILE_TRUTH))
		return -errno;
	fputs("# origin: invented, made by the session generator\n", s->files[FILE_FRAMES]);
	fputs("# Invented, made by the session generator.\n", s->files[FILE_JOURNAL]);
	fputs(nod_generator_map(generator), s->files[FILE_VEHICLE]);
	while (!result && nod_generator_next(generator, &event))
		result = write_event(s, event);
	if (!result && nod_generator_failed(generator))
		result = -ENOMEM;
	if (!result)
		result = sim_truth_write(nod_generator_truth(generator), s->files[FILE_TRUTH]);
	return result;
}

int sim_session_write(struct nod_generator *generator, const char *directory, struct nod_error *err)
{
	struct session s = {.directory = directory,
			    .interfaces = nod_generator_interfaces(generator)};

	if (mkdir(directory, 0777) && errno != EEXIST)
		return nod_error_set(err, errno, "%s: %s", directory, strerror(errno));
	int result = write_all(&s, generator);
	for (int i = 0; i < FILES; i++)
		if (s.files[i] && fclose(s.files[i]) && !result)
			result = -errno;
	if (result)
		nod_error_set(err, -result, "%s: %s", directory, strerror(-result));
	return result;
}
