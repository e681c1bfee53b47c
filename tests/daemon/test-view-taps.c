/* SPDX-License-Identifier: MIT */
/* What the controller is set to is shown while there is one that is up. */
#include "tap-heard.h"

#include "view.h"

static void the_controller_is_shown_while_it_is_up(void **state)
{
	static const struct {
		bool has_mode, up;
	} cases[] = {{true, true}, {true, false}, {false, true}, {false, false}};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++) {
		struct nod_tap tap = make_tap();
		tap.controller = controller(true);
		tap.controller.has_mode = cases[i].has_mode;
		tap.controller.up = cases[i].up;
		json_t *view = nod_view_taps(&tap, 1);
		const json_t *shown = json_object_get(json_array_get(view, 0), "controller");
		assert_non_null(shown);
		assert_int_equal(json_is_object(shown), cases[i].has_mode && cases[i].up);
		if (json_is_object(shown)) {
			assert_int_equal(json_integer_value(json_object_get(shown, "bitrate")),
					 500000);
			assert_true(json_is_true(json_object_get(shown, "listen_only")));
			assert_true(json_is_null(json_object_get(shown, "receive_errors")));
		}
		json_decref(view);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_controller_is_shown_while_it_is_up),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
