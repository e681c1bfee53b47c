/* SPDX-License-Identifier: MIT */
/* What a workshop's recordings of like cars add to the answer, and whether they harm.
 *
 * A family is one invented car built several times: the same messages and map, another course of
 * events, and a fault of each car's own, which in a share of them is the weak point of the kind.
 * Half of the others are solved, one in five of these wrongly. The first is judged without and with
 * them, with as many cars of other families in the folder.
 *
 *     families [--first SEED] [--seeds N] [--world N] [--weak PERCENT] [--carried AT_MOST]
 *              [--situation NAME]
 *
 * The seed of a family is SEED times ten and the number of its situation, so that each is a kind of
 * its own.
 *
 * Fails when more than AT_MOST innocents are at 0.9 or named with the folder who are not without. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "engine.h"
#include "generator.h"
#include "likeness.h"
#include "recall.h"

#define OTHERS 8
#define WRONG_PERCENT 20
#define ACCUSED 0.9
#define NAMED 0.5

/* Two that the protocol decides, and those that the traffic alone leaves more or less open. */
static const char *const situations[] = {"holder-autosar",
					 "truck",
					 "holder-no-nm",
					 "holder-producer",
					 "payload-evidence",
					 "input-toggles",
					 "spread-through-gateway",
					 "repeated-waker",
					 "waker-first-frame-missed",
					 "waker-through-gateway"};
#define SITUATIONS (sizeof(situations) / sizeof(*situations))

struct told {
	unsigned first; /* the culprit is the first of the senders */
	unsigned among_three, named, named_wrong, accused;
	double brier;
};

struct score {
	unsigned cars;
	struct told without, with;
	unsigned carried; /* innocents that are named, or at 0.9, only with the folder */
};

/* How like the cars are, of one family and of two. */
struct likeness {
	double least, most, sum;
	unsigned count, like;
};

struct car {
	struct nod_generator *gen;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_findings *f;
	struct nod_car car;
};

static unsigned draw(uint64_t *state)
{
	*state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
	return (unsigned)(*state >> 33);
}

static bool is_culprit(const struct nod_truth *t, const struct nod_findings *f, int sender)
{
	const struct nod_sender_finding *s = &f->senders[sender];

	for (int i = 0; i < t->culprit_count; i++) {
		if (!strcmp(t->culprits[i], s->name))
			return true;
		for (int k = 0; s->kind == NOD_SENDER_ID && k < t->id_count[i]; k++)
			if (t->ids[i][k] == s->number)
				return true;
		if (s->kind == NOD_SENDER_SOURCE_ADDRESS && (int)s->number == t->source_address[i])
			return true;
	}
	return false;
}

static int play(struct car *c, const char *situation, uint64_t seed,
		const struct nod_generator_options *how)
{
	struct nod_error err = {""};
	const struct nod_event *event;

	*c = (struct car){.gen = nod_generator_open(situation, seed, how, &err)};
	const char *map = c->gen ? nod_generator_map(c->gen) : NULL;
	c->vehicle = map ? nod_vehicle_parse(map, strlen(map), "map", &err) : NULL;
	c->engine = c->vehicle ? nod_engine_new(c->vehicle, nod_generator_interfaces(c->gen))
			       : NULL;
	if (!c->engine)
		return fprintf(stderr, "%s: %s\n", situation, err.text), -1;
	while (nod_generator_next(c->gen, &event))
		nod_engine_take(c->engine, event);
	nod_engine_advance(c->engine, nod_generator_truth(c->gen)->end);
	c->f = nod_engine_findings(c->engine);
	return c->f ? 0 : -1;
}

static void end(struct car *c)
{
	nod_findings_free(c->f);
	nod_engine_free(c->engine);
	nod_vehicle_free(c->vehicle);
	if (c->gen)
		nod_generator_close(c->gen);
}

/* The workshop has solved it: it was who it was, or, at times, it took somebody else for it. */
static void solve(struct car *c, uint64_t *state, struct nod_arena *arena)
{
	const struct nod_truth *truth = nod_generator_truth(c->gen);
	bool wrong = draw(state) % 100 < WRONG_PERCENT;
	int start = (int)(draw(state) % (c->f->sender_count + 1)), found = NOD_NONE;

	for (int i = 0; i < (int)c->f->sender_count; i++) {
		int s = (start + i) % (int)c->f->sender_count;
		if (is_culprit(truth, c->f, s) != wrong)
			found = s;
	}
	c->car.proved = found != NOD_NONE;
	c->car.found = found == NOD_NONE ? ""
					 : nod_arena_printf(arena, "%s", c->f->senders[found].name);
	for (size_t i = 0; i < c->car.message_count; i++)
		for (size_t k = 0; k < c->f->ident_count; k++)
			if (c->f->idents[k].id == c->car.messages[i].id)
				c->car.messages[i].found = c->f->idents[k].sender == found;
}

static void tell(struct told *t, const struct car *c)
{
	const struct nod_truth *truth = nod_generator_truth(c->gen);
	bool accused = false, any = false;
	unsigned place = 0;

	for (size_t i = 0; i < c->f->suspect_count; i++) {
		const struct nod_suspect *s = &c->f->suspects[i];
		if (s->kind != NOD_SUSPECT_SENDER)
			continue;
		bool right = is_culprit(truth, c->f, s->sender);
		t->first += right && place == 0;
		t->among_three += right && place < 3 && !any;
		any |= right;
		place++;
		accused |= !right && s->probability >= ACCUSED;
		t->brier += (s->probability - right) * (s->probability - right);
		if (i == 0 && c->f->culprit != NOD_NONE) {
			t->named++;
			t->named_wrong += !right;
		}
	}
	t->accused += accused;
}

static void measure(struct likeness *l, double like)
{
	if (like < 0)
		return;
	l->least = l->count && l->least < like ? l->least : like;
	l->most = l->most > like ? l->most : like;
	l->sum += like;
	l->count++;
	l->like += like >= NOD_LIKE_MIN;
}

/* The first car of a family, judged without and with the folder. */
static int judge(struct score *s, struct car *first, struct nod_arena *arena,
		 const struct nod_car *folder, size_t count)
{
	const struct nod_recall_wish wish = {.no_good = true, .no_earlier = true};
	struct nod_known known;
	struct told before = s->without;

	if (nod_recall(&known, arena, &first->car, first->f, folder, count, &wish))
		return -1;
	s->cars++;
	tell(&s->without, first);
	nod_engine_set_known(first->engine, &known);
	nod_findings_free(first->f);
	first->f = nod_engine_findings(first->engine);
	if (!first->f)
		return -1;
	struct told with = s->with;
	tell(&s->with, first);
	unsigned wrong_with = s->with.named_wrong - with.named_wrong;
	unsigned accused_with = s->with.accused - with.accused;
	s->carried += wrong_with > s->without.named_wrong - before.named_wrong ||
		      accused_with > s->without.accused - before.accused;
	return 0;
}

struct run {
	unsigned world, weak;
	struct likeness same, other;
	struct nod_arena arena;                           /* of all descriptions */
	struct nod_car folder[(SITUATIONS + 1) * OTHERS]; /* this family's, then others' */
	size_t count;
};

/* One of the others of a family, into the folder. */
static int add_other(struct run *r, const char *situation, uint64_t seed, unsigned index,
		     uint64_t *state)
{
	struct nod_generator_options how = {.frames = NOD_GENERATOR_FRAMES,
					    .world = r->world,
					    .session = index + 1,
					    .another = draw(state) % 100 >= r->weak};
	struct car c;
	const char *path = nod_arena_printf(&r->arena, "%s-%u", situation, index);
	int status = play(&c, situation, seed, &how);

	if (!status)
		status = nod_car_describe(&c.car, &r->arena, c.f, path, NULL);
	if (!status) {
		c.car.found = "";
		c.car.proved = false;
		if (draw(state) % 2)
			solve(&c, state, &r->arena);
		r->folder[r->count++] = c.car;
	}
	end(&c);
	return status;
}

static int play_family(struct run *r, struct score *s, const char *situation, uint64_t seed)
{
	struct nod_generator_options how = {.frames = NOD_GENERATOR_FRAMES, .world = r->world};
	uint64_t state = seed * 977 + strlen(situation) * 31 + (unsigned char)*situation;
	struct car first;
	size_t others = r->count;
	int status = 0;

	/* the first one may not be of the weak point either: it is session 40 */
	how.session = 40;
	how.another = draw(&state) % 100 >= r->weak;
	for (unsigned i = 0; !status && i < OTHERS; i++)
		status = add_other(r, situation, seed, i, &state);
	if (status || play(&first, situation, seed, &how))
		return -1;
	status = nod_car_describe(&first.car, &r->arena, first.f, "first", NULL);
	for (size_t i = 0; !status && i < r->count; i++)
		measure(i < others ? &r->other : &r->same,
			nod_car_likeness(&first.car, &r->folder[i]));
	if (!status)
		status = judge(s, &first, &r->arena, r->folder, r->count);
	end(&first);
	return status;
}

static void print_told(const char *what, const struct told *t)
{
	printf("  %-8s first %3u, of three %3u, named %3u, wrong %2u, innocents at 0.9 %2u, Brier sum "
	       "%6.2f\n",
	       what, t->first, t->among_three, t->named, t->named_wrong, t->accused, t->brier);
}

static void add(struct told *to, const struct told *t)
{
	to->first += t->first;
	to->among_three += t->among_three;
	to->named += t->named;
	to->named_wrong += t->named_wrong;
	to->accused += t->accused;
	to->brier += t->brier;
}

static void print_score(const char *name, const struct score *s)
{
	printf("%s: %u cars, carried %u\n", name, s->cars, s->carried);
	print_told("without", &s->without);
	print_told("with", &s->with);
}

static void print_likeness(const char *what, const struct likeness *l)
{
	printf("likeness of %s: %.2f to %.2f, mean %.2f; %u of %u pairs are like\n", what, l->least,
	       l->most, l->sum / (l->count ? l->count : 1), l->like, l->count);
}

int main(int argc, char **argv)
{
	const char *only = NULL;
	unsigned long long first = 1000, seeds = 10;
	unsigned world = 1, weak = 50, carried = 1u << 30;
	struct likeness same = {0}, other = {0};
	struct score scores[SITUATIONS] = {{0}}, total = {0};
	const struct argument list[] = {{.name = "first", .whole = &first},
					{.name = "seeds", .whole = &seeds},
					{.name = "world", .number = &world},
					{.name = "weak", .number = &weak},
					{.name = "carried", .number = &carried},
					{.name = "situation", .text = &only},
					{0}};

	if (!arguments_take(list, argc, argv))
		return 2;
	for (unsigned long long k = 0; k < seeds; k++) {
		struct run r = {.world = world, .weak = weak};
		r.same = same;
		r.other = other;
		for (size_t i = 0; i < SITUATIONS; i++)
			if ((!only || !strcmp(only, situations[i])) &&
			    play_family(&r, &scores[i], situations[i],
					(first + k) * SITUATIONS + i))
				return 1;
		same = r.same;
		other = r.other;
		nod_arena_free(&r.arena);
	}
	for (size_t i = 0; i < SITUATIONS; i++) {
		print_score(situations[i], &scores[i]);
		total.cars += scores[i].cars;
		total.carried += scores[i].carried;
		add(&total.without, &scores[i].without);
		add(&total.with, &scores[i].with);
	}
	print_score("all", &total);
	print_likeness("cars of one family", &same);
	print_likeness("cars of two families", &other);
	return total.carried > carried;
}
