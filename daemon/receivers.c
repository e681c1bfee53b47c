/* SPDX-License-Identifier: MIT */
#include "receivers.h"

#include <stdio.h>
#include <string.h>

/* "  can0      123   00000000  ...": a line of one receiver. Others are headings, or
 * "  (can0: no entry)". */
static bool is_of(const char *line, const char *interface)
{
	size_t length = strlen(interface);

	line += strspn(line, " \t");
	return !strncmp(line, interface, length) && (line[length] == ' ' || line[length] == '\t');
}

static bool found_in(const char *directory, const char *list, const char *interface)
{
	char path[256], line[256];
	bool found = false;

	snprintf(path, sizeof(path), "%s/%s", directory, list);
	FILE *file = fopen(path, "re");
	while (file && !found && fgets(line, sizeof(line), file))
		found = is_of(line, interface);
	if (file)
		fclose(file);
	return found;
}

bool nod_receivers_found(const char *directory, const char *interface)
{
	static const char *const lists[] = {"rcvlist_all", "rcvlist_fil", "rcvlist_inv",
					    "rcvlist_sff", "rcvlist_eff"};

	for (size_t i = 0; i < sizeof(lists) / sizeof(lists[0]); i++)
		if (found_in(directory, lists[i], interface))
			return true;
	return false;
}
