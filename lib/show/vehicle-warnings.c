/* SPDX-License-Identifier: MIT */
#include "vehicle-warnings.h"

#include <ctype.h>
#include <stdarg.h>
#include <string.h>
#include <strings.h>

#include "fuse.h"
#include "id-rule.h"
#include "nearest-word.h"
#include "nm-scheme.h"
#include "vehicle-check.h"

struct warnings {
	const struct nod_vehicle *vehicle;
	nod_vehicle_warning *take;
	void *context;
};

__attribute__((format(printf, 3, 4))) static void warn(const struct warnings *w, unsigned line,
						       const char *format, ...)
{
	char text[400];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	w->take(w->context, line, text);
}

/* ---- cautions ---- */

/* The keywords that nodoff acts on, and words in a name that call for one. */
static const struct {
	const char *keyword;
	const char *words[6];
} cautions[] = {
	{"airbag", {"airbag", "air bag", "restraint", "srs", NULL}},
	{"high-voltage",
	 {"high voltage", "high-voltage", "hv battery", "traction", "inverter", NULL}},
	{"alarm", {"alarm", "siren", NULL}},
	{"memory", {NULL}},
};
#define CAUTIONS (sizeof(cautions) / sizeof(cautions[0]))

/* The word with no letter before or behind it. */
static bool has_word(const char *text, const char *word)
{
	size_t length = strlen(word);

	for (const char *at = text; (at = strcasestr(at, word)); at++)
		if ((at == text || !isalpha((unsigned char)at[-1])) &&
		    !isalpha((unsigned char)at[length]))
			return true;
	return false;
}

static void warn_misspelt(const struct warnings *w, unsigned line, const char *name,
			  char *const *items, size_t count)
{
	for (size_t i = 0; i < count; i++) {
		struct nod_nearest nearest = {.word = items[i]};
		for (size_t k = 0; k < CAUTIONS; k++)
			nod_nearest_offer(&nearest, cautions[k].keyword);
		if (nearest.best && nearest.distance)
			warn(w, line, "`%s`: the caution `%s` is only shown; nodoff acts on `%s`",
			     name, items[i], nearest.best);
	}
}

/* Only airbag and high voltage can hurt; for those, silence is not enough. */
static void warn_without_caution(const struct warnings *w, unsigned line, const char *name,
				 char *const *items, size_t count)
{
	for (size_t k = 0; k < 2; k++) {
		bool named = false;
		for (size_t i = 0; cautions[k].words[i]; i++)
			named |= has_word(name, cautions[k].words[i]);
		if (named && !nod_cautions_contain(items, count, cautions[k].keyword))
			warn(w, line,
			     "`%s` has no caution `%s`, so nodoff may propose to isolate it", name,
			     cautions[k].keyword);
	}
}

/* ---- networks ---- */

static bool anyone_on(const struct nod_vehicle *v, int network)
{
	for (size_t i = 0; i < v->module_count; i++)
		if (nod_module_sits_on(&v->modules[i], network))
			return true;
	return !v->module_count;
}

/* Where the two open implementations that the NM layouts come from put their
 * messages (CanNm_Cfg.c, OsekNm_Cfg.c); car makers vary. */
static const struct nod_id_rule usual_nm[] = {{.first = 0x400, .last = 0x43F},
					      {.first = 0x500, .last = 0x53F}};

static bool claims_in(const struct nod_module *module, const struct nod_id_rule *range)
{
	uint32_t id;

	for (size_t i = 0; i < module->id_count; i++)
		if (nod_id_rules_overlap(&module->ids[i], range, &id))
			return true;
	return false;
}

static void warn_of_nm_like_ids(const struct warnings *w, int network)
{
	const struct nod_network *n = &w->vehicle->networks[network];

	if (n->nm.scheme != NOD_NM_UNKNOWN || n->nm.ids_given)
		return;
	for (size_t r = 0; r < sizeof(usual_nm) / sizeof(usual_nm[0]); r++) {
		char text[NOD_ID_RULE_TEXT];
		size_t modules = 0;
		for (size_t i = 0; i < w->vehicle->module_count; i++)
			modules += nod_module_sits_on(&w->vehicle->modules[i], network) &&
				   claims_in(&w->vehicle->modules[i], &usual_nm[r]);
		if (modules > 1)
			warn(w, n->line,
			     "network `%s`: %zu modules have IDs in %s, where network management "
			     "often is; say so under `management`, or `scheme: none`",
			     n->name, modules, nod_id_rule_print(text, &usual_nm[r]));
	}
}

static void warn_of_network(const struct warnings *w, int network)
{
	const struct nod_network *n = &w->vehicle->networks[network];
	const struct nod_nm_scheme_row *row = nod_nm_scheme_row(n->nm.scheme);

	if (!n->interface_count)
		warn(w, n->line, "network `%s` has no interfaces: no recording belongs to it",
		     n->name);
	if (!anyone_on(w->vehicle, network))
		warn(w, n->line, "network `%s`: no module sits on it", n->name);
	if (n->data_bitrate && n->data_bitrate < n->bitrate)
		warn(w, n->line, "network `%s`: the data bitrate is below the bitrate", n->name);
	if (!row->has_bytes && n->nm.partial_first >= 0)
		warn(w, n->line, "network `%s`: only scheme autosar has partial network bytes",
		     n->name);
	if (n->nm.ids_given && n->nm.scheme != NOD_NM_UNKNOWN && !row->has_messages)
		warn(w, n->line,
		     "network `%s`: the IDs under `management` have no meaning for "
		     "scheme %s",
		     n->name, row->word);
	warn_of_nm_like_ids(w, network);
}

/* ---- fuses ---- */

static bool feeds_module(const struct nod_vehicle *v, int fuse)
{
	for (size_t i = 0; i < v->module_count; i++)
		for (size_t k = 0; k < v->modules[i].fuse_count; k++)
			if (v->modules[i].fuses[k] == fuse)
				return true;
	return false;
}

static void warn_of_fuse(const struct warnings *w, int fuse)
{
	const struct nod_fuse *f = &w->vehicle->fuses[fuse];
	struct nod_fuse_resistance resistance;
	struct nod_error err = {""};

	if (!f->feed_count && !feeds_module(w->vehicle, fuse))
		warn(w, f->line, "fuse `%s` feeds nothing", f->name);
	if (!f->resistance_uohm && (!f->family || !f->rating_ma))
		warn(w, f->line,
		     "fuse `%s` needs family and rating to turn millivolts into milliamps",
		     f->name);
	if (f->family && f->rating_ma && nod_fuse_resistance_of(&resistance, f, &err))
		warn(w, f->line, "%s", err.text);
	if (nod_vehicle_module_by_name(w->vehicle, f->name) != NOD_NONE)
		warn(w, f->line,
		     "`%s` is a fuse and a module; in the journal it means the fuse, unless "
		     "`module` stands before it",
		     f->name);
	warn_misspelt(w, f->line, f->name, f->cautions, f->caution_count);
}

/* ---- modules ---- */

static bool on_scheme(const struct nod_vehicle *v, const struct nod_module *m, bool j1939)
{
	for (size_t i = 0; i < v->network_count; i++) {
		const struct nod_nm_layout *nm = &v->networks[i].nm;
		bool may = j1939 ? nm->scheme == NOD_NM_J1939 || nm->scheme == NOD_NM_UNKNOWN
				 : nm->scheme != NOD_NM_J1939 && nm->scheme != NOD_NM_NONE;
		if (may && nod_module_sits_on(m, (int)i))
			return true;
	}
	return false;
}

static void warn_of_module(const struct warnings *w, const struct nod_module *m)
{
	if (!m->id_count && !m->node_count && !m->source_address_count)
		warn(w, m->line, "module `%s` has no IDs: nodoff cannot see it on the network",
		     m->name);
	if (m->source_address_count && !on_scheme(w->vehicle, m, true))
		warn(w, m->line,
		     "module `%s`: a source address has a meaning only on a network "
		     "of scheme j1939",
		     m->name);
	if (m->node_count && !on_scheme(w->vehicle, m, false))
		warn(w, m->line,
		     "module `%s`: a node has a meaning only on a network of scheme "
		     "autosar or osek",
		     m->name);
	if (m->gateway && m->network_count == 1)
		warn(w, m->line, "module `%s` is a gateway but sits on one network", m->name);
	warn_without_caution(w, m->line, m->name, m->cautions, m->caution_count);
	warn_misspelt(w, m->line, m->name, m->cautions, m->caution_count);
}

/* One warning for all, as a young map has many of them. */
static void warn_of_missing_fuses(const struct warnings *w)
{
	const struct nod_module *first = NULL;
	size_t count = 0;

	for (size_t i = 0; i < w->vehicle->module_count; i++) {
		const struct nod_module *m = &w->vehicle->modules[i];
		if (m->fuse_count)
			continue;
		first = first ? first : m;
		count++;
	}
	if (count == 1)
		warn(w, first->line, "module `%s` has no fuse: nodoff cannot say which one to pull",
		     first->name);
	if (count > 1)
		warn(w, first->line,
		     "module `%s` and %zu more have no fuse: nodoff cannot say which one to pull",
		     first->name, count - 1);
}

void nod_vehicle_warn(const struct nod_vehicle *vehicle, nod_vehicle_warning *take, void *context)
{
	struct warnings w = {vehicle, take, context};

	for (size_t i = 0; i < vehicle->network_count; i++)
		warn_of_network(&w, (int)i);
	for (size_t i = 0; i < vehicle->fuse_count; i++)
		warn_of_fuse(&w, (int)i);
	for (size_t i = 0; i < vehicle->module_count; i++)
		warn_of_module(&w, &vehicle->modules[i]);
	warn_of_missing_fuses(&w);
}
