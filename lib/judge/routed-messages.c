/* SPDX-License-Identifier: MIT */
/* Messages that a gateway hands on with their ID: heard on two networks, they are the
 * module's on one of them and the gateway's on the other. Where the map says on which networks a
 * module sits this is plain; where it does not, a module is at home where most of
 * its messages are heard, and what of them is heard elsewhere as well is routed. */
#include <errno.h>

#include "analysis.h"
#include "lookup.h"
#include "nm-watch.h"

/* How many messages of a sender are on each network. */
struct homes {
	const struct nod_findings *f;
	size_t networks;
	unsigned *count;  /* by sender, by network */
	uint64_t *frames; /* the same */
	nod_time *last;   /* the same: of the latest frame */
};

static size_t place(const struct homes *h, int sender, size_t network)
{
	return (size_t)sender * h->networks + network;
}

/* More messages; then more frames, as a copy is made at most of each, while the other network is
 * awake; then the earlier last frame, as the original comes before its copy. */
static bool is_likelier_home(const struct homes *h, size_t here, size_t there)
{
	if (h->count[here] != h->count[there])
		return h->count[here] > h->count[there];
	if (h->frames[here] != h->frames[there])
		return h->frames[here] > h->frames[there];
	return h->count[here] && h->last[here].ns < h->last[there].ns;
}

static int home_of(const struct homes *h, int sender)
{
	size_t best = 0;

	for (size_t n = 1; n < h->networks; n++)
		if (is_likelier_home(h, place(h, sender, n), place(h, sender, best)))
			best = n;
	return (int)best;
}

static bool may_be_routed(const struct nod_findings *f, const struct nod_ident_finding *ident)
{
	const struct nod_sender_finding *s = &f->senders[ident->sender];

	return s->kind == NOD_SENDER_MODULE && !s->gateway &&
	       !f->vehicle->modules[s->module].network_count;
}

static int count_homes(struct nod_analysis *a, struct homes *h)
{
	size_t room = h->networks * a->f->sender_count + 1;

	h->count = nod_arena_alloc(a->arena, room * sizeof(*h->count));
	h->frames = nod_arena_alloc(a->arena, room * sizeof(*h->frames));
	h->last = nod_arena_alloc(a->arena, room * sizeof(*h->last));
	if (!h->count || !h->frames || !h->last)
		return -ENOMEM;
	for (size_t i = 0; i < room; i++)
		h->last[i] = NOD_TIME_NONE;
	for (size_t i = 0; i < a->f->ident_count; i++) {
		const struct nod_ident_finding *ident = &a->f->idents[i];
		size_t k = place(h, ident->sender, (size_t)ident->network);
		h->count[k]++;
		h->frames[k] += ident->frames;
		h->last[k] = ident->last.ns > h->last[k].ns ? ident->last : h->last[k];
	}
	return 0;
}

/* The gateway of the map that sits on this network; NOD_NONE. */
static int gateway_on(const struct nod_vehicle *v, int network)
{
	for (size_t m = 0; m < v->module_count; m++) {
		bool on = v->modules[m].gateway && !v->modules[m].network_count;
		for (size_t i = 0; v->modules[m].gateway && i < v->modules[m].network_count; i++)
			on |= v->modules[m].networks[i] == network;
		if (on)
			return (int)m;
	}
	return NOD_NONE;
}

/* Whoever hands it on: the map's gateway, or one that the map does not know. */
static int router_of(struct nod_analysis *a, const struct nod_ident_finding *ident)
{
	int module = gateway_on(a->f->vehicle, ident->network);
	struct nod_sender sender = {NOD_SENDER_MODULE, module, ident->network, 0};

	if (module == NOD_NONE)
		sender = (struct nod_sender){NOD_SENDER_ID, NOD_NONE, ident->network, ident->id};
	int index = nod_analysis_sender(a, &sender);
	a->f->senders[index].gateway = true;
	if (module == NOD_NONE)
		a->f->senders[index].name = nod_arena_printf(
			a->arena,
			"a gateway that the map does not know (it hands on messages of %s)",
			a->f->senders[ident->sender].name);
	return index;
}

/* A module of the map that has messages of its own on two networks passes wakefulness on as
 * a gateway does. */
static void mark_gateways(struct nod_findings *f)
{
	for (size_t i = 0; i < f->ident_count; i++) {
		struct nod_sender_finding *s = &f->senders[f->idents[i].sender];
		s->gateway |= s->kind == NOD_SENDER_MODULE && f->idents[i].network != s->network;
	}
}

static bool is_coordinator(const struct nod_analysis *a, const struct nod_ident_finding *finding)
{
	const struct nod_track *track = nod_engine_track(a->engine, (size_t)finding->network);
	const struct nod_ident *ident = track && finding->management
						? nod_idents_find(&track->idents, finding->id)
						: NULL;

	return ident && ident->node && track->nm.scheme == NOD_NM_AUTOSAR &&
	       nod_nm_watch_coordinates(ident->node);
}

/* Few of a network's nodes are coordinators: a bit that many have means something else. One may
 * be, however few there are, when not all have it. */
#define COORDINATORS_MOST 0.34

static bool are_believable(unsigned coordinators, unsigned nodes)
{
	return coordinators == 1 ? nodes > 1 : coordinators <= COORDINATORS_MOST * nodes;
}

static void mark_coordinators(struct nod_analysis *a, int network)
{
	struct nod_findings *f = a->f;
	unsigned nodes = 0, coordinators = 0;

	for (size_t i = 0; i < f->ident_count; i++)
		if (f->idents[i].network == network && f->idents[i].management) {
			nodes++;
			coordinators += is_coordinator(a, &f->idents[i]);
		}
	if (!are_believable(coordinators, nodes))
		return;
	for (size_t i = 0; coordinators && i < f->ident_count; i++)
		if (f->idents[i].network == network && is_coordinator(a, &f->idents[i]))
			f->senders[f->idents[i].sender].gateway = true;
}

int nod_analysis_find_routed(struct nod_analysis *a)
{
	struct nod_findings *f = a->f;
	struct homes h = {.f = f, .networks = a->engine->track_room};
	size_t count = f->sender_count;

	for (size_t i = 0; i < count; i++)
		f->senders[i].gateway = f->senders[i].kind == NOD_SENDER_MODULE &&
					f->vehicle->modules[f->senders[i].module].gateway;
	if (count_homes(a, &h))
		return -ENOMEM;
	for (size_t i = 0; i < count; i++)
		if (f->senders[i].kind == NOD_SENDER_MODULE)
			f->senders[i].network = home_of(&h, (int)i);
	for (size_t i = 0; i < f->ident_count; i++) {
		struct nod_ident_finding *ident = &f->idents[i];
		int home = f->senders[ident->sender].network;
		if ((size_t)ident->sender < count && ident->network != home &&
		    may_be_routed(f, ident) && nod_lookup_ident(f, home, ident->id))
			ident->sender = router_of(a, ident);
	}
	mark_gateways(f);
	for (size_t n = 0; n < h.networks; n++)
		mark_coordinators(a, (int)n);
	return 0;
}
