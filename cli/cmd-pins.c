/* nodoff pins: what a multimeter reads at the pins of a network. */
#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "cautions.h"
#include "command.h"
#include "option.h"
#include "pins-report.h"
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
	bool json;
};

enum {
	HIGH = 1000,
	LOW,
	OHMS,
	LIVE,
	UNPOWERED,
	LAYER,
	VEHICLE,
	NETWORK,
	BATTERY,
	LOAD,
	DOMINANT,
	RESOLUTION,
	JSON
};

static const struct option options[] = {
	{"high", required_argument, NULL, HIGH},
	{"low", required_argument, NULL, LOW},
	{"ohms", required_argument, NULL, OHMS},
	{"live", no_argument, NULL, LIVE},
	{"unpowered", no_argument, NULL, UNPOWERED},
	{"layer", required_argument, NULL, LAYER},
	{"vehicle", required_argument, NULL, VEHICLE},
	{"network", required_argument, NULL, NETWORK},
	{"battery", required_argument, NULL, BATTERY},
	{"load", required_argument, NULL, LOAD},
	{"dominant", required_argument, NULL, DOMINANT},
	{"resolution", required_argument, NULL, RESOLUTION},
	{"json", no_argument, NULL, JSON},
	{"help", no_argument, NULL, 'h'},
	{0},
};

static bool take_volts(struct arguments *a, int64_t *uv, const char *option)
{
	struct nod_quantity q;

	if (!nod_option_quantity(&q, "pins", option, optarg, NOD_UNIT_VOLT))
		return false;
	*uv = q.micro;
	if (!a->written_uv || q.last_digit < a->written_uv)
		a->written_uv = q.last_digit;
	return true;
}

static bool take_other(int64_t *micro, const char *option, enum nod_unit unit)
{
	struct nod_quantity q;

	if (!nod_option_quantity(&q, "pins", option, optarg, unit))
		return false;
	*micro = q.micro;
	return true;
}

/* "60" is taken for ohms: nothing else is measured across the pair. */
static bool take_ohms(int64_t *uohm)
{
	struct nod_quantity q;

	if (!nod_quantity_parse(&q, optarg, strlen(optarg), NOD_DECIMAL_ANY, NULL) &&
	    q.unit == NOD_UNIT_NONE) {
		*uohm = q.micro;
		return true;
	}
	return take_other(uohm, "--ohms", NOD_UNIT_OHM);
}

static bool take_layer(enum nod_pins_layer *layer)
{
	if (!strcmp(optarg, "unknown")) {
		*layer = NOD_PINS_ANY_LAYER;
		return true;
	}
	enum nod_pins_layer known[] = {NOD_PINS_HIGH_SPEED, NOD_PINS_FAULT_TOLERANT};
	for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++) {
		if (strcmp(optarg, nod_pins_layer_name(known[i])))
			continue;
		*layer = known[i];
		return true;
	}
	nod_usage("pins", "--layer: `%s` is not high-speed, fault-tolerant or unknown", optarg);
	return false;
}

static bool take_power(struct arguments *a, enum nod_pins_power power)
{
	if (a->input.power != NOD_PINS_POWER_UNKNOWN && a->input.power != power) {
		nod_usage("pins", "--live and --unpowered exclude each other");
		return false;
	}
	a->input.power = power;
	return true;
}

static bool take(struct arguments *a, int option)
{
	struct nod_pins_input *in = &a->input;

	switch (option) {
	case HIGH:
		return take_volts(a, &in->canh_uv, "--high");
	case LOW:
		return take_volts(a, &in->canl_uv, "--low");
	case OHMS:
		return take_ohms(&in->ohms_uohm);
	case LIVE:
		return take_power(a, NOD_PINS_LIVE);
	case UNPOWERED:
		return take_power(a, NOD_PINS_UNPOWERED);
	case LAYER:
		return take_layer(&in->layer);
	case VEHICLE:
		a->vehicle = optarg;
		return true;
	case NETWORK:
		a->network = optarg;
		return true;
	case BATTERY:
		return take_other(&in->battery_uv, "--battery", NOD_UNIT_VOLT);
	case LOAD:
		return nod_option_share(&in->load_ppm, "pins", "--load", optarg);
	case DOMINANT:
		return nod_option_share(&in->dominant_ppm, "pins", "--dominant", optarg);
	case RESOLUTION:
		return take_other(&a->resolution_uv, "--resolution", NOD_UNIT_VOLT);
	case JSON:
		a->json = true;
		return true;
	}
	return false;
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
	struct nod_vehicle *vehicle = nod_vehicle_load(a->vehicle, &err);
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
	struct arguments a = {.input = {.canh_uv = NOD_NOT_MEASURED,
					.canl_uv = NOD_NOT_MEASURED,
					.ohms_uohm = NOD_NOT_MEASURED,
					.battery_uv = NOD_NOT_MEASURED,
					.load_ppm = NOD_NOT_MEASURED,
					.dominant_ppm = NOD_NOT_MEASURED}};
	int option;

	opterr = 0;
	while ((option = getopt_long(argc, argv, "h", options, NULL)) != -1) {
		if (option == 'h') {
			fputs(help, stdout);
			return nod_option_finish();
		}
		if (option == '?')
			return nod_usage("pins", "`%s` is unknown or lacks its value",
					 argv[optind - 1]);
		if (!take(&a, option))
			return NOD_EXIT_USAGE;
	}
	if (optind < argc)
		return nod_usage("pins", "`%s` is not expected here", argv[optind]);
	return run(&a);
}
