/* SPDX-License-Identifier: MIT */
/* One network interface as the kernel describes it over rtnetlink. */
#ifndef NOD_LINK_H
#define NOD_LINK_H

#include <linux/netlink.h>
#include <net/if.h>
#include <stdbool.h>
#include <stdint.h>

struct nod_link {
	int index; /* stays the same when the interface is renamed */
	char name[IFNAMSIZ];
	char kind[16]; /* "can", "vcan", ...; "" when the driver does not say */
	bool is_can;   /* carries CAN frames (ARPHRD_CAN) */
	bool up;       /* switched on */
	/* A controller with settings; a virtual interface has none and the rest is 0. */
	bool has_mode;
	bool listen_only; /* does not acknowledge frames of others */
	bool can_fd;      /* CAN FD switched on */
	bool bus_off;     /* the controller has switched itself off */
	uint32_t bitrate; /* bit/s; 0: not set */
	uint32_t data_bitrate;
	uint32_t restart_ms; /* 0: no automatic restart after bus-off */
};

/* Reads an RTM_NEWLINK or RTM_DELLINK message. Returns 0, or -EINVAL when it
 * is another message or cut off. */
int nod_link_parse(struct nod_link *link, const struct nlmsghdr *message);

/* True for interfaces without a controller (vcan, vxcan): there is nothing
 * that could acknowledge. */
bool nod_link_is_virtual(const struct nod_link *link);

#endif
