/* SPDX-License-Identifier: MIT */
/* Among the IDs that the vehicle file gives to network management lie others as well: who is none
 * of the nodes. Each scene has the nodes 03, 07 and 0C (the layouts: nm-strangers.h). */
#include "scene.h"

#define AUTOSAR(more)              \
	"networks:\n"              \
	"  body:\n"                \
	"    interfaces: [can0]\n" \
	"    management: {scheme: autosar, ids: 500-5FF" more "}\n"
#define OSEK                       \
	"networks:\n"              \
	"  body:\n"                \
	"    interfaces: [can0]\n" \
	"    management: {scheme: osek, ids: 400-4FF}\n"

static bool is_node(const struct nod_findings *f, uint32_t id)
{
	for (size_t i = 0; i < f->ident_count; i++)
		if (f->idents[i].id == id)
			return f->idents[i].management;
	return false;
}

static void send(struct scene *s, int64_t ms, uint32_t id, unsigned first, unsigned second)
{
	char text[40];

	snprintf(text, sizeof(text), "%03X#%02X%02XFFFFFFFFFFFF", (unsigned)id, first & 0xFF,
		 second & 0xFF);
	frame_at(s, ms, 0, text);
}

static const unsigned nodes[] = {0x03, 0x07, 0x0C};

/* One of the others, by its number of frames so far. */
typedef void other_fn(struct scene *s, int64_t ms, unsigned count);

static void play_autosar(struct scene *s, other_fn *other)
{
	for (unsigned k = 0; k < 80; k++) {
		for (unsigned i = 0; i < 3; i++)
			send(s, 500 * k + i, 0x500 + nodes[i], nodes[i], k < 3 ? 0x10 : 0x00);
		other(s, 500 * k + 100, k);
	}
}

/* The ring goes round, and in turn to the next. */
static void play_ring(struct scene *s, other_fn *other)
{
	for (unsigned k = 0; k < 240; k++) {
		send(s, 100 * k, 0x400 + nodes[k % 3], nodes[(k + 1) % 3], 0x02);
		other(s, 100 * k + 50, k);
	}
}

static void counting(struct scene *s, int64_t ms, unsigned count)
{
	send(s, ms, 0x520, count, 0x00);
}

static void constant(struct scene *s, int64_t ms, unsigned count)
{
	(void)count;
	send(s, ms, 0x520, 0x00, 0x00);
}

static void misfits(struct scene *s, int64_t ms, unsigned count)
{
	send(s, ms, 0x420, 0x07, count);
}

static void ring_to_nobody(struct scene *s, int64_t ms, unsigned count)
{
	(void)count;
	send(s, ms, 0x420, 0x55, 0x02);
}

static void alive_of_another(struct scene *s, int64_t ms, unsigned count)
{
	(void)count;
	send(s, ms, 0x420, 0x07, 0x01);
}

static void limp_home(struct scene *s, int64_t ms, unsigned count)
{
	(void)count;
	send(s, ms, 0x420, 0x20, 0x04);
}

static void alive(struct scene *s, int64_t ms, unsigned count)
{
	(void)count;
	send(s, ms, 0x420, 0x20, 0x01);
}

static void test_who_is_no_node(void **state)
{
	(void)state;
	static const struct {
		const char *map;
		void (*play)(struct scene *s, other_fn *other);
		other_fn *other;
		uint32_t base;
		bool node;
	} cases[] = {
		{AUTOSAR(", node byte: 0, control byte: 1"), play_autosar, counting, 0x500, false},
		{AUTOSAR(", node byte: 0, control byte: 1"), play_autosar, constant, 0x500, false},
		{AUTOSAR(", node byte: none, control byte: 1"), play_autosar, constant, 0x500,
		 true}, /* nothing tells it from a node */
		{AUTOSAR(", node byte: none, control byte: 1") "modules:\n"
							       "  radio: {ids: [520], node: 07}\n",
		 play_autosar, constant, 0x500, false},
		{AUTOSAR(", node byte: none, control byte: 1") "modules:\n"
							       "  radio: {ids: [520], node: 66}\n",
		 play_autosar, constant, 0x500, true}, /* its node was never heard */
		{OSEK, play_ring, misfits, 0x400, false},
		{OSEK, play_ring, ring_to_nobody, 0x400, false},
		{OSEK, play_ring, alive_of_another, 0x400, false},
		{OSEK, play_ring, limp_home, 0x400, true},
		{OSEK, play_ring, alive, 0x400, true},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct scene s;
		scene_begin(&s, cases[i].map);
		cases[i].play(&s, cases[i].other);
		const struct nod_findings *f = found_at(&s, 60000);
		for (int k = 0; k < 3; k++)
			assert_true(is_node(f, cases[i].base + nodes[k]));
		if (is_node(f, cases[i].base + 0x20) != cases[i].node)
			fail_msg("case %zu", i);
		scene_end(&s);
	}
}

/* Where the numbers have nothing to do with the IDs, none is the odd one. */
static void test_numbers_of_their_own_are_numbers(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f;

	scene_begin(&s, AUTOSAR(", node byte: 0, control byte: 1"));
	for (int64_t ms = 0; ms < 40000; ms += 500)
		for (unsigned i = 0; i < 5; i++)
			send(&s, ms + i, 0x510 + i, 0x91 - 7 * i, 0x00);
	f = found_at(&s, 60000);
	for (unsigned i = 0; i < 5; i++)
		assert_true(is_node(f, 0x510 + i));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_who_is_no_node),
		cmocka_unit_test(test_numbers_of_their_own_are_numbers),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
