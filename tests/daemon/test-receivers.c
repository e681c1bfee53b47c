/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "receivers.h"
#include "../lib/scratch.h"

/* As Linux 6.1 writes it (net/can/proc.c); read in a virtual machine. */
static const char heading[] =
	"  device   can_id   can_mask  function          userdata   matches    ident\n";

static void tells_who_listens(void **state)
{
	struct scratch s;
	char text[500];

	(void)state;
	scratch_make(&s);
	assert_false(nod_receivers_found(s.path, "can1"));
	snprintf(text, sizeof(text),
		 "\nreceive list 'rx_all':\n%s   can1       000    00000000  0000000000000000  "
		 "0000000000000000         7  raw\n  (can10: no entry)\n",
		 heading);
	scratch_puts(&s, "rcvlist_all", text);
	assert_true(nod_receivers_found(s.path, "can1"));
	assert_false(nod_receivers_found(s.path, "can10"));
	assert_false(nod_receivers_found(s.path, "can"));
	snprintf(text, sizeof(text),
		 "\nreceive list 'rx_sff':\n%s   can10      2A0    000007ff  0000000000000000  "
		 "0000000000000000         0  raw\n",
		 heading);
	scratch_puts(&s, "rcvlist_sff", text);
	assert_true(nod_receivers_found(s.path, "can10"));
	scratch_remove(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(tells_who_listens),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
