/* SPDX-License-Identifier: MIT */
/* One network interface as the kernel describes it over rtnetlink. */
#ifndef NOD_LINK_H
#define NOD_LINK_H

#include <linux/netlink.h>
#include <net/if.h>
#include <stdbool.h>
#include <stdint.h>

/* What a controller is to be set to, or is set to. */
struct nod_interface_settings {
	uint32_t bitrate;           /* bit/s; 0: not set */
	uint32_t sample_point;      /* thousandths of a bit; 0: the kernel's choice */
	uint32_t data_bitrate;      /* of the data phase of CAN FD; 0: classical CAN */
	uint32_t data_sample_point; /* of that phase */
};

struct nod_link {
	int index; /* stays the same when the interface is renamed */
	char name[IFNAMSIZ];
	char kind[16]; /* "can", "vcan", ...; "" when the driver does not say */
	bool is_can;   /* carries CAN frames (ARPHRD_CAN) */
	bool up;       /* switched on */
	bool has_parent; /* hangs on a bus of the machine, as all adapters do but those on a serial line */
	/* A controller with settings; a virtual interface has none and the rest is 0. */
	bool has_mode;
	bool listen_only;      /* does not acknowledge frames of others */
	bool can_fd;           /* CAN FD switched on */
	bool says_what_it_can; /* `can_be_fd` and `can_be_listen_only` are known */
	bool can_be_fd, can_be_listen_only;
	bool has_state;
	uint32_t state; /* enum can_state, linux/can/netlink.h */
	bool has_counters;
	uint16_t receive_errors, transmit_errors; /* as the controller counts them, ISO 11898-1 */
	struct nod_interface_settings set;
	uint32_t restart_ms; /* 0: no automatic restart after bus-off */
};

/* Reads an RTM_NEWLINK or RTM_DELLINK message. Returns 0, or -EINVAL when it
 * is another message or cut off. */
int nod_link_parse(struct nod_link *link, const struct nlmsghdr *message);

/* True for interfaces without a controller (vcan, vxcan): there is nothing
 * that could acknowledge. */
bool nod_link_is_virtual(const struct nod_link *link);

/* True for an adapter on a serial line (the kernel's slcan). What the kernel says of its mode is
 * what it was told: whether it obeyed cannot be read. */
bool nod_link_is_serial(const struct nod_link *link);

/* The controller has switched itself off. */
bool nod_link_is_bus_off(const struct nod_link *link);

/* "error-active", ...; "" when it is not known. */
const char *nod_link_state_name(const struct nod_link *link);

#endif
