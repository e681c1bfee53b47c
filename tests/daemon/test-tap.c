/* SPDX-License-Identifier: MIT */
/* What a tap makes of what the kernel says, as far as it needs no CAN socket:
 * gaps, refusals, other interfaces. The rest is on the bench. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "tap.h"

struct heard {
	unsigned changes, gaps, deaf;
	nod_time since;    /* nobody listens */
	nod_time from, to; /* of the last gap */
	int64_t total;     /* of all gaps, ns */
	char text[600];
};

static void changed(void *context, struct nod_tap *tap, const char *text)
{
	struct heard *heard = context;

	(void)tap;
	heard->changes++;
	snprintf(heard->text, sizeof(heard->text), "%s", text);
}

static void gap(void *context, struct nod_tap *tap, nod_time from, nod_time to)
{
	struct heard *heard = context;
	int64_t length = to.ns - from.ns;

	(void)tap;
	heard->gaps++;
	heard->from = from;
	heard->to = to;
	heard->total += length;
}

static void deaf(void *context, struct nod_tap *tap, nod_time from)
{
	struct heard *heard = context;

	(void)tap;
	heard->deaf++;
	heard->since = from;
}

static nod_time at(int64_t seconds)
{
	return (nod_time){seconds * NOD_NS_PER_S};
}

static struct nod_tap make_tap(void)
{
	struct nod_tap tap = {.interface = "can0", .settings = {.bitrate = 500000}};

	tap.listener.fd = -1;
	tap.since = tap.gap_from = at(100);
	return tap;
}

static struct nod_link controller(bool listen_only)
{
	return (struct nod_link){.index = 3,
				 .name = "can0",
				 .kind = "can",
				 .is_can = true,
				 .up = true,
				 .has_mode = true,
				 .has_parent = true,
				 .listen_only = listen_only,
				 .set.bitrate = 500000};
}

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

/* ---- a bitrate that nobody said ---- */

/* A switcher that does what it is asked; what that was can be read at the far end. */
struct obedient {
	struct nod_switcher switcher;
	int far;
};

static struct obedient obey(const int32_t *statuses, size_t count)
{
	struct obedient o = {.switcher = NOD_SWITCHER_NONE};
	int ends[2];

	assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, ends), 0);
	o.switcher.fd = ends[0];
	o.far = ends[1];
	for (uint32_t i = 0; i < count; i++) {
		struct nod_switcher_answer answer = {i + 1, statuses ? statuses[i] : 0};
		assert_int_equal(send(o.far, &answer, sizeof(answer), 0), sizeof(answer));
	}
	return o;
}

static void was_asked(const struct obedient *o, enum nod_switcher_verb verb, uint32_t bitrate)
{
	struct nod_switcher_request request;

	assert_int_equal(recv(o->far, &request, sizeof(request), MSG_DONTWAIT), sizeof(request));
	assert_int_equal(request.verb, verb);
	assert_int_equal(request.settings.bitrate, bitrate);
}

static void end(struct obedient *o)
{
	close(o->switcher.fd);
	close(o->far);
}

/* The kernel says that it is up at a rate; as if the socket had been bound to it. */
static void comes_up(struct nod_tap *tap, uint32_t bitrate, nod_time now,
		     const struct nod_tap_reports *reports)
{
	struct nod_link link = controller(true);

	tap->listener.link = link.index;
	tap->listener.trying = true;
	tap->listener.tried = (struct nod_bitrate_heard){0, 0};
	link.set.bitrate = bitrate;
	nod_tap_link_changed(tap, &link, false, now, reports);
}

static struct nod_tap tap_without_a_bitrate(struct nod_switcher *switcher)
{
	struct nod_tap tap = make_tap();

	tap.settings.bitrate = 0;
	tap.searching = true;
	tap.switcher = switcher;
	return tap;
}

static void finds_a_bitrate_that_nobody_said(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct obedient o = obey(NULL, 4);
	struct nod_tap tap = tap_without_a_bitrate(&o.switcher);
	struct nod_link down = controller(false);

	(void)state;
	down.up = false;
	nod_tap_link_changed(&tap, &down, false, at(101), &reports);
	was_asked(&o, NOD_SWITCHER_LISTEN, 500000);
	assert_true(nod_tap_is_undecided(&tap));
	comes_up(&tap, 500000, at(101), &reports);
	tap.listener.tried.errors = 25;
	nod_tap_search(&tap, at(101), &reports);
	was_asked(&o, NOD_SWITCHER_OFF, 0);
	was_asked(&o, NOD_SWITCHER_LISTEN, 250000);
	nod_tap_link_changed(&tap, &down, false, at(101), &reports); /* our own off */
	assert_int_equal(tap.state, NOD_TAP_SEARCHING);
	assert_int_equal(heard.gaps, 0);
	comes_up(&tap, 250250, at(101), &reports); /* what the controller makes of it */
	tap.listener.tried.frames = 2;
	nod_tap_search(&tap, at(101), &reports);
	assert_int_equal(tap.state, NOD_TAP_SEARCHING);
	tap.listener.tried.frames = 3;
	nod_tap_search(&tap, at(102), &reports);
	assert_int_equal(tap.state, NOD_TAP_LISTENING);
	assert_string_equal(heard.text, "can0: listening: 250000 bit/s, found by listening");
	assert_true(tap.found);
	assert_false(tap.listener.trying);
	assert_int_equal(heard.to.ns, at(102).ns); /* nobody listened until then */
	comes_up(&tap, 250250, at(103), &reports); /* told again by the kernel */
	assert_int_equal(tap.state, NOD_TAP_LISTENING);
	nod_tap_release(&tap);
	was_asked(&o, NOD_SWITCHER_OFF, 0);
	end(&o);
}

/* A silent network has no bitrate: that is said after one round, and the search goes on. */
static void goes_on_looking_while_it_is_silent(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct obedient o = obey(NULL, 1 + 2 * NOD_BITRATE_USUAL_COUNT);
	struct nod_tap tap = tap_without_a_bitrate(&o.switcher);
	struct nod_link down = controller(false);

	(void)state;
	down.up = false;
	nod_tap_link_changed(&tap, &down, false, at(101), &reports);
	for (int i = 0; i < NOD_BITRATE_USUAL_COUNT; i++) {
		assert_true(nod_tap_is_undecided(&tap));
		comes_up(&tap, nod_bitrate_usual[i], at(101 + i), &reports);
		nod_tap_search(&tap, at(101 + i), &reports); /* not yet */
		assert_int_equal(tap.settings.bitrate, nod_bitrate_usual[i]);
		nod_tap_search(&tap, at(102 + i), &reports);
	}
	assert_false(nod_tap_is_undecided(&tap));
	assert_int_equal(tap.state, NOD_TAP_SEARCHING);
	assert_int_equal(tap.settings.bitrate, nod_bitrate_usual[0]);
	assert_non_null(strstr(tap.note.text, "nothing was heard whole"));
	assert_int_equal(heard.gaps, 0);
	end(&o);
}

static void leaves_out_rates_that_a_controller_cannot(void **state)
{
	static const int32_t statuses[] = {-EINVAL, -EINVAL, 0};
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct obedient o = obey(statuses, 3);
	struct nod_tap tap = tap_without_a_bitrate(&o.switcher);
	struct nod_link down = controller(false);

	(void)state;
	down.up = false;
	nod_tap_link_changed(&tap, &down, false, at(101), &reports);
	assert_int_equal(tap.state, NOD_TAP_SEARCHING);
	assert_int_equal(tap.settings.bitrate, nod_bitrate_usual[2]);
	assert_string_equal(tap.note.text, "");
	end(&o);
}

/* Who set it up listen-only said the bitrate; it is not touched, and left so. */
static void takes_the_bitrate_of_what_is_set_up(void **state)
{
	struct heard heard = {0};
	struct nod_tap_reports reports = {changed, deaf, gap, &heard};
	struct obedient o = obey(NULL, 0);
	struct nod_tap tap = tap_without_a_bitrate(&o.switcher);
	struct nod_link link = controller(true);
	char nothing;

	(void)state;
	tap.listener.link = 3;
	link.set.bitrate = 125000;
	nod_tap_link_changed(&tap, &link, false, at(101), &reports);
	assert_int_equal(tap.state, NOD_TAP_LISTENING);
	assert_int_equal(tap.settings.bitrate, 125000);
	assert_false(tap.found);
	nod_tap_release(&tap);
	assert_int_equal(recv(o.far, &nothing, 1, MSG_DONTWAIT), -1);
	end(&o);
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
		cmocka_unit_test(finds_a_bitrate_that_nobody_said),
		cmocka_unit_test(goes_on_looking_while_it_is_silent),
		cmocka_unit_test(leaves_out_rates_that_a_controller_cannot),
		cmocka_unit_test(takes_the_bitrate_of_what_is_set_up),
		cmocka_unit_test(says_what_a_serial_line_hides),
		cmocka_unit_test(sets_up_what_it_has_refused),
		cmocka_unit_test(moves_with_the_clock),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
