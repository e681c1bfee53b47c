/* SPDX-License-Identifier: MIT */
/* The simulated car: networks with sleep and wake-up, modules as state
 * machines, a person, a recorder and a current clamp, all driven by one queue
 * of timers. Everything here is invented; times are ns since the start of the
 * simulation until the recorder stamps them. Internal to captures/. */
#ifndef SIM_SIM_H
#define SIM_SIM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "event.h"
#include "nm.h"
#include "payload.h"
#include "random.h"
#include "source.h"
#include "timers.h"
#include "vehicle.h"

#define SIM_NETWORKS 3
#define SIM_MODULES 44
#define SIM_NODES 56
#define SIM_MESSAGES 224
#define SIM_FUSES 44
#define SIM_FAULTS 6
#define SIM_ACTIONS 40
#define SIM_WINDOWS 12
#define SIM_SPANS 256

#define SIM_US NOD_NS_PER_US
#define SIM_MS NOD_NS_PER_MS
#define SIM_S NOD_NS_PER_S
#define SIM_MIN (60 * NOD_NS_PER_S)

/* How units on a network without network management end their day. */
enum sim_follow {
	SIM_FOLLOW_TIMER,    /* each runs for its own time after key-off or wake-up */
	SIM_FOLLOW_MASTER,   /* all stay up while a master says so; it asks each for its vote */
	SIM_FOLLOW_PRODUCER, /* each stays up while those whose data it uses go on */
	SIM_FOLLOW_LINE      /* all stay up while one holds the wake-up line, then each runs on */
};

enum sim_timer_kind {
	SIM_TIMER_MESSAGE, /* index: message */
	SIM_TIMER_NM,      /* index: node, as the following */
	SIM_TIMER_STARTED,
	SIM_TIMER_NEED,
	SIM_TIMER_CHECK,
	SIM_TIMER_GATEWAY,
	SIM_TIMER_FAULT,  /* index: fault */
	SIM_TIMER_ACTION, /* index: action */
	SIM_TIMER_MARK,
	SIM_TIMER_TESTER,
	SIM_TIMER_SAMPLE,
	SIM_TIMER_EXTRA, /* index: module */
	SIM_TIMER_PULSE,
	SIM_TIMER_WINDOW, /* index: window */
	SIM_TIMER_START,
	SIM_TIMER_STOP
};

/* Timers of both kinds of network management; zero where it does not apply. */
struct sim_nm_timers {
	int64_t cycle, immediate_cycle, repeat, timeout, wait_bus_sleep; /* AUTOSAR */
	unsigned immediate;
	int64_t first_application; /* after the first NM PDU */
	int64_t typ, max, error;   /* OSEK */
};

struct sim_span {
	int64_t from, to;
	int first_module;   /* who spoke first; -1: the tester */
	int first_recorded; /* of whom the first frame was recorded; -2: of nobody */
};

struct sim_network {
	char name[24], interface[16];
	uint32_t bitrate;
	bool extended; /* 29-bit IDs */
	bool fd;       /* CAN FD frames with bit rate switch, of at most 8 bytes */
	enum nod_nm_scheme scheme;
	enum sim_follow follow;
	int master;  /* node, with SIM_FOLLOW_MASTER */
	bool thins;  /* who needs it no more sends its first message only, and that slower */
	int thinner; /* ... by so much */
	uint32_t nm_base;
	int nm_span; /* IDs from nm_base on */
	int node_byte, control_byte;
	int partial_first;   /* -1: no partial networking */
	bool repeat_request; /* who wakes it sets the repeat message bit */
	uint8_t fill;        /* unset NM bytes */
	uint8_t nm_length;   /* bytes of an NM PDU */
	struct sim_nm_timers timers;
	int64_t quiet_time; /* as the map gives it */
	bool quiet_time_given, management_given, hidden;
	int slower; /* its messages become so much slower when parked, and are not thinned beyond it */
	int64_t rouse_after; /* without NM: a frame wakes those asleep after so long a silence */
	/* running */
	int64_t free_at, last_frame, last_recorded;
	int asleep; /* powered nodes that are asleep */
	struct sim_nm_bus bus;
	struct sim_span spans[SIM_SPANS];
	int span_count;
};

enum sim_tag {
	SIM_TAG_GATEWAY = 1,
	SIM_TAG_ENTRY = 2,        /* woken by door, key, lock */
	SIM_TAG_INFOTAINMENT = 4, /* draws for long after a refit */
	SIM_TAG_TELEMATICS = 8,
	SIM_TAG_AIRBAG = 16,
	SIM_TAG_HIGH_VOLTAGE = 32,
	SIM_TAG_ALARM = 64,
	SIM_TAG_MEMORY = 128,
	SIM_TAG_BODY_MASTER = 256
};

struct sim_module {
	const char *name, *place;
	const char *inputs[3];
	unsigned tags;
	int source_address; /* J1939, -1 */
	int fuses[2];       /* -1: none */
	int64_t awake_ua, asleep_ua, extra_ua;
	int64_t ready_after; /* from lock until it lets the network go */
	int64_t extra_until;
	bool powered, unplugged;
	bool in_map, fuse_in_map;
	int first_node, node_count;
	int64_t load_ua; /* what it takes now */
};

struct sim_fuse {
	char name[8];
	const char *family, *box, *feed;
	unsigned rating_a10; /* tenths of an ampere */
	bool fitted;
};

struct sim_node {
	int module, network;
	uint8_t address;  /* NM node address */
	uint16_t partial; /* partial networks it belongs to; 0: it takes no part in that */
	enum sim_state state;
	bool active;       /* it woke the network itself */
	bool wants;        /* as last told to the scheme */
	bool held, spread; /* reasons to want: the fault; the gateway's other networks */
	bool wake_on_bus;
	bool passive; /* AUTOSAR: sends no NM PDUs (passive mode, or its sending is disabled) */
	int64_t need_until; /* ... own work to do */
	int64_t startup, run_time, follow_timeout;
	int64_t stop_at;  /* SIM_FOLLOW_TIMER: runs until then in any case */
	struct sim_nm nm; /* its management, faults included */
	int bus_index;
	int64_t nm_due;   /* of the timer that is set for it */
	int producers[2]; /* nodes whose data it uses, -1 */
	int64_t last_sent;
	uint32_t generation, application_generation;
	bool application_on;
	int first_message, message_count;
};

enum sim_rhythm { SIM_CYCLIC, SIM_MIXED, SIM_ON_EVENT };

struct sim_message {
	uint32_t id;
	int node;
	enum sim_rhythm rhythm;
	int64_t period, period_parked, jitter; /* on event: mean interval */
	int64_t due;
	bool event_parked; /* events happen while parked, too */
	int forward;       /* message in which the gateway passes it on, -1 */
	bool routed;       /* it is such a copy, under the ID of its original */
	struct sim_payload payload;
};

enum sim_fault_kind {
	SIM_FAULT_HOLDER,  /* wants its network from `from` until `until` */
	SIM_FAULT_WAKER,   /* wants it again and again */
	SIM_FAULT_FRAME,   /* sends one frame into the sleeping network and nothing else */
	SIM_FAULT_LINE,    /* something outside the networks starts every unit of a network */
	SIM_FAULT_BUS_OFF, /* OSEK: its controller leaves the bus for a moment */
	SIM_FAULT_RESTART, /* it loses its power from `from` until `until` */
	SIM_FAULT_USER,    /* no fault: uses the network at times, when it is awake anyway */
	SIM_FAULT_INPUT    /* an input that comes and goes and bounces: it tells that in its data */
};

struct sim_fault {
	enum sim_fault_kind kind;
	int module;
	int64_t from, until;
	int64_t interval, hold; /* waker */
	bool sporadic;          /* intervals spread widely */
	bool tells;             /* input: each change is sent at once, beside the usual frames */
	uint16_t partial;       /* PNs it asks for; 0: all of its own */
};

enum sim_act {
	SIM_ACT_LOCK,
	SIM_ACT_UNLOCK,
	SIM_ACT_DOOR,
	SIM_ACT_KEY,
	SIM_ACT_TESTER_ON,
	SIM_ACT_TESTER_OFF,
	SIM_ACT_ISOLATE, /* subject: fuse */
	SIM_ACT_REFIT,
	SIM_ACT_UNPLUG, /* subject: module */
	SIM_ACT_REPLUG,
	SIM_ACT_TOUCH, /* subject: module, its first input */
	SIM_ACT_NOTE
};

struct sim_action {
	enum sim_act act;
	int64_t at;         /* when it is done */
	int64_t mark_delay; /* the mark's time is this much later (or earlier) */
	bool marked;        /* it is written into the journal */
	int subject;        /* fuse or module, -1 */
	char text[64];      /* the journal's subject */
};

enum sim_window_kind {
	SIM_WINDOW_LOSS,  /* `percent` of the frames are lost, and counted by the kernel */
	SIM_WINDOW_GAP,   /* nobody listens */
	SIM_WINDOW_STORM, /* error frames */
	SIM_WINDOW_HOLE,  /* nobody listens, and nothing says so */
	SIM_WINDOW_CLOCK  /* from `from` on, the clock is `step` further */
};

struct sim_window {
	enum sim_window_kind kind;
	int network; /* -1: all */
	int64_t from, until;
	unsigned percent;
	int64_t step;
	bool torn, late; /* of a hole: at a line that cannot be read; its frames come after it */
	uint64_t lost, lost_in_all;
	bool open;
};

struct sim_out {
	int64_t at; /* true time, the order of delivery */
	struct nod_event event;
};

struct sim_queue {
	struct sim_out *items;
	size_t first, used, room; /* items[first..used-1] wait */
};

struct sim_recorder {
	int64_t epoch; /* UNIX ns of simulation time 0 */
	int64_t start, stop;
	int64_t wake_deaf; /* the adapter misses that long after each wake-up */
	int64_t back_step; /* largest backward step between merged networks */
	bool lock_in_header, lock_in_journal;
	bool foreign; /* not our recorder: it does not say when it began */
	struct sim_window windows[SIM_WINDOWS];
	int window_count;
	struct sim_queue events, samples;
	char header_lock[32];
	uint64_t frames;
	bool failed, stopped;
};

struct sim_clamp {
	bool on;
	int64_t interval, noise_ua, drift_ua, drift_period, offset_ua;
	int64_t clock_offset; /* the logger's clock minus the frames' */
	int64_t high_ua;      /* a drain that is not a network matter */
};

struct sim_tester {
	bool on;
	bool extended, suppress, physical;
	int network, answering; /* nodes index, -1: nobody */
	uint32_t id;            /* of the maker's choice; 0: a standard one */
	int64_t interval;
};

struct sim_map {
	int missing[4]; /* modules left out */
	int missing_count;
	int wrong_from, wrong_to; /* the ID of the first stands at the second; -1 */
	bool nm_ids;              /* NM IDs stand among the IDs, no node addresses */
};

#define SIM_TEXT 200

/* What the session is about, for truth.txt. */
struct sim_story {
	const char *verdict, *role;
	int network; /* the network concerned */
	int culprits[2];
	int culprit_count;
	int isolated;            /* module that the situation isolates or unplugs, -1 */
	bool verdict_determined; /* the recording tells what the car does */
	bool determined;         /* ... and who is to blame */
	char why[SIM_TEXT];
	char note[SIM_TEXT];
};

struct sim {
	const struct sim_world *world;
	const char *situation;
	uint64_t seed;
	unsigned session; /* of this car, from 0; each on another day */
	bool small;
	int blamed[2]; /* culprits of the first session, picked first here, too */
	int blamed_count, blamed_used;
	int64_t frame_target;
	int64_t sleeps_within;    /* of every network: a gateway ties them together */
	bool sleeps_within_given; /* else the map leaves it to the program's default */
	int64_t now, lock, end;
	bool parked;
	bool truck;
	char title[48];
	struct sim_timers timers;
	struct sim_random invent, course, detail, faulty; /* separate sequences */
	struct sim_network networks[SIM_NETWORKS];
	int network_count;
	struct sim_module modules[SIM_MODULES];
	int module_count;
	struct sim_fuse fuses[SIM_FUSES];
	int fuse_count;
	struct sim_node nodes[SIM_NODES];
	int node_count;
	struct sim_message messages[SIM_MESSAGES];
	int message_count;
	struct sim_fault faults[SIM_FAULTS];
	int fault_count;
	struct sim_action actions[SIM_ACTIONS];
	int action_count;
	int gateway;      /* module, -1 */
	bool independent; /* the gateway keeps no network awake for another */
	int64_t load_ua, pulse_ua;
	int64_t pulse_every, pulse_length;
	int pulse_module;
	struct sim_tester tester;
	struct sim_recorder recorder;
	struct sim_clamp clamp;
	struct sim_map map;
	struct sim_story story;
	struct nod_interfaces interfaces;
};

static inline void sim_set_timer(struct sim *sim, int64_t after, enum sim_timer_kind kind,
				 int index, uint32_t generation)
{
	sim_timers_push(&sim->timers, sim->now + after, kind, index, generation);
}

#endif
