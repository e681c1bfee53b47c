/* SPDX-License-Identifier: MIT */
/* A tap whose bitrate nobody said finds it by listening. */
#include "tap-heard.h"

#include <sys/socket.h>
#include <unistd.h>

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

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(finds_a_bitrate_that_nobody_said),
		cmocka_unit_test(goes_on_looking_while_it_is_silent),
		cmocka_unit_test(leaves_out_rates_that_a_controller_cannot),
		cmocka_unit_test(takes_the_bitrate_of_what_is_set_up),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
