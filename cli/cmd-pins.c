/* SPDX-License-Identifier: MIT */
/* nodoff pins: what a multimeter reads at the pins of a network. */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "cautions.h"
#include "command.h"
#include "option.h"
#include "pins-report.h"
#include "settings.h"
#include "vehicle.h"

int nod_cmd_pins(int argc, char **argv);

static const char help[] =
	"usage: nodoff pins --high VOLTS --low VOLTS [--ohms OHMS] [OPTION ...]\n"
	"\n"
	"Says what a plain multimeter reads at the pins of a CAN network: asleep,\n"
	"awake and how busy, a terminator missing or too many, shorts, open wires.\n"
	"On the diagnostic connector CANH is pin 6, CANL pin 14, ground pin 4 or 5.\n"
	"\n"
	"  --high 2.62V       CANH to ground\n"
	"  --low 2.38V        CANL to ground\n"
	"  --ohms 60ohm       across the pair\n"
	"  --live             the ohms were measured with the bus live\n"
	"  --unpowered        the ohms were measured without supply\n"
	"  --layer LAYER      high-speed, fault-tolerant or unknown (the default)\n"
	"  --vehicle FILE     with --network NAME: takes the layer from a vehicle file\n"
	"  --network NAME     the network that is measured\n"
	"  --battery 12.4V    battery voltage at the time\n"
	"  --load 22%         bus load a recording shows, to compare\n"
	"  --dominant 12%     or the fraction of time it is dominant\n"
	"  --resolution 10mV  value of the meter's last digit (else as written)\n"
	"  --json             for programs\n";

struct arguments {
	struct nod_pins_input input;
	int64_t resolution_uv,
		written_uv; /* as given, and the finest as written: 0V is short for 0.00V */
	const char *vehicle, *network;
	bool live, unpowered, json;
};

static int take_volts(void *self, const struct nod_given *given)
{
	struct arguments *a = self;
	struct nod_quantity q;
	int status = nod_given_quantity(given, &q);

	if (status)
		return status;
	*nod_given_micro(self, given) = q.micro;
	if (!a->written_uv || q.last_digit < a->written_uv)
		a->written_uv = q.last_digit;
	return NOD_EXIT_OK;
}

/* "60" is taken for ohms: nothing else is measured across the pair. */
static int take_ohms(void *self, const struct nod_given *given)
{
	const char *text = given->value;
	struct nod_quantity q;
	int status = NOD_EXIT_OK;

	if (nod_quantity_parse(&q, text, strlen(text), NOD_DECIMAL_ANY, NULL) ||
	    q.unit != NOD_UNIT_NONE)
		status = nod_given_quantity(given, &q);
	if (!status)
		*nod_given_micro(self, given) = q.micro;
	return status;
}

static int take_layer(void *self, const struct nod_given *given)
{
	static const enum nod_pins_layer known[] = {NOD_PINS_HIGH_SPEED, NOD_PINS_FAULT_TOLERANT};
	struct arguments *a = self;

	a->input.layer = NOD_PINS_ANY_LAYER;
	for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++)
		if (!strcmp(given->value, nod_pins_layer_name(known[i])))
			a->input.layer = known[i];
	if (a->input.layer != NOD_PINS_ANY_LAYER || !strcmp(given->value, "unknown"))
		return NOD_EXIT_OK;
	return nod_given_wrong(given, "high-speed, fault-tolerant or unknown");
}

static int print(const struct arguments *a, const struct nod_pins *pins)
{
	if (a->json)
		return nod_option_print_json(nod_pins_json(&a->input, pins));
	nod_pins_print(stdout, &a->input, pins);
	putchar('\n');
	nod_cautions_print(stdout, NOD_JOB_PINS);
	return nod_option_finish();
}

static const struct nod_network *find_network(const struct nod_vehicle *vehicle, const char *name)
{
	for (size_t i = 0; i < vehicle->network_count; i++)
		if (!strcasecmp(vehicle->networks[i].name, name))
			return &vehicle->networks[i];
	return NULL;
}

/* The layer of the network in the vehicle file; --layer wins. */
static int read_vehicle(struct arguments *a)
{
	struct nod_error err = {""};

	if (!a->vehicle != !a->network)
		return nod_usage("pins", "--vehicle and --network need each other");
	if (!a->vehicle)
		return NOD_EXIT_OK;
	struct nod_vehicle *vehicle = nod_vehicle_load(nod_find_map(a->vehicle), &err);
	if (!vehicle)
		return nod_unreadable("%s", err.text);
	const struct nod_network *network = find_network(vehicle, a->network);
	int status = network ? NOD_EXIT_OK
			     : nod_usage("pins", "--network: the vehicle file has no network `%s`",
					 a->network);
	if (network && a->input.layer == NOD_PINS_ANY_LAYER)
		a->input.layer = network->layer == NOD_LAYER_FAULT_TOLERANT
					 ? NOD_PINS_FAULT_TOLERANT
					 : NOD_PINS_HIGH_SPEED;
	nod_vehicle_free(vehicle);
	return status;
}

static int run(struct arguments *a)
{
	struct nod_error err = {""};
	int status = read_vehicle(a);

	if (status)
		return status;
	a->input.count_uv = a->resolution_uv ? a->resolution_uv : a->written_uv;
	struct nod_pins *pins = nod_pins_judge(&a->input, &err);
	if (!pins)
		return errno == ENOMEM ? nod_unreadable("%s", err.text)
				       : nod_usage("pins", "%s", err.text);
	status = print(a, pins);
	nod_pins_free(pins);
	return status;
}

int nod_cmd_pins(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TAKE_MICRO("high", NOD_UNIT_VOLT, struct arguments, input.canh_uv, take_volts),
		NOD_TAKE_MICRO("low", NOD_UNIT_VOLT, struct arguments, input.canl_uv, take_volts),
		NOD_TAKE_MICRO("ohms", NOD_UNIT_OHM, struct arguments, input.ohms_uohm, take_ohms),
		NOD_FLAG(0, "live", struct arguments, live),
		NOD_FLAG(0, "unpowered", struct arguments, unpowered),
		NOD_TAKE(0, "layer", take_layer),
		NOD_TEXT(0, "vehicle", struct arguments, vehicle),
		NOD_TEXT(0, "network", struct arguments, network),
		NOD_MICRO("battery", NOD_UNIT_VOLT, struct arguments, input.battery_uv),
		NOD_SHARE("load", struct arguments, input.load_ppm),
		NOD_SHARE("dominant", struct arguments, input.dominant_ppm),
		NOD_MICRO("resolution", NOD_UNIT_VOLT, struct arguments, resolution_uv),
		NOD_FLAG(0, "json", struct arguments, json),
		{0}};
	static const struct nod_options options = {.command = "pins", .help = help, .list = list};
	struct arguments a = {.input = {.canh_uv = NOD_NOT_MEASURED,
					.canl_uv = NOD_NOT_MEASURED,
					.ohms_uohm = NOD_NOT_MEASURED,
					.battery_uv = NOD_NOT_MEASURED,
					.load_ppm = NOD_NOT_MEASURED,
					.dominant_ppm = NOD_NOT_MEASURED}};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first < argc)
		return nod_usage("pins", "`%s` is not expected here", argv[first]);
	if (a.live && a.unpowered)
		return nod_usage("pins", "--live and --unpowered exclude each other");
	if (a.live || a.unpowered)
		a.input.power = a.live ? NOD_PINS_LIVE : NOD_PINS_UNPOWERED;
	return run(&a);
}
