/* Sets an interface up for listening, and says whether it may be used.
 *
 * A controller that acknowledges frames can itself keep a network awake, so
 * only listen-only controllers are used. Settings are made through
 * libsocketcan while the interface is down. */
#ifndef NOD_INTERFACE_H
#define NOD_INTERFACE_H

#include "error.h"
#include "link.h"

/* After bus-off the controller starts again by itself.
 * Chosen: short against any quiet time, long enough not to be a storm. */
#define NOD_RESTART_MS 100

struct nod_interface_settings {
	uint32_t bitrate;      /* bit/s */
	uint32_t data_bitrate; /* bit/s; 0: classical CAN */
};

enum nod_interface_use {
	NOD_USE_READY,	  /* up and passive: listen */
	NOD_USE_SET_UP,	  /* down: may be set up */
	NOD_USE_REFUSED	  /* up, but in a way that must not be used */
};

/* Judges an interface as it is; `why` says what is wrong with a refused one
 * and what to do, or what is special about a ready one ("" when nothing). */
enum nod_interface_use nod_interface_judge(const struct nod_link *link,
					   const struct nod_interface_settings *settings,
					   struct nod_error *why);

/* Sets a down interface to the bitrate, listen-only and automatic restart,
 * and switches it on. Virtual interfaces are only switched on. Returns 0 or a
 * negative errno with err set (EPERM: needs CAP_NET_ADMIN). */
int nod_interface_set_up(const struct nod_link *link, const struct nod_interface_settings *settings,
			 struct nod_error *err);

/* Switches an interface off. Returns 0 or a negative errno. */
int nod_interface_set_down(const char *name, struct nod_error *err);

#endif
