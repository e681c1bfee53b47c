/* nodoff battery: charge from the rest voltage, days until no start. */
#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <string.h>

#include "battery-report.h"
#include "cautions.h"
#include "command.h"
#include "option.h"
#include "vehicle.h"

int nod_cmd_battery(int argc, char **argv);

static const char help[] =
	"usage: nodoff battery [--rest VOLTS] [--current AMPS] [OPTION ...]\n"
	"\n"
	"Says how charged a resting 12 V battery is and how many days it still starts\n"
	"the car at a given drain: worst case, plain rule, best case.\n"
	"\n"
	"  --rest 12.45V            voltage at rest\n"
	"  --current 80mA           drain of the parked car\n"
	"  --current-off 20mA       how far that may be off (else one last digit; a\n"
	"                           clamp wanders by 20 mA)\n"
	"  --type flooded           or agm; any when not known\n"
	"  --capacity 70Ah          as rated\n"
	"  --reserve 120min         reserve capacity\n"
	"  --vehicle FILE           takes type, capacity and reserve from a vehicle file\n"
	"  --temperature 5C         of the battery\n"
	"  --rested 8h              since the last charge or drive\n"
	"  --rest-off 20mV          how far the voltage may be off (else +-(0.5 % + 2\n"
	"                           digits), a usual meter)\n"
	"  --no-start 60%           charge below which it does not start\n"
	"  --self-discharge 5%      a month, for the worst case (else 4 % a week)\n"
	"  --json                   for programs\n";

struct arguments {
	struct nod_battery_input input;
	int64_t rest_count_uv; /* value of the voltage's last digit as written */
	bool rest_off_given, current_off_given, type_given, json;
	const char *vehicle;
};

enum {
	REST = 1000,
	CURRENT,
	CURRENT_OFF,
	TYPE,
	CAPACITY,
	RESERVE,
	VEHICLE,
	TEMPERATURE,
	RESTED,
	REST_OFF,
	NO_START,
	SELF_DISCHARGE,
	JSON
};

static const struct option options[] = {
	{"rest", required_argument, NULL, REST},
	{"current", required_argument, NULL, CURRENT},
	{"current-off", required_argument, NULL, CURRENT_OFF},
	{"type", required_argument, NULL, TYPE},
	{"capacity", required_argument, NULL, CAPACITY},
	{"reserve", required_argument, NULL, RESERVE},
	{"vehicle", required_argument, NULL, VEHICLE},
	{"temperature", required_argument, NULL, TEMPERATURE},
	{"rested", required_argument, NULL, RESTED},
	{"rest-off", required_argument, NULL, REST_OFF},
	{"no-start", required_argument, NULL, NO_START},
	{"self-discharge", required_argument, NULL, SELF_DISCHARGE},
	{"json", no_argument, NULL, JSON},
	{"help", no_argument, NULL, 'h'},
	{0},
};

static bool quantity(struct nod_quantity *q, const char *option, enum nod_unit unit)
{
	return nod_option_quantity(q, "battery", option, optarg, unit);
}

static bool take_micro(int64_t *micro, const char *option, enum nod_unit unit)
{
	struct nod_quantity q;

	if (!quantity(&q, option, unit))
		return false;
	*micro = q.micro;
	return true;
}

static bool take_seconds(int64_t *seconds, const char *option)
{
	struct nod_quantity q;

	if (!quantity(&q, option, NOD_UNIT_SECOND))
		return false;
	*seconds = q.micro / 1000000;
	return true;
}

static bool take_rest(struct arguments *a)
{
	struct nod_quantity q;

	if (!quantity(&q, "--rest", NOD_UNIT_VOLT))
		return false;
	a->input.rest_uv = q.micro;
	a->rest_count_uv = q.last_digit;
	return true;
}

/* A drain is a magnitude: which way the clamp was put on does not matter. */
static bool take_current(struct arguments *a)
{
	struct nod_quantity q;

	if (!quantity(&q, "--current", NOD_UNIT_AMPERE))
		return false;
	a->input.current_ua = q.micro < 0 ? -q.micro : q.micro;
	if (!a->current_off_given)
		a->input.current_uncertainty_ua = q.last_digit;
	return true;
}

static bool take_type(struct arguments *a)
{
	a->type_given = true;
	if (!nod_battery_type_parse(&a->input.type, optarg))
		return true;
	nod_usage("battery", "--type: `%s` is not flooded, agm or any", optarg);
	return false;
}

static bool take_self_discharge(struct arguments *a)
{
	if (!nod_option_share(&a->input.self_discharge_ppm_per_day, "battery", "--self-discharge",
			      optarg))
		return false;
	a->input.self_discharge_ppm_per_day /= 30; /* a month */
	return true;
}

static bool take(struct arguments *a, int option)
{
	struct nod_battery_input *in = &a->input;

	switch (option) {
	case REST:
		return take_rest(a);
	case CURRENT:
		return take_current(a);
	case CURRENT_OFF:
		a->current_off_given = true;
		return take_micro(&in->current_uncertainty_ua, "--current-off", NOD_UNIT_AMPERE);
	case TYPE:
		return take_type(a);
	case CAPACITY:
		return take_micro(&in->capacity_uah, "--capacity", NOD_UNIT_AMPERE_HOUR);
	case RESERVE:
		return take_seconds(&in->reserve_s, "--reserve");
	case VEHICLE:
		a->vehicle = optarg;
		return true;
	case TEMPERATURE:
		return take_micro(&in->temperature_microcelsius, "--temperature", NOD_UNIT_CELSIUS);
	case RESTED:
		return take_seconds(&in->rested_s, "--rested");
	case REST_OFF:
		a->rest_off_given = true;
		return take_micro(&in->rest_uncertainty_uv, "--rest-off", NOD_UNIT_VOLT);
	case NO_START:
		return nod_option_share(&in->no_start_ppm, "battery", "--no-start", optarg);
	case SELF_DISCHARGE:
		return take_self_discharge(a);
	case JSON:
		a->json = true;
		return true;
	}
	return false;
}

/* What the command line says wins over the vehicle file. */
static void fill_from_vehicle(struct arguments *a, const struct nod_battery_data *data)
{
	struct nod_battery_input *in = &a->input;

	if (!a->type_given && data->type && nod_battery_type_parse(&in->type, data->type))
		in->type = NOD_BATTERY_ANY;
	if (in->capacity_uah == NOD_BATTERY_UNKNOWN && data->capacity_mah)
		in->capacity_uah = data->capacity_mah * 1000;
	if (in->reserve_s == NOD_BATTERY_UNKNOWN && data->reserve_minutes)
		in->reserve_s = data->reserve_minutes * 60;
}

static int read_vehicle(struct arguments *a)
{
	struct nod_error err = {""};

	if (!a->vehicle)
		return NOD_EXIT_OK;
	struct nod_vehicle *vehicle = nod_vehicle_load(a->vehicle, &err);
	if (!vehicle)
		return nod_unreadable("%s", err.text);
	fill_from_vehicle(a, &vehicle->battery);
	nod_vehicle_free(vehicle);
	return NOD_EXIT_OK;
}

static int run(struct arguments *a)
{
	struct nod_battery_input *in = &a->input;
	struct nod_battery battery;
	struct nod_error err = {""};
	int status = read_vehicle(a);

	if (status)
		return status;
	if (in->rest_uv != NOD_BATTERY_UNKNOWN && !a->rest_off_given)
		in->rest_uncertainty_uv = nod_meter_uncertainty_uv(in->rest_uv, a->rest_count_uv);
	if (in->rest_uv == NOD_BATTERY_UNKNOWN && in->current_ua == NOD_BATTERY_UNKNOWN &&
	    in->reserve_s == NOD_BATTERY_UNKNOWN)
		return nod_usage("battery", "nothing to work out: give --rest, or --current with "
					    "--capacity or --reserve");
	if (nod_battery_judge(&battery, in, &err))
		return nod_usage("battery", "%s", err.text);
	if (a->json)
		return nod_option_print_json(nod_battery_json(in, &battery));
	nod_battery_print(stdout, in, &battery);
	putchar('\n');
	nod_cautions_print(stdout, in->current_ua == NOD_BATTERY_UNKNOWN
					   ? NOD_JOB_BATTERY
					   : NOD_JOB_BATTERY | NOD_JOB_CURRENT);
	return nod_option_finish();
}

int nod_cmd_battery(int argc, char **argv)
{
	struct arguments a = {.input = nod_battery_input_unknown()};
	int option;

	opterr = 0;
	while ((option = getopt_long(argc, argv, "h", options, NULL)) != -1) {
		if (option == 'h') {
			fputs(help, stdout);
			return nod_option_finish();
		}
		if (option == '?')
			return nod_usage("battery", "`%s` is unknown or lacks its value",
					 argv[optind - 1]);
		if (!take(&a, option))
			return NOD_EXIT_USAGE;
	}
	if (optind < argc)
		return nod_usage("battery", "`%s` is not expected here", argv[optind]);
	return run(&a);
}
