/* SPDX-License-Identifier: MIT */
#include "counted-table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *const outcomes[FACETS][OUTCOMES] = {
	{"no-node", "ready", "requests-too", "requests-alone"},
	{"stopped", "goes-on", "alone"},
	{"still", "value", "lowest", "switch", "told"},
	{"no-wakes", "never-first", "at-times-first", "first"},
	{"not-tried", "unchanged", "slept", "proved"},
};
static const char *const facets[FACETS] = {"management", "presence", "data", "wake-ups",
					   "isolation"};

static int outcome_count(int facet)
{
	int count = 0;

	while (count < OUTCOMES && outcomes[facet][count])
		count++;
	return count;
}

double table_probability(const struct table *table, int cause, int facet, int outcome)
{
	return (table->seen[cause][facet][outcome] + 1) /
	       (table->all[cause] + outcome_count(facet));
}

void table_print(FILE *out, const struct table *table, const struct counted_over *over)
{
	fprintf(out, "# Counted over %u sessions in trouble", table->sessions);
	if (over->seeds)
		fprintf(out, ": world %u, seeds %llu to %llu", over->world, over->first,
			over->first + over->seeds - 1);
	fprintf(out, ".\n");
	fprintf(out,
		"# facet outcome: of %.0f followers, of %.0f causes; P(seen | follower), "
		"P(seen | cause), log odds\n",
		table->all[0], table->all[1]);
	for (int k = 0; k < FACETS; k++)
		for (int o = 0; o < outcome_count(k); o++) {
			double follower = table_probability(table, 0, k, o);
			double cause = table_probability(table, 1, k, o);
			fprintf(out, "%-10s %-15s %7.0f %7.0f  %.4f  %.4f  %5.2f\n", facets[k],
				outcomes[k][o], table->seen[0][k][o], table->seen[1][k][o],
				follower, cause, log(cause / follower));
		}
}

int table_check(const char *path, const struct table *table, const struct counted_over *over)
{
	char *text = NULL, *kept = NULL;
	size_t size = 0, room = 0;
	FILE *out = open_memstream(&text, &size), *in = fopen(path, "re");
	int status = 1;

	if (out && in) {
		table_print(out, table, over);
		fflush(out);
		status = getdelim(&kept, &room, 0, in) < 0 || !text || strcmp(kept, text) != 0;
	}
	if (out)
		fclose(out);
	if (in)
		fclose(in);
	if (status)
		fprintf(stderr, "%s is not what is counted now:\n%s", path, text ? text : "");
	free(text);
	free(kept);
	return status;
}

int table_read(const char *path, struct table *table)
{
	char line[200], facet[16], outcome[20];
	double followers, causes;
	FILE *in = fopen(path, "re");

	if (!in) {
		perror(path);
		return -1;
	}
	while (fgets(line, sizeof(line), in)) {
		if (sscanf(line, "%15s %19s %lf %lf", facet, outcome, &followers, &causes) != 4)
			continue;
		for (int k = 0; k < FACETS; k++)
			for (int o = 0; o < outcome_count(k); o++) {
				if (strcmp(facet, facets[k]) || strcmp(outcome, outcomes[k][o]))
					continue;
				table->seen[0][k][o] += followers;
				table->seen[1][k][o] += causes;
				table->all[0] += k ? 0 : followers;
				table->all[1] += k ? 0 : causes;
			}
	}
	fclose(in);
	return 0;
}
