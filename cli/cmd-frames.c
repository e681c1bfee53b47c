/* SPDX-License-Identifier: MIT */
/* nodoff frames: what nodoff reads in a capture, frame by frame. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "captures.h"
#include "command.h"
#include "frames-json.h"
#include "option.h"
#include "frame-text.h"

static const char help[] =
	"usage: nodoff frames [OPTION ...] CAPTURE ...\n"
	"\n"
	"Prints every frame of the captures as a line of a candump log, merged by\n"
	"time. A capture is a candump log, candump's screen form with times, pcap,\n"
	"pcapng, ASC, TRC, BLF, CSV or the log of a serial adapter, each plain, gzip or\n"
	"zstd; \"-\" is standard input. Lines that cannot be read are named on standard\n"
	"error and left out; when nothing can be read, the exit status is 4.\n"
	"\n"
	"  -c, --count   print what was found in figures instead of the frames\n"
	"  -s, --strict  stop with exit status 4 at the first line that cannot be read\n"
	"  -j, --json    an object a line instead of the log; with --count one object\n"
	"  -h, --help    print this help\n";

struct options {
	bool count, strict, json;
};

/* Standard output with its buffer, and the running totals of lost frames. */
struct listing {
	struct nod_interfaces names;
	struct nod_defect_report defects;
	uint64_t lost[256];
};

/* candump's own words, so that the listing can be read like the capture. */
static void print_loss(struct listing *listing, const struct nod_event *event)
{
	unsigned interface = event->loss.interface;

	listing->lost[interface] += event->loss.count;
	printf("DROPCOUNT: dropped %" PRIu64 " CAN frame%s on '%s' socket (total drops %" PRIu64
	       ")\n",
	       event->loss.count, event->loss.count == 1 ? "" : "s",
	       interface == NOD_ALL_INTERFACES ? "any" : listing->names.names[interface],
	       listing->lost[interface]);
}

static void print_event(struct listing *listing, const struct nod_event *event)
{
	char line[NOD_FRAME_TEXT];

	switch (event->kind) {
	case NOD_EVENT_FRAME:
		fwrite(line, 1,
		       nod_frame_print(line, &event->frame,
				       listing->names.names[event->frame.interface]),
		       stdout);
		break;
	case NOD_EVENT_LOSS:
		print_loss(listing, event);
		break;
	case NOD_EVENT_HEADER:
		printf("# %s: %s\n", event->header.key, event->header.value);
		break;
	default:
		break;
	}
}

static void print_counts(const struct nod_source *source)
{
	struct nod_source_counts n;
	char back[NOD_TIME_TEXT];

	nod_source_counts(source, &n);
	printf("form               %s\n", nod_source_form(source));
	printf("lines or packets   %" PRIu64 "\n", n.lines);
	printf("frames             %" PRIu64 "\n", n.frames);
	printf("error reports      %" PRIu64 "\n", n.errors);
	printf("not readable       %" PRIu64 "\n", n.defects);
	printf("reported lost      %" PRIu64 "\n", n.lost);
	printf("steps back in time %" PRIu64 "\n", n.back_steps);
	printf("largest step back  %s s\n",
	       nod_duration_print_seconds(back, n.largest_back_step, 6));
	printf("end cut off        %s\n", n.unended ? "only its newline" : n.torn ? "yes" : "no");
}

/* The source counts them itself. */
static void pass_frames(struct nod_source *source)
{
	struct nod_frame frames[64];

	while (nod_source_frames(source, frames, sizeof(frames) / sizeof(frames[0])))
		;
}

/* Returns 0 or NOD_EXIT_UNREADABLE. */
static int read_all(struct listing *listing, struct nod_source *source,
		    const struct options *options)
{
	const struct nod_event *event;
	struct nod_error err = {""};
	int status;

	while ((status = nod_source_next(source, &event, &err)) > 0) {
		if (event->kind == NOD_EVENT_DEFECT) {
			nod_defect_tell(&listing->defects, event);
			if (options->strict)
				return NOD_EXIT_UNREADABLE;
		} else if (!options->count && options->json) {
			nod_frames_json_event(&listing->names, event);
		} else if (!options->count) {
			print_event(listing, event);
		}
		if (options->count)
			pass_frames(source);
	}
	nod_defect_sum_up(&listing->defects);
	struct nod_source_counts counts;
	nod_source_counts(source, &counts);
	if (counts.unended)
		fprintf(stderr, "nodoff: the last line has no newline; it is taken as it stands\n");
	else if (counts.torn)
		fprintf(stderr, "nodoff: the end of a capture is cut off\n");
	if (status < 0)
		return nod_unreadable("%s", err.text);
	return counts.defects && !counts.frames
		       ? nod_unreadable("nothing could be read: %" PRIu64
					" line%s, none of them a frame",
					counts.defects, counts.defects == 1 ? "" : "s")
		       : NOD_EXIT_OK;
}

static int list_frames(char **paths, int count, const struct options *options)
{
	struct listing listing = {0};
	struct nod_source *source = nod_captures_open(paths, (size_t)count, &listing.names);

	if (!source)
		return NOD_EXIT_UNREADABLE;
	int status = read_all(&listing, source, options);
	if (options->count && options->json)
		nod_frames_json_counts(source);
	else if (options->count)
		print_counts(source);
	nod_source_close(source);
	if (fflush(stdout) || ferror(stdout))
		return nod_unreadable("standard output cannot be written");
	return status;
}

int nod_cmd_frames(int argc, char **argv);

int nod_cmd_frames(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_FLAG('c', "count", struct options, count),
						 NOD_FLAG('s', "strict", struct options, strict),
						 NOD_FLAG('j', "json", struct options, json),
						 {0}};
	static const struct nod_options options = {.command = "frames", .help = help, .list = list};
	struct options wanted = {0};
	int status, first = nod_options_walk(&options, &wanted, argc, argv, &status);

	if (!first)
		return status;
	if (first == argc)
		return nod_usage("frames", "name at least one capture");
	return list_frames(argv + first, argc - first, &wanted);
}
