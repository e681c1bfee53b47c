/* SPDX-License-Identifier: MIT */
/* Network management by the published text, one machine a node: AUTOSAR CanNm (nm-cannm.c)
 * and OSEK/VDX direct NM (nm-osek.c), with the faults that such nodes have. The owner of a
 * network (the generator's cars, the benchmark `management`) delivers the frames, and asks
 * when a machine is due next. Times are ns since the start of the simulation. */
#ifndef SIM_NM_H
#define SIM_NM_H

#include <stdbool.h>
#include <stdint.h>

#include "random.h"
#include "vehicle.h"

#define SIM_NM_NODES 56
#define SIM_NEVER INT64_MAX

enum sim_state {
	SIM_OFF, /* no power */
	SIM_ASLEEP,
	SIM_STARTING,
	SIM_REPEAT,  /* CanNm: repeat message */
	SIM_NORMAL,  /* CanNm: normal operation; without management: awake */
	SIM_READY,   /* CanNm: ready sleep */
	SIM_PREPARE, /* CanNm: prepare bus-sleep, says nothing */
	SIM_RING,    /* OSEK: NMNormal */
	SIM_RING_READY,
	SIM_TWBS, /* NMTwbsNormal: says nothing */
	SIM_LIMP,
	SIM_LIMP_READY,
	SIM_LIMP_TWBS,
	SIM_BUS_OFF
};

/* What all nodes of a network share; 0 where it does not apply. */
struct sim_nm_config {
	enum nod_nm_scheme scheme;                          /* NOD_NM_AUTOSAR, NOD_NM_OSEK */
	int length, node_byte, control_byte, partial_first; /* -1: not there */
	uint8_t fill;
	int64_t first_application; /* after the first NM message */
	int64_t tick;              /* main function: what is due happens up to so much later */
	/* CanNm */
	int64_t cycle, immediate_cycle, repeat, timeout, wait; /* wait: OSEK, too */
	int immediate;
	bool reduction, repeat_request, active_bit;
	bool moves; /* user data (OSEK: ring data) count */
	/* OSEK */
	int64_t typ, max, error;
	int rx_limit;
	int64_t decide;       /* a woken node takes so long to say that it is ready */
	bool alive_indicates; /* an Alive carries the indication, too */
};

struct sim_nm {
	uint8_t address; /* as in the node byte, or as ring number */
	enum sim_state state;
	bool wants, active, application;
	uint16_t partial, asks; /* partial networks: it belongs to (0: none); it asks for */
	uint8_t control;        /* bits that it always sets: a coordinator's id */
	/* faults, and what is no fault */
	bool passive;      /* CanNm: sends no PDUs */
	bool coordinates;  /* CanNm: asks while others do, and says when it is ready */
	bool lets_go;      /* its application stops with its own request */
	int64_t mute_from; /* its PDUs are disabled from here: NM-Timeout stands still */
	int64_t dead_from; /* its management no longer runs, its application does */
	int64_t deaf_from, deaf_until;
	int64_t later; /* CanNm: added to NM-Timeout */
	/* machine */
	int64_t t_send, t_repeat, t_timeout, t_wait, t_app, t_decide, t_typ, t_max, t_error;
	int immediate_left, rx_count;
	uint8_t moving;
	bool ready_said;
	uint64_t members; /* OSEK: who is in the ring, by node */
};

struct sim_nm_bus {
	struct sim_nm_config config;
	struct sim_random *random;
	int64_t now;
	struct sim_nm *nodes[SIM_NM_NODES]; /* by address, ascending */
	int count;
	/* The owner: sends a message (and lets all others hear it), starts or stops the
	 * application frames. */
	void (*send)(struct sim_nm_bus *bus, int node, const uint8_t data[8]);
	void (*application)(struct sim_nm_bus *bus, int node, bool on);
	void *owner;
};

/* Nobody is at fault and nothing is due. */
void sim_nm_init(struct sim_nm *nm);

/* It has booted, or woken up; active: of its own accord. */
void sim_nm_start(struct sim_nm_bus *bus, int i, bool active);

/* Its application wants the network, or no more. */
void sim_nm_wish(struct sim_nm_bus *bus, int i, bool wants);

/* It hears another's message. */
void sim_nm_hear(struct sim_nm_bus *bus, int i, int from, const uint8_t data[8]);

/* With partial networking only what asks for one of its own keeps a node awake. */
bool sim_nm_concerns(const struct sim_nm_bus *bus, int i, const uint8_t data[8]);

/* When it is due next, and what is done then. */
int64_t sim_nm_next(const struct sim_nm *nm);
void sim_nm_due(struct sim_nm_bus *bus, int i);

/* Its controller leaves the bus, and comes back by limp home (OSEK). */
void sim_nm_bus_off(struct sim_nm_bus *bus, int i);

/* The two machines. */
struct sim_nm_machine {
	void (*start)(struct sim_nm_bus *bus, int i);
	void (*wish)(struct sim_nm_bus *bus, int i);
	void (*hear)(struct sim_nm_bus *bus, int i, int from, const uint8_t data[8]);
	void (*due)(struct sim_nm_bus *bus, int i);
};
extern const struct sim_nm_machine sim_nm_cannm, sim_nm_osek;

/* For the machines. */
int64_t sim_nm_after(struct sim_nm_bus *bus, int64_t time);
void sim_nm_stop_timers(struct sim_nm *nm);
void sim_nm_application(struct sim_nm_bus *bus, int i, bool on);

static inline bool sim_nm_dead(const struct sim_nm_bus *bus, int i)
{
	return bus->now >= bus->nodes[i]->dead_from;
}

static inline bool sim_state_awake(enum sim_state state)
{
	return state > SIM_STARTING;
}

#endif
