/* SPDX-License-Identifier: MIT */
/* The search for network management on a track: nodes are learned, recalled and given up. */
#include "scene.h"

/* A PDU of node `node` at 500h + node, then FF. */
static void pdu(struct scene *s, int64_t ms, unsigned node)
{
	char text[40];

	snprintf(text, sizeof(text), "%03X#%02X00FFFFFFFFFFFF", 0x500 + node, node);
	frame_at(s, ms, 0, text);
}

static bool is_node(const struct nod_findings *f, uint32_t id)
{
	for (size_t i = 0; i < f->ident_count; i++)
		if (f->idents[i].id == id)
			return f->idents[i].management;
	return false;
}

static void application(struct scene *s, int64_t from, int64_t to)
{
	for (int64_t ms = from; ms < to; ms += 50) {
		char text[40];
		snprintf(text, sizeof(text), "520#%02X%02X", (unsigned)(ms / 50 & 0xFF), 0x42);
		frame_at(s, ms + 7, 0, text);
		snprintf(text, sizeof(text), "%03X#%02X%02X", 0x100 + (unsigned)(ms / 50 % 5),
			 (unsigned)(ms / 50 & 0xFF), 0x42);
		frame_at(s, ms + 9, 0, text);
	}
}

static void test_who_joins_late_and_who_stopped_early_are_nodes(void **state)
{
	(void)state;
	struct scene s;

	scene_begin(&s, NULL);
	for (int64_t ms = 0; ms < 60000; ms += 500) {
		application(&s, ms, ms + 500);
		if (ms < 3000)
			pdu(&s, ms + 490, 0x10); /* before anything is known */
		pdu(&s, ms + 491, 0x12);
		pdu(&s, ms + 492, 0x17);
		if (ms >= 40000)
			pdu(&s, ms + 493, 0x63); /* far beyond what was seen at first */
	}
	const struct nod_findings *f = found_at(&s, 60000);
	assert_true(is_node(f, 0x510));
	assert_true(is_node(f, 0x512));
	assert_true(is_node(f, 0x517));
	assert_true(is_node(f, 0x563));
	assert_false(is_node(f, 0x520));
	assert_non_null(strstr(f->networks[0].management, "AUTOSAR CanNm (detected"));
	scene_end(&s);
}

/* What came since it was asked last counts as well when something is said. */
static void test_who_joins_at_the_very_end_is_a_node(void **state)
{
	(void)state;
	struct scene s;

	scene_begin(&s, NULL);
	for (int64_t ms = 0; ms < 60000; ms += 500) {
		application(&s, ms, ms + 500);
		if (ms < 30000)
			pdu(&s, ms + 490, 0x10);
		pdu(&s, ms + 491, 0x12);
		pdu(&s, ms + 492, 0x17);
	}
	for (int64_t ms = 60000; ms < 60100; ms += 20)
		pdu(&s, ms, 0x19);
	const struct nod_findings *f = found_at(&s, 60100);
	assert_true(is_node(f, 0x512));
	assert_true(is_node(f, 0x519));
	scene_end(&s);
}

static void test_what_behaves_otherwise_is_given_up(void **state)
{
	(void)state;
	struct scene s;

	scene_begin(&s, NULL);
	for (int64_t ms = 0; ms < 90000; ms += 500) {
		application(&s, ms, ms + 500);
		for (unsigned node = 0x21; node < 0x24; node++) {
			char text[40];
			pdu(&s, ms + 490 + node % 4, node);
			if (ms < 5000 && node == 0x21)
				pdu(&s, ms + 495, 0x20); /* it is ready to sleep soon */
			if (ms < 20000)
				continue;
			/* the number was a value that moves, and the bits are no control bits */
			snprintf(text, sizeof(text), "%03X#%02XFFFFFFFFFFFFFF", 0x500 + node,
				 (unsigned)(ms / 500 & 0xFF));
			frame_at(&s, ms + 496 + node % 4, 0, text);
		}
	}
	const struct nod_findings *f = found_at(&s, 90000);
	assert_false(is_node(f, 0x521));
	assert_string_equal(f->networks[0].management, "none seen");
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_who_joins_late_and_who_stopped_early_are_nodes),
		cmocka_unit_test(test_who_joins_at_the_very_end_is_a_node),
		cmocka_unit_test(test_what_behaves_otherwise_is_given_up),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
