/* SPDX-License-Identifier: MIT */
#include "mark-forms.h"

#include <errno.h>
#include <string.h>

#include "event.h"

static int interface_index(const struct nod_interfaces *interfaces, const char *name, size_t length)
{
	if (length == 3 && !memcmp(name, "all", 3))
		return NOD_ALL_INTERFACES;
	for (unsigned i = 0; i < interfaces->count; i++)
		if (strlen(interfaces->names[i]) == length &&
		    !memcmp(interfaces->names[i], name, length))
			return (int)i;
	return -ENOENT;
}

int nod_mark_gap(const struct nod_mark *mark, const struct nod_interfaces *interfaces,
		 uint8_t *interface, nod_duration *length)
{
	size_t name = strcspn(mark->subject, " ");

	if (!name || nod_duration_parse(length, mark->subject + name))
		return -EINVAL;
	int index = interface_index(interfaces, mark->subject, name);
	if (index < 0)
		return index;
	*interface = (uint8_t)index;
	return 0;
}

int nod_mark_deaf(const struct nod_mark *mark, const struct nod_interfaces *interfaces,
		  uint8_t *interface)
{
	int index = interface_index(interfaces, mark->subject, strlen(mark->subject));

	if (index >= 0)
		*interface = (uint8_t)index;
	return index < 0 ? index : 0;
}

int nod_mark_clock_step(const struct nod_mark *mark, nod_duration *step)
{
	const char *text = mark->subject;
	int sign = *text == '-' ? -1 : 1;

	if (*text == '-' || *text == '+')
		text++;
	if (nod_duration_parse(step, text))
		return -EINVAL;
	step->ns *= sign;
	return 0;
}
