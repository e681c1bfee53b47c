/* SPDX-License-Identifier: MIT */
#include "pins.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "pins-internal.h"
#include "pins-tables.h"
#include "quantity.h"

static bool measured(int64_t value)
{
	return value != NOD_NOT_MEASURED;
}

void nod_pins_add(struct nod_pins *p, enum nod_pins_state state, enum nod_pins_layer layer,
		  bool fault, const char *text)
{
	if (p->finding_count < NOD_PINS_MOST)
		p->findings[p->finding_count++] = (struct nod_pins_finding){
			.state = state, .layer = layer, .fault = fault, .text = text};
}

static void add_next(struct nod_pins *p, const char *text)
{
	for (size_t i = 0; i < p->next_count; i++)
		if (!strcmp(p->next[i], text))
			return;
	if (p->next_count < NOD_PINS_MOST)
		p->next[p->next_count++] = text;
}

/* -- volts -------------------------------------------------------------- */

static struct nod_pins_volts volts_of(const struct nod_pins_input *in,
				      enum nod_physical_layer layer)
{
	int64_t larger = llabs(in->canh_uv) > llabs(in->canl_uv) ? in->canh_uv : in->canl_uv;
	int64_t difference = in->canh_uv - in->canl_uv;

	return (struct nod_pins_volts){
		.high = in->canh_uv,
		.low = in->canl_uv,
		.difference = difference,
		.off = nod_meter_uncertainty_uv(larger, in->count_uv),
		.off_difference = nod_meter_difference_uncertainty_uv(difference, in->count_uv),
		.battery = in->battery_uv,
		.dominant = nod_levels_dominant(layer, in->canh_uv, in->canl_uv, in->count_uv),
	};
}

static bool is_awake(enum nod_pins_state state)
{
	return state == NOD_PINS_QUIET || state == NOD_PINS_BUSY;
}

const char *nod_pins_percent(struct nod_pins *p, int64_t ppm)
{
	char buf[NOD_QUANTITY_TEXT];

	return nod_arena_printf(&p->arena, "%s",
				nod_quantity_print_fixed(buf, ppm * 100, NOD_UNIT_PERCENT,
							 ppm < 10000 && ppm ? 1 : 0));
}

/* The text of a rule, with how busy the network is or may be. */
static const char *with_load(struct nod_pins *p, const struct nod_pins_rule *rule,
			     struct nod_ppm_range dominant)
{
	struct nod_ppm_range load = nod_levels_load(dominant);

	if (rule->state == NOD_PINS_QUIET)
		return nod_arena_printf(&p->arena,
					"%s It need not be silent: a load of up to %s would read "
					"the same on this meter.",
					rule->text, nod_pins_percent(p, load.high));
	if (rule->state == NOD_PINS_BUSY)
		return nod_arena_printf(
			&p->arena,
			"%s Dominant %s of the time (%s to %s), a bus load of some %s "
			"to %s.",
			rule->text, nod_pins_percent(p, dominant.nominal),
			nod_pins_percent(p, dominant.low), nod_pins_percent(p, dominant.high),
			nod_pins_percent(p, load.low), nod_pins_percent(p, load.high));
	return rule->text;
}

static enum nod_physical_layer physical(enum nod_pins_layer layer)
{
	return layer == NOD_PINS_FAULT_TOLERANT ? NOD_LAYER_FAULT_TOLERANT : NOD_LAYER_HIGH_SPEED;
}

static void judge_layer(struct nod_pins *p, const struct nod_pins_input *in,
			enum nod_pins_layer layer)
{
	struct nod_pins_volts v = volts_of(in, physical(layer));
	const struct nod_pins_rule *rule = nod_pins_rule_of_volts(physical(layer), &v);

	nod_pins_add(p, rule->state, layer, rule->fault, with_load(p, rule, v.dominant));
}

/* When one of two layers explains the voltages and the other does not, the
 * voltages themselves tell which it is. */
static void drop_impossible(struct nod_pins *p)
{
	struct nod_pins_finding *f = p->findings;

	if (p->finding_count != 2)
		return;
	if (f[0].state == f[1].state && f[0].state >= NOD_PINS_UNTRUSTED) {
		f[0].layer = NOD_PINS_ANY_LAYER;
		p->finding_count = 1;
	} else if (f[0].state == NOD_PINS_CONTRADICTORY) {
		f[0] = f[1];
		p->finding_count = 1;
	} else if (f[1].state == NOD_PINS_CONTRADICTORY) {
		p->finding_count = 1;
	} else if (f[0].fault && !f[1].fault) {
		struct nod_pins_finding first = f[1];
		f[1] = f[0];
		f[0] = first;
	}
}

/* 125 kbit/s is the highest rate of fault-tolerant networks: from memory of the
 * standard (ISO 11898-3). Pins 6 and 14: ISO 15765-4. */
static const char tell_layers_apart[] =
	"Which kind of network it is decides: without supply, 60 ohm across the pair is high "
	"speed; a bitrate above 125 kbit/s is high speed; pins 6 and 14 are high speed by "
	"standard. The wiring diagram or the vehicle file says it.";

static void judge_both_layers(struct nod_pins *p, const struct nod_pins_input *in)
{
	judge_layer(p, in, NOD_PINS_HIGH_SPEED);
	judge_layer(p, in, NOD_PINS_FAULT_TOLERANT);
	drop_impossible(p);
	if (p->finding_count == 2)
		add_next(p, tell_layers_apart);
}

static void judge_volts(struct nod_pins *p, const struct nod_pins_input *in)
{
	if (in->layer == NOD_PINS_ANY_LAYER)
		judge_both_layers(p, in);
	else
		judge_layer(p, in, in->layer);
	const struct nod_pins_finding *first = &p->findings[0];
	if (!is_awake(first->state))
		return;
	p->dominant_known = true;
	p->dominant = nod_levels_dominant(physical(first->layer), in->canh_uv, in->canl_uv,
					  in->count_uv);
	p->load = nod_levels_load(p->dominant);
}

static void ask_for_volts(struct nod_pins *p, const struct nod_pins_input *in)
{
	if (measured(in->canh_uv) != measured(in->canl_uv))
		nod_pins_add(p, NOD_PINS_UNTRUSTED, NOD_PINS_ANY_LAYER, false,
			     "One wire alone decides nothing: its level says neither asleep nor "
			     "awake nor how busy without the other.");
	add_next(p, "Measure volts of both wires to ground: pin 6 (CANH) and pin 14 (CANL) "
		    "against pin 4 or 5; other networks may be on the car maker's pins, such "
		    "as 3 and 11 or 1 and 8.");
}

/* -- ohms --------------------------------------------------------------- */

/* Any voltage on the wires drives the meter's own measuring current off. */
static bool wires_have_volts(const struct nod_pins_input *in)
{
	return (measured(in->canh_uv) && llabs(in->canh_uv) > NOD_HS_ASLEEP_MAX_UV) ||
	       (measured(in->canl_uv) && llabs(in->canl_uv) > NOD_HS_ASLEEP_MAX_UV);
}

static void judge_ohms(struct nod_pins *p, const struct nod_pins_input *in)
{
	const struct nod_pins_band *band = nod_pins_band_of_ohms(in->layer, in->ohms_uohm);

	if (in->power == NOD_PINS_LIVE ||
	    (in->power == NOD_PINS_POWER_UNKNOWN && wires_have_volts(in))) {
		nod_pins_add(p, NOD_PINS_UNTRUSTED, NOD_PINS_ANY_LAYER, false,
			     in->power == NOD_PINS_LIVE
				     ? "The ohms cannot be trusted: on a live bus the meter "
				       "measures the traffic and the bias, not the terminators."
				     : "The ohms cannot be trusted unless they were measured "
				       "without supply: the volts say that the wires were live.");
		add_next(p, "Measure ohms across the pair again with the network without supply "
			    "and the wires at 0 V.");
		return;
	}
	nod_pins_add(p, band->state,
		     in->layer == NOD_PINS_FAULT_TOLERANT ? in->layer : NOD_PINS_HIGH_SPEED,
		     band->fault,
		     in->power == NOD_PINS_UNPOWERED
			     ? band->text
			     : nod_arena_printf(&p->arena, "%s (If the pair was without supply.)",
						band->text));
}

bool nod_pins_has(const struct nod_pins *p, enum nod_pins_state state)
{
	for (size_t i = 0; i < p->finding_count; i++)
		if (p->findings[i].state == state)
			return true;
	return false;
}

/* Wires that are shorted together cannot be apart. */
static void cross_check(struct nod_pins *p, const struct nod_pins_input *in,
			enum nod_pins_state volts)
{
	if (!nod_pins_has(p, NOD_PINS_TOGETHER) || !measured(in->ohms_uohm))
		return;
	if (volts == NOD_PINS_BUSY || volts == NOD_PINS_OPEN || volts == NOD_PINS_HELD)
		nod_pins_add(p, NOD_PINS_CONTRADICTORY, NOD_PINS_ANY_LAYER, false,
			     "Volts and ohms contradict each other: wires shorted together cannot "
			     "be at different voltages. Other pins, or the short comes and goes.");
}

/* -- all ---------------------------------------------------------------- */

static bool out_of_range(int64_t value, int64_t most)
{
	return measured(value) && (value > most || value < -most);
}

static int check(const struct nod_pins_input *in, struct nod_error *err)
{
	if (!measured(in->canh_uv) && !measured(in->canl_uv) && !measured(in->ohms_uohm))
		return nod_error_set(err, EINVAL,
				     "no reading is given: volts of CANH and CANL to "
				     "ground, or ohms across the pair");
	if (out_of_range(in->canh_uv, NOD_PINS_LARGEST_UV) ||
	    out_of_range(in->canl_uv, NOD_PINS_LARGEST_UV) ||
	    out_of_range(in->battery_uv, NOD_PINS_LARGEST_UV) || in->count_uv < 0 ||
	    in->count_uv > NOD_PINS_LARGEST_UV)
		return nod_error_set(err, EINVAL, "more than %d V is no reading of a CAN wire",
				     NOD_PINS_LARGEST_UV / 1000000);
	if (measured(in->ohms_uohm) && (in->ohms_uohm < 0 || in->ohms_uohm > NOD_PINS_LARGEST_UOHM))
		return nod_error_set(err, EINVAL,
				     "ohms are between 0 and 100 Mohm; a negative reading means "
				     "that the wires were live");
	if (out_of_range(in->load_ppm, 1000000) || out_of_range(in->dominant_ppm, 1000000) ||
	    (measured(in->load_ppm) && in->load_ppm < 0) ||
	    (measured(in->dominant_ppm) && in->dominant_ppm < 0))
		return nod_error_set(err, EINVAL, "a load is between 0 and 100 %%");
	return 0;
}

/* Terminators between the wires exist on high speed networks only. */
static bool ohms_tell_high_speed(const struct nod_pins_input *in)
{
	if (!measured(in->ohms_uohm) || in->power != NOD_PINS_UNPOWERED)
		return false;
	enum nod_pins_state s = nod_pins_band_of_ohms(NOD_PINS_ANY_LAYER, in->ohms_uohm)->state;
	return s == NOD_PINS_TERMINATED || s == NOD_PINS_ONE_TERMINATOR ||
	       s == NOD_PINS_EXTRA_TERMINATOR;
}

/* Were the volts judged for two layers, with two answers? */
static bool two_layers(const struct nod_pins *p)
{
	return p->next_count && p->next[0] == tell_layers_apart;
}

static void collect_next(struct nod_pins *p)
{
	for (size_t i = 0; i < p->finding_count; i++) {
		enum nod_pins_state state = p->findings[i].state;
		if (i == 1 && two_layers(p))
			continue; /* first it must be known which of the two it is */
		if (state == NOD_PINS_QUIET && nod_pins_has(p, NOD_PINS_TERMINATED))
			add_next(p, "A meter cannot prove silence: record the network for a "
				    "minute.");
		else if (nod_pins_next(state))
			add_next(p, nod_pins_next(state));
	}
}

static void judge(struct nod_pins *p, const struct nod_pins_input *given)
{
	enum nod_pins_state volts = NOD_PINS_STATES;
	struct nod_pins_input copy = *given, *in = &copy;

	if (in->layer == NOD_PINS_ANY_LAYER && ohms_tell_high_speed(in))
		in->layer = NOD_PINS_HIGH_SPEED;
	if (measured(in->canh_uv) && measured(in->canl_uv)) {
		judge_volts(p, in);
		volts = p->findings[0].state;
	} else {
		ask_for_volts(p, in);
	}
	if (measured(in->ohms_uohm))
		judge_ohms(p, in);
	cross_check(p, in, volts);
	nod_pins_compare_recording(p, in, volts);
	collect_next(p);
}

struct nod_pins *nod_pins_judge(const struct nod_pins_input *input, struct nod_error *err)
{
	int rc = check(input, err);
	struct nod_pins *p = rc ? NULL : calloc(1, sizeof(*p));

	if (!p) {
		errno = rc ? -rc : -nod_error_set(err, ENOMEM, "out of memory");
		return NULL;
	}
	judge(p, input);
	if (!p->arena.failed)
		return p;
	nod_error_set(err, ENOMEM, "out of memory");
	nod_pins_free(p);
	errno = ENOMEM;
	return NULL;
}

void nod_pins_free(struct nod_pins *pins)
{
	if (!pins)
		return;
	nod_arena_free(&pins->arena);
	free(pins);
}

const char *nod_pins_state_name(enum nod_pins_state state)
{
	static const char *const names[NOD_PINS_STATES] = {"asleep",
							   "awake-quiet",
							   "awake-busy",
							   "held-dominant",
							   "between",
							   "terminated",
							   "one-terminator",
							   "extra-terminator",
							   "odd-resistance",
							   "open-wire",
							   "short-to-ground",
							   "short-to-battery",
							   "shorted-together",
							   "swapped",
							   "untrusted",
							   "contradictory",
							   "agrees-with-recording"};
	return names[state];
}

const char *nod_pins_layer_name(enum nod_pins_layer layer)
{
	static const char *const names[] = {"any", "high-speed", "fault-tolerant"};
	return names[layer];
}
