/* SPDX-License-Identifier: MIT */
/* nodoff battery: charge from the rest voltage, days until no start. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "battery-report.h"
#include "cautions.h"
#include "command.h"
#include "option.h"
#include "settings.h"
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
	int64_t self_discharge_ppm_per_month; /* -1: not given */
	const char *vehicle;
};

static int take_rest(void *self, const struct nod_given *given)
{
	struct arguments *a = self;
	struct nod_quantity q;
	int status = nod_given_quantity(given, &q);

	if (status)
		return status;
	a->input.rest_uv = q.micro;
	a->rest_count_uv = q.last_digit;
	return NOD_EXIT_OK;
}

/* A drain is a magnitude: which way the clamp was put on does not matter. */
static int take_current(void *self, const struct nod_given *given)
{
	struct arguments *a = self;
	struct nod_quantity q;
	int status = nod_given_quantity(given, &q);

	if (status)
		return status;
	a->input.current_ua = q.micro < 0 ? -q.micro : q.micro;
	if (!a->current_off_given)
		a->input.current_uncertainty_ua = q.last_digit;
	return NOD_EXIT_OK;
}

/* How far a measured value may be off, with the note that it was said. */
static int take_off(void *self, const struct nod_given *given)
{
	struct arguments *a = self;
	struct nod_quantity q;
	int status = nod_given_quantity(given, &q);

	*nod_given_micro(self, given) = status ? 0 : q.micro;
	if (given->option->unit == NOD_UNIT_VOLT)
		a->rest_off_given = true;
	else
		a->current_off_given = true;
	return status;
}

static int take_type(void *self, const struct nod_given *given)
{
	struct arguments *a = self;

	a->type_given = true;
	if (!nod_battery_type_parse(&a->input.type, given->value))
		return NOD_EXIT_OK;
	return nod_given_wrong(given, "flooded, agm or any");
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
	struct nod_vehicle *vehicle = nod_vehicle_load(nod_find_map(a->vehicle), &err);
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
	static const struct nod_option list[] = {
		NOD_TAKE_MICRO("rest", NOD_UNIT_VOLT, struct arguments, input.rest_uv, take_rest),
		NOD_TAKE_MICRO("current", NOD_UNIT_AMPERE, struct arguments, input.current_ua,
			       take_current),
		NOD_TAKE_MICRO("current-off", NOD_UNIT_AMPERE, struct arguments,
			       input.current_uncertainty_ua, take_off),
		NOD_TAKE(0, "type", take_type),
		NOD_MICRO("capacity", NOD_UNIT_AMPERE_HOUR, struct arguments, input.capacity_uah),
		NOD_SECONDS("reserve", struct arguments, input.reserve_s),
		NOD_TEXT(0, "vehicle", struct arguments, vehicle),
		NOD_MICRO("temperature", NOD_UNIT_CELSIUS, struct arguments,
			  input.temperature_microcelsius),
		NOD_SECONDS("rested", struct arguments, input.rested_s),
		NOD_TAKE_MICRO("rest-off", NOD_UNIT_VOLT, struct arguments,
			       input.rest_uncertainty_uv, take_off),
		NOD_SHARE("no-start", struct arguments, input.no_start_ppm),
		NOD_SHARE("self-discharge", struct arguments, self_discharge_ppm_per_month),
		NOD_FLAG(0, "json", struct arguments, json),
		{0}};
	static const struct nod_options options = {
		.command = "battery", .help = help, .list = list};
	struct arguments a = {.input = nod_battery_input_unknown(),
			      .self_discharge_ppm_per_month = -1};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first < argc)
		return nod_usage("battery", "`%s` is not expected here", argv[first]);
	if (a.self_discharge_ppm_per_month >= 0)
		a.input.self_discharge_ppm_per_day = a.self_discharge_ppm_per_month / 30;
	return run(&a);
}
