/* SPDX-License-Identifier: MIT */
/* Names of a vehicle file as people say them. */
#include <ctype.h>
#include <string.h>
#include <strings.h>

#include "vehicle.h"

/* Longer than any name with the words around it; longer subjects are none. */
#define SUBJECT_ROOM 200

int nod_vehicle_fuse_by_name(const struct nod_vehicle *vehicle, const char *name)
{
	for (size_t i = 0; i < vehicle->fuse_count; i++)
		if (!strcasecmp(vehicle->fuses[i].name, name))
			return (int)i;
	return NOD_NONE;
}

int nod_vehicle_module_by_name(const struct nod_vehicle *vehicle, const char *name)
{
	for (size_t i = 0; i < vehicle->module_count; i++)
		if (!strcasecmp(vehicle->modules[i].name, name))
			return (int)i;
	return NOD_NONE;
}

static const char *skip_marks(const char *text)
{
	return text + strspn(text, " -_");
}

/* Equal but for case, blanks, hyphens and underscores. */
static bool sounds_like(const char *a, const char *b)
{
	for (;;) {
		a = skip_marks(a);
		b = skip_marks(b);
		if (tolower((unsigned char)*a) != tolower((unsigned char)*b))
			return false;
		if (!*a)
			return true;
		a++, b++;
	}
}

/* The one fuse (or module) whose name sounds like this; NOD_NONE when there
 * are none or several. */
static int fuse_by_sound(const struct nod_vehicle *vehicle, const char *name)
{
	int found = NOD_NONE;

	for (size_t i = 0; i < vehicle->fuse_count; i++) {
		if (!sounds_like(vehicle->fuses[i].name, name))
			continue;
		if (found != NOD_NONE)
			return NOD_NONE;
		found = (int)i;
	}
	return found;
}

static int module_by_sound(const struct nod_vehicle *vehicle, const char *name)
{
	int found = NOD_NONE;

	for (size_t i = 0; i < vehicle->module_count; i++) {
		if (!sounds_like(vehicle->modules[i].name, name))
			continue;
		if (found != NOD_NONE)
			return NOD_NONE;
		found = (int)i;
	}
	return found;
}

struct meaning {
	const struct nod_vehicle *vehicle;
	int fuse, module;
};

static bool is_fuse(struct meaning *m, const char *name)
{
	m->fuse = nod_vehicle_fuse_by_name(m->vehicle, name);
	if (m->fuse == NOD_NONE)
		m->fuse = fuse_by_sound(m->vehicle, name);
	return m->fuse != NOD_NONE;
}

static bool is_module(struct meaning *m, const char *name)
{
	m->module = nod_vehicle_module_by_name(m->vehicle, name);
	if (m->module == NOD_NONE)
		m->module = module_by_sound(m->vehicle, name);
	return m->module != NOD_NONE;
}

/* Behind a leading word, or NULL when it is not there. */
static const char *behind(const char *text, const char *word)
{
	size_t length = strlen(word);

	return !strncasecmp(text, word, length) && text[length] == ' ' ? text + length + 1 : NULL;
}

/* Cuts a closing word off; false when it is not there. */
static bool cut_end(char *text, const char *word)
{
	size_t length = strlen(text), end = strlen(word);

	if (length <= end || text[length - end - 1] != ' ' || strcasecmp(text + length - end, word))
		return false;
	text[length - end - 1] = 0;
	return true;
}

/* Copies without blanks at the ends and with single ones between words. */
static bool tidy(char *out, size_t room, const char *text)
{
	size_t used = 0;

	for (; *text; text++) {
		char c = *text == '\t' ? ' ' : *text;
		if (c == ' ' && (!used || out[used - 1] == ' '))
			continue;
		if (used + 1 >= room)
			return false;
		out[used++] = c;
	}
	if (used && out[used - 1] == ' ')
		used--;
	out[used] = 0;
	return used;
}

static bool resolve(struct meaning *m, const char *subject)
{
	char text[SUBJECT_ROOM];
	const char *name = text, *rest;

	if (!tidy(text, sizeof(text), subject))
		return false;
	if (is_fuse(m, name) || is_module(m, name))
		return true;
	if ((rest = behind(name, "the"))) {
		name = rest;
		if (is_fuse(m, name) || is_module(m, name))
			return true;
	}
	if ((rest = behind(name, "fuse")) && is_fuse(m, rest))
		return true;
	if ((rest = behind(name, "module")) && is_module(m, rest))
		return true;
	if (cut_end(text, "fuse"))
		return is_fuse(m, name);
	return cut_end(text, "module") && is_module(m, name);
}

bool nod_vehicle_resolve(const struct nod_vehicle *vehicle, const char *subject, int *fuse,
			 int *module)
{
	struct meaning m = {vehicle, NOD_NONE, NOD_NONE};
	bool found = resolve(&m, subject);

	*fuse = found ? m.fuse : NOD_NONE;
	*module = found ? m.module : NOD_NONE;
	return found;
}

bool nod_cautions_contain(char *const *cautions, size_t count, const char *keyword)
{
	for (size_t i = 0; i < count; i++)
		if (!strcasecmp(cautions[i], keyword))
			return true;
	return false;
}
