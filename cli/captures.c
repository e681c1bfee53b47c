/* SPDX-License-Identifier: MIT */
#include "captures.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "door.h"

/* Bad lines told one by one. Chosen: half a screen. */
#define DEFECTS_TOLD 10

static bool names_standard_input_twice(char **paths, size_t count)
{
	int found = 0;
	for (size_t i = 0; i < count; i++)
		found += !strcmp(paths[i], "-");
	return found > 1;
}

struct nod_source *nod_captures_open(char **paths, size_t count, struct nod_interfaces *names)
{
	struct nod_error err = {""};

	if (names_standard_input_twice(paths, count)) {
		nod_unreadable("standard input (\"-\") can be read once only");
		return NULL;
	}
	struct nod_source **sources = calloc(count, sizeof(struct nod_source *));
	if (!sources) {
		nod_unreadable("out of memory");
		return NULL;
	}
	size_t opened = 0;
	while (opened < count && (sources[opened] = nod_source_open(paths[opened], names, &err)))
		opened++;
	struct nod_source *result = NULL;
	if (opened < count) {
		nod_unreadable("%s", err.text);
		while (opened)
			nod_source_close(sources[--opened]);
	} else if (count == 1) {
		result = sources[0];
	} else if (!(result = nod_source_merge(sources, count))) {
		nod_unreadable("out of memory");
	}
	free(sources);
	return result;
}

void nod_defect_tell(struct nod_defect_report *report, const struct nod_event *event)
{
	if (report->told == DEFECTS_TOLD) {
		report->untold++;
		return;
	}
	report->told++;
	nod_door_line(stderr, "%s:%" PRIu64 ":", event->defect.file, event->defect.line);
	if (event->defect.column)
		fprintf(stderr, "%u:", event->defect.column);
	fprintf(stderr, " %s\n", event->defect.reason);
}

void nod_defect_sum_up(const struct nod_defect_report *report)
{
	if (report->untold)
		fprintf(stderr, "... and %lu more; %lu lines could not be read\n", report->untold,
			report->told + report->untold);
}
