/* SPDX-License-Identifier: MIT */
/* What was used, in words. */
#include <errno.h>
#include <string.h>

#include "recall-internal.h"

#define LINES_MAX 8
#define NAMES_MAX 3 /* senders and sessions named in a sentence. Chosen: two lines */

static const char *plural(size_t n)
{
	return n == 1 ? "" : "s";
}

static const char *name_of(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash && slash[1] ? slash + 1 : path;
}

static const char *brief(struct nod_arena *arena, const struct nod_known *k)
{
	const char *parts[3], *text = "";
	size_t count = 0;

	if (k->good)
		parts[count++] = "its last good sleep";
	if (k->earlier_count)
		parts[count++] = nod_arena_printf(arena, "%zu earlier session%s", k->earlier_count,
						  plural(k->earlier_count));
	if (k->sender_count)
		parts[count++] = nod_arena_printf(arena, "%u solved car%s like it", k->solved,
						  plural(k->solved));
	for (size_t i = 0; i < count; i++)
		text = nod_arena_printf(arena, "%s%s%s", text, i ? ", " : "Known: ", parts[i]);
	return count ? nod_arena_printf(arena, "%s.", text) : "";
}

static const char *earlier(struct nod_arena *arena, const struct nod_known *k)
{
	const char *names = "";

	for (size_t i = 0; i < k->earlier_count && i < NAMES_MAX; i++)
		names = nod_arena_printf(arena, "%s%s%s", names, i ? ", " : "",
					 name_of(k->earlier[i]));
	return nod_arena_printf(
		arena,
		"%zu earlier session%s of this car (by its VIN): what was isolated there since its "
		"last good sleep counts here: %s%s.",
		k->earlier_count, plural(k->earlier_count), names,
		k->earlier_count > NAMES_MAX ? ", ..." : "");
}

static const char *solved(struct nod_arena *arena, const struct nod_known *k)
{
	const char *names = "";

	for (size_t i = 0; i < k->sender_count && i < NAMES_MAX; i++)
		names = nod_arena_printf(arena, "%s%s%s in %u", names, i ? ", " : "",
					 k->senders[i].name, k->senders[i].cars);
	return nod_arena_printf(arena,
				"Of %u car%s with these messages that %s solved, it was %s%s.",
				k->solved, plural(k->solved), k->solved == 1 ? "was" : "were",
				*names ? names : "none heard here",
				k->sender_count > NAMES_MAX ? ", and others" : "");
}

int nod_recall_words(struct nod_recalling *r)
{
	struct nod_known *k = r->known;
	const char **lines = nod_arena_alloc(r->arena, LINES_MAX * sizeof(*lines));

	if (!lines)
		return -ENOMEM;
	k->brief = brief(r->arena, k);
	if (k->good)
		lines[k->line_count++] = nod_arena_printf(
			r->arena,
			"The last good sleep of this car (by its VIN) is what it is compared with: %s.",
			name_of(k->good));
	if (k->earlier_count)
		lines[k->line_count++] = earlier(r->arena, k);
	if (k->solved)
		lines[k->line_count++] = solved(r->arena, k);
	lines[k->line_count++] = nod_arena_printf(
		r->arena, "Looked through: %u recording%s, %u of other cars like this one%s.",
		k->recordings, plural(k->recordings), k->like,
		k->unread ? nod_arena_printf(r->arena, "; %u more cannot be read", k->unread) : "");
	if (!*r->self->vin && !r->wish->no_good && !r->wish->no_earlier)
		lines[k->line_count++] =
			"The recording does not say whose it is: with the VIN in the journal (`nodoff "
			"mark note VIN ...`) its last good sleep and earlier sessions are found.";
	k->lines = lines;
	return r->arena->failed ? -ENOMEM : 0;
}
