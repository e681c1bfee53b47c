/* SPDX-License-Identifier: MIT */
/* The vehicle file: the user's own map of a car.
 *
 * YAML, written by hand. Scalars are taken as they are written (123 is the ID
 * 123h, never a decimal number); every error names file, line and column and
 * says what was expected. All keys but `networks` are optional.
 *
 *     vehicle: Hatchback, invented
 *     limits:
 *       key-off current: 50 mA
 *     battery: { type: flooded, capacity: 70 Ah, reserve: 120 min }
 *     networks:
 *       body:
 *         interfaces: [can0, vcan0]
 *         bitrate: 500000
 *         data bitrate: 2000000          # CAN FD
 *         physical layer: high-speed     # or fault-tolerant
 *         sleeps within: 10 min          # after lock
 *         quiet time: 2 s                # silence that counts as asleep
 *         management: { scheme: autosar, ids: 500-53F, node byte: 0,
 *                       control byte: 1, partial network bytes: 4-5 }
 *       chassis:
 *         interfaces: [can1]
 *         bitrate: 500000
 *         management: { scheme: osek, ids: 400-43F }
 *     fuses:
 *       F12: { family: mini, rating: 10 A, box: cabin, feeds: [interior lamps],
 *              resistance: 7.4 mOhm, cautions: [alarm] }
 *     modules:
 *       tailgate module:
 *         networks: [body]
 *         ids: [2A0, 2A8-2AF, 18FF0010, "300/7F0"]  # value, range, value/mask
 *         node: 12                       # NM node address, hex
 *         source address: 21             # J1939, hex
 *         fuses: [F12]
 *         place: left of the tailgate
 *         comment: also drives the mirror
 *         inputs: [tailgate switch, tailgate latch]
 *         cautions: [airbag]
 *         gateway: yes
 *         wakes after: [40 min, 80 min]  # the lock: wake-ups that are meant;
 *         wakes every: 15 min            # or again and again,
 *         wakes for: 30 s                # for so long at most
 *     messages:                          # what the bits mean: message.h
 *       TailgateStatus: { id: 2A0, signals: { TailgateSwitch: { at: byte 0 bit 3 } } }
 *
 * management schemes: autosar, osek, j1939, none, unknown (the default:
 * detect). Cautions that nodoff acts on: airbag, high-voltage (never proposed
 * for isolation), alarm, memory (something is lost when isolated); any other
 * text is shown as it stands. captures/example-vehicle.yaml has every key.
 *
 * A module or a message without `networks` may be on any; a file with messages needs
 * no network. A key that is absent leaves the
 * default of the tables below. An ID, a node or a source address belongs to
 * one module on a network; a module that passes on another's ID to a second
 * network is described as two modules with the same fuses.
 *
 * Quantities carry their unit (50 mA, 10 A, 500 uA; 7.4 mOhm; 70 Ah; 2 s,
 * 10 min, 1 h 30 min); only a bitrate may stand alone (500000, 500k, 500 kbit/s,
 * 1M). Addresses are hex: 21, 0x21, 21h. Keys and names compare without case.
 * Lists of one need no brackets. Refused are anchors, references, tags, more
 * than one document, control characters, and sizes far above any car: 4 MiB,
 * 32 networks, 10,000 modules, fuses or messages, 100,000 IDs, ranges and masks (300
 * masks that are not ranges), names of 80 and texts of 240 bytes. */
#ifndef NOD_VEHICLE_H
#define NOD_VEHICLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "error.h"
#include "frame.h"
#include "message.h"

/* Indices are into the arrays of struct nod_vehicle. */
#define NOD_NONE (-1)

enum nod_nm_scheme {
	NOD_NM_UNKNOWN, /* the file does not say: detect from the traffic */
	NOD_NM_NONE,    /* the file says there is none */
	NOD_NM_AUTOSAR, /* AUTOSAR CanNm */
	NOD_NM_OSEK,    /* OSEK/VDX direct NM */
	NOD_NM_J1939,   /* J1939: source address = module, no agreed bus sleep */
	NOD_NM_SCHEMES
};

enum nod_physical_layer { NOD_LAYER_HIGH_SPEED, NOD_LAYER_FAULT_TOLERANT };

struct nod_nm_layout {
	enum nod_nm_scheme scheme;
	uint32_t first_id,
		last_id; /* NM PDUs; node address = id - first_id unless node_byte says */
	bool ids_given;  /* false: not in the file, first_id and last_id are 0 */
	/* Byte positions in an AUTOSAR NM PDU, -1: not present.
	 * Defaults 0 and 1 (CanNmPduNidPosition, CanNmPduCbvPosition). */
	int node_byte, control_byte;
	int partial_first, partial_last; /* partial network info bytes, -1: none */
	/* OSEK opcode bits; the coding is the implementer's choice, defaults
	 * 01 02 04 10 20. */
	uint8_t osek_alive, osek_ring, osek_limp_home, osek_sleep_indication,
		osek_sleep_acknowledge;
};

/* Defaults of a network; each is "common practice, no source" unless said. */
#define NOD_DEFAULT_SLEEPS_WITHIN_S (40 * 60) /* a big car settles within about 40 minutes */
#define NOD_DEFAULT_QUIET_TIME_S \
	5 /* longer than any cyclic or NM period in use (<= 2 s) and any
				    * NM wait-bus-sleep of published-example sets (5 s) */
#define NOD_DEFAULT_BITRATE 500000
#define NOD_DEFAULT_KEY_OFF_CURRENT_UA 50000 /* 30-70 mA on a clamp is a sleeping car */

struct nod_network {
	char *name;
	char **interfaces; /* as the network may appear in captures */
	size_t interface_count;
	uint32_t bitrate;                        /* bit/s; 0: not given */
	uint32_t data_bitrate;                   /* bit/s of CAN FD data phase; 0: none */
	int64_t sample_point, data_sample_point; /* of a bit, thousandths; 0: not given */
	enum nod_physical_layer layer;
	nod_duration sleeps_within; /* after lock */
	bool sleeps_within_given;
	nod_duration quiet_time;
	bool quiet_time_given;
	struct nod_nm_layout nm;
	unsigned line;
};

struct nod_fuse {
	char *name;
	char *family;      /* lower case: ato, mini, micro2, maxi, jcase, ...; NULL: not given */
	int64_t rating_ma; /* 0: not given */
	int64_t resistance_uohm; /* cold resistance of this very fuse; 0: not given */
	char *box;               /* NULL: not given */
	char **feeds;            /* what else hangs on it, text */
	size_t feed_count;
	char **cautions;
	size_t caution_count;
	unsigned line;
};

struct nod_module {
	char *name;
	int *networks; /* indices; count 0: any network */
	size_t network_count;
	struct nod_id_rule *ids;
	size_t id_count;
	int *nodes; /* NM node addresses, 0..255 */
	size_t node_count;
	int *source_addresses; /* J1939, 0..253 */
	size_t source_address_count;
	int *fuses; /* indices */
	size_t fuse_count;
	char *place, *comment; /* NULL: not given */
	char **inputs;
	size_t input_count;
	char **cautions;
	size_t caution_count;
	bool gateway;
	nod_duration *wakes_after; /* the lock: when it wakes the car because it is meant to */
	size_t wakes_after_count;
	nod_duration wakes_every, wakes_for; /* how often, and how long at most; 0: not given */
	unsigned line;
};

struct nod_battery_data {
	char *type;              /* "flooded", "agm" or NULL */
	int64_t capacity_mah;    /* 0: not given */
	int64_t reserve_minutes; /* 0: not given */
};

struct nod_vehicle {
	char *title; /* NULL: not given */
	char *path;  /* as given to the loader; NULL when made by a program */
	struct nod_network *networks;
	size_t network_count;
	struct nod_module *modules;
	size_t module_count;
	struct nod_fuse *fuses;
	size_t fuse_count;
	struct nod_message *messages;
	size_t message_count;
	int64_t key_off_current_ua; /* limit, microamps */
	bool key_off_current_given;
	struct nod_battery_data battery;
	struct nod_vehicle_index *index; /* makes the look-ups by ID fast; may be NULL */
};

/* Reads and checks a vehicle file. NULL with errno and err set on the first
 * error: EINVAL for content, EFBIG, ENOMEM, else from opening. */
struct nod_vehicle *nod_vehicle_load(const char *path, struct nod_error *err);

/* The same from text; `name` is used in messages. */
struct nod_vehicle *nod_vehicle_parse(const char *text, size_t length, const char *name,
				      struct nod_error *err);

/* (Re)builds what finds modules and messages by ID. The loader has done it; a program that
 * changes the modules or their IDs afterwards calls it again (without an index
 * the modules are searched one by one). Returns 0 or -ENOMEM. */
int nod_vehicle_index(struct nod_vehicle *vehicle);

/* Writes a vehicle file that parses back to the same vehicle (lines and path
 * apart): what was not given is left out. Returns 0 or -EIO. */
int nod_vehicle_write(const struct nod_vehicle *vehicle, FILE *out);

/* A vehicle about which nothing is known: no networks, no modules, defaults. */
struct nod_vehicle *nod_vehicle_new(void);

void nod_vehicle_free(struct nod_vehicle *vehicle);

/* Network management about which nothing is said: scheme unknown, the usual
 * positions and opcode bits. */
struct nod_nm_layout nod_nm_layout_default(void);

/* Adds a network with default values (all "not given") that appears as
 * `interface`; used for interfaces the file does not know. Returns its index
 * or -ENOMEM. */
int nod_vehicle_add_network(struct nod_vehicle *vehicle, const char *name, const char *interface);

/* Index of the network an interface belongs to, NOD_NONE when none does. */
int nod_vehicle_network_of_interface(const struct nod_vehicle *vehicle, const char *interface);

/* Index of the module that sends `id` (with NOD_ID_EXTENDED) on network
 * `network` (an index, or NOD_NONE for any), by its IDs, then by its J1939 source address
 * (29-bit IDs on a network whose scheme is j1939), then by NM node address on
 * the NM IDs of the network. NOD_NONE when no module claims it. */
int nod_vehicle_module_of_id(const struct nod_vehicle *vehicle, int network, uint32_t id);

/* Index of the message an ID is on a network (NOD_NONE: on any): one that states the
 * ID itself before one whose mask fits it. NOD_NONE when none does, or when the vehicle
 * has no index (see nod_vehicle_index()). */
int nod_vehicle_message_of_id(const struct nod_vehicle *vehicle, int network, uint32_t id);

/* Index of the module with a J1939 source address, or a NM node address, on a
 * network; NOD_NONE. Whatever the scheme of the network in the file. */
int nod_vehicle_module_of_address(const struct nod_vehicle *vehicle, int network, int address);
int nod_vehicle_module_of_node(const struct nod_vehicle *vehicle, int network, int node);

/* Indices by name, NOD_NONE when there is none. Names compare without case. */
int nod_vehicle_fuse_by_name(const struct nod_vehicle *vehicle, const char *name);
int nod_vehicle_module_by_name(const struct nod_vehicle *vehicle, const char *name);

/* What a journal subject means: fills fuse or module (the other NOD_NONE).
 * False when nothing fits. Taken leniently: "F12", "fuse F12", "the door module
 * left", "module  Door-module Left", "F 12". A name that a fuse and a module
 * share means the fuse, unless "module" stands before it. */
bool nod_vehicle_resolve(const struct nod_vehicle *vehicle, const char *subject, int *fuse,
			 int *module);

/* True when a caution list contains the keyword (without case). */
bool nod_cautions_contain(char *const *cautions, size_t count, const char *keyword);

#endif
