/* SPDX-License-Identifier: MIT */
/* What a tap makes of what the kernel says, as far as it needs no CAN socket:
 * gaps, refusals, other interfaces. The rest is on the bench. */
#include "tap-heard.h"

#include <sys/socket.h>
#include <unistd.h>

/* A recording begins and ends while nobody listens. */
static void tells_that_nobody_listens(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct nod_tap tap = make_tap();

	(void)state;
	nod_tap_begin_gap(&tap, at(110), &reports);
	assert_int_equal(heard.deaf, 1);
	assert_int_equal(heard.since.ns, at(110).ns);
	nod_tap_tell_gap(&tap, at(3710), &reports);
	assert_int_equal(heard.total, 3600 * NOD_NS_PER_S);
	nod_tap_tell_gap(&tap, at(3710), &reports); /* nothing is told twice */
	assert_int_equal(heard.gaps, 1);
	tap.state = NOD_TAP_LISTENING;
	nod_tap_begin_gap(&tap, at(4000), &reports);
	assert_int_equal(heard.deaf, 1);
	nod_tap_tell_gap(&tap, at(4001), &reports);
	assert_int_equal(heard.gaps, 1);
}

static void refuses_what_acknowledges(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct nod_tap tap = make_tap();
	struct nod_link link = controller(false);

	(void)state;
	nod_tap_link_changed(&tap, &link, false, at(101), &reports);
	assert_int_equal(tap.state, NOD_TAP_REFUSED);
	assert_non_null(strstr(heard.text, "acknowledges"));
	assert_int_equal(tap.listener.link, 0);
	nod_tap_link_changed(&tap, &link, false, at(102), &reports); /* said once */
	assert_int_equal(heard.changes, 1);
	nod_tap_link_changed(&tap, &link, true, at(103), &reports);
	assert_int_equal(tap.state, NOD_TAP_ABSENT);
	assert_int_equal(tap.gap_from.ns, at(100).ns); /* the gap goes on */
	assert_int_equal(heard.deaf, 0);               /* and is not told again */
}

static void says_why_it_cannot_be_set_up(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct nod_switcher nobody = NOD_SWITCHER_NONE;
	struct nod_tap tap = make_tap();
	struct nod_link link = controller(false);

	(void)state;
	tap.switcher = &nobody;
	link.up = false;
	nod_tap_link_changed(&tap, &link, false, at(101), &reports);
	assert_int_equal(tap.state, NOD_TAP_DOWN);
	assert_non_null(strstr(heard.text, "needs CAP_NET_ADMIN"));
	nod_tap_link_changed(&tap, &link, false, at(102), &reports); /* told again by the kernel */
	assert_int_equal(heard.changes, 1);
	assert_non_null(strstr(tap.note.text, "needs CAP_NET_ADMIN"));
}

static void hears_again_without_a_hole(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct nod_tap tap = make_tap();
	struct nod_link link = controller(true);

	(void)state;
	tap.link = tap.listener.link = 3; /* bound before */
	nod_tap_link_changed(&tap, &link, false, at(105), &reports);
	assert_int_equal(tap.state, NOD_TAP_LISTENING);
	assert_int_equal(heard.total, 5 * NOD_NS_PER_S);
	assert_false(nod_time_is_set(tap.gap_from));
	nod_tap_tell_gap(&tap, at(200), &reports);
	assert_int_equal(heard.gaps, 1);
	tap.listener.bus_off = true;
	nod_tap_check_bus(&tap, at(201), &reports);
	assert_int_equal(tap.state, NOD_TAP_BUS_OFF);
	assert_int_equal(heard.deaf, 1); /* at once */
	assert_int_equal(heard.since.ns, at(201).ns);
	assert_int_equal(heard.gaps, 1);
	tap.listener.bus_off = false;
	nod_tap_check_bus(&tap, at(203), &reports);
	assert_int_equal(tap.state, NOD_TAP_LISTENING);
	assert_int_equal(heard.from.ns, at(201).ns);
	assert_int_equal(heard.to.ns, at(203).ns);
}

static void goes_by_the_index_after_a_rename(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct nod_tap tap = make_tap();
	struct nod_link renamed = controller(true), stranger = controller(true);

	(void)state;
	tap.link = tap.listener.link = 3;
	strcpy(renamed.name, "obd0");
	nod_tap_link_changed(&tap, &renamed, false, at(101), &reports);
	assert_string_equal(heard.text, "can0: listening: it is now called obd0");
	stranger.index = 9; /* another adapter that got the name */
	stranger.listen_only = false;
	nod_tap_link_changed(&tap, &stranger, false, at(102), &reports);
	assert_int_equal(tap.state, NOD_TAP_LISTENING);
}

/* The map says CAN FD: that it is not heard is said, with what to do. */
static void says_that_fd_is_not_heard(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct nod_tap tap = make_tap();
	struct nod_link link = controller(true);

	(void)state;
	tap.link = tap.listener.link = 3;
	tap.settings.data_bitrate = 2000000;
	nod_tap_link_changed(&tap, &link, false, at(101), &reports);
	assert_int_equal(tap.state, NOD_TAP_LISTENING);
	assert_non_null(
		strstr(heard.text, "CAN FD with 2000000 bit/s, as the map has it, could not"));
	link.says_what_it_can = true;
	nod_tap_link_changed(&tap, &link, false, at(102), &reports);
	assert_non_null(strstr(tap.note.text, "can0 cannot do CAN FD"));
	link.can_be_fd = link.can_fd = true;
	link.set.data_bitrate = 5000000;
	nod_tap_link_changed(&tap, &link, false, at(103), &reports);
	assert_non_null(strstr(tap.note.text, "with 5000000 bit/s, by the map it is 2000000"));
	link.set.data_bitrate = 2000000;
	nod_tap_link_changed(&tap, &link, false, at(104), &reports);
	assert_string_equal(tap.note.text, "");
}

/* Nothing comes back from an adapter on a serial line: that is said. */
static void says_what_a_serial_line_hides(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct nod_tap tap = make_tap();
	struct nod_link link = controller(true);

	(void)state;
	tap.link = tap.listener.link = 3;
	link.has_parent = false;
	nod_tap_link_changed(&tap, &link, false, at(101), &reports);
	assert_int_equal(tap.state, NOD_TAP_LISTENING);
	assert_non_null(strstr(heard.text, "can0 is on a serial line"));
}

/* "Switch it off and it is set up" is kept; one that its owner switches off stays so. */
static void sets_up_what_it_has_refused(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct nod_switcher nobody = NOD_SWITCHER_NONE;
	struct nod_tap tap = make_tap();
	struct nod_link link = controller(false), off = controller(true);

	(void)state;
	tap.switcher = &nobody;
	off.up = false;
	nod_tap_link_changed(&tap, &link, false, at(101), &reports);
	assert_int_equal(tap.state, NOD_TAP_REFUSED);
	nod_tap_link_changed(&tap, &off, false, at(102), &reports);
	assert_non_null(strstr(tap.note.text, "cannot set it up listen-only"));
	tap.state = NOD_TAP_LISTENING;
	nod_tap_link_changed(&tap, &off, false, at(103), &reports);
	assert_int_equal(tap.state, NOD_TAP_DOWN);
	assert_string_equal(tap.note.text, "");
}

static void a_bus_that_is_on_is_not_told_again(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct nod_tap tap = make_tap();

	(void)state;
	tap.state = NOD_TAP_LISTENING;
	nod_tap_check_bus(&tap, at(101), &reports);
	assert_int_equal(heard.changes, 0);
	tap.listener.bus_off = true;
	nod_tap_check_bus(&tap, at(102), &reports);
	nod_tap_check_bus(&tap, at(103), &reports);
	assert_int_equal(tap.state, NOD_TAP_BUS_OFF);
	assert_int_equal(heard.changes, 1);
	tap.listener.bus_off = false;
	nod_tap_check_bus(&tap, at(104), &reports);
	assert_int_equal(tap.state, NOD_TAP_LISTENING);
	assert_int_equal(heard.changes, 2);
	tap.state = NOD_TAP_REFUSED; /* of another that listens no more, nothing is made */
	nod_tap_check_bus(&tap, at(105), &reports);
	assert_int_equal(tap.state, NOD_TAP_REFUSED);
}

static void moves_with_the_clock(void **state)
{
	struct nod_tap tap = make_tap();

	(void)state;
	nod_tap_clock_step(&tap, nod_seconds(-3600));
	assert_int_equal(tap.gap_from.ns, at(100 - 3600).ns);
	assert_int_equal(tap.since.ns, at(100 - 3600).ns);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(tells_that_nobody_listens),
		cmocka_unit_test(refuses_what_acknowledges),
		cmocka_unit_test(says_why_it_cannot_be_set_up),
		cmocka_unit_test(hears_again_without_a_hole),
		cmocka_unit_test(goes_by_the_index_after_a_rename),
		cmocka_unit_test(says_that_fd_is_not_heard),
		cmocka_unit_test(says_what_a_serial_line_hides),
		cmocka_unit_test(sets_up_what_it_has_refused),
		cmocka_unit_test(a_bus_that_is_on_is_not_told_again),
		cmocka_unit_test(moves_with_the_clock),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
