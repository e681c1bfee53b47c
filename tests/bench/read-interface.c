/* SPDX-License-Identifier: MIT */
/* What a CAN controller is set to, read by a library that is not ours: the bench
 * holds the settings that nodoffd makes against it.
 *
 * usage: read-interface INTERFACE
 * prints "500000 bit/s, listen-only, restarts after 100 ms, error-active" */
#include <linux/can/netlink.h>
#include <linux/types.h>
#include <stdio.h>

#include <libsocketcan.h>

static const char *const states[CAN_STATE_MAX] = {"error-active", "error-warning", "error-passive",
						  "bus-off",      "stopped",       "sleeping"};

int main(int argc, char **argv)
{
	struct can_bittiming timing = {0};
	struct can_ctrlmode mode = {0};
	__u32 restart = 0;
	int state = 0;

	if (argc != 2) {
		fprintf(stderr, "usage: read-interface INTERFACE\n");
		return 2;
	}
	if (can_get_bittiming(argv[1], &timing) || can_get_ctrlmode(argv[1], &mode) ||
	    can_get_state(argv[1], &state) || state < 0 || state >= CAN_STATE_MAX) {
		fprintf(stderr, "read-interface: %s cannot be read\n", argv[1]);
		return 1;
	}
	if (can_get_restart_ms(argv[1], &restart))
		restart = 0;
	printf("%u bit/s, %s, restarts after %u ms, %s\n", timing.bitrate,
	       mode.flags & CAN_CTRLMODE_LISTENONLY ? "listen-only" : "not listen-only", restart,
	       states[state]);
	return 0;
}
