/* SPDX-License-Identifier: MIT */
#include "pins-tables.h"

#include <stdlib.h>

/* Above this no transceiver drives a wire: 5 V supply with 10 % to spare. */
#define ABOVE_ANY_LEVEL_UV 5500000

/* A sleeping fault-tolerant CANL is at battery voltage through a resistor;
 * chosen: within 1.5 V of it, or above what a transceiver makes when the
 * battery was not measured. */
#define BELOW_BATTERY_UV 1500000

/* Both wires of a fault-tolerant network move by the same amount within the
 * spread of levels. Chosen: half a volt. */
#define UNEQUAL_UV 500000

/* Published readings of running high speed networks end at 3.3 V and 1.7 V (a
 * machine maker's help page): wires further apart on average are held. */
#define BUSIEST_UV 1600000

static bool within(int64_t value, int64_t low, int64_t high, int64_t off)
{
	return value >= low - off && value <= high + off;
}

static bool always(const struct nod_pins_volts *v)
{
	(void)v;
	return true;
}

static bool below_ground(const struct nod_pins_volts *v)
{
	return v->high < -NOD_HS_ASLEEP_MAX_UV - v->off || v->low < -NOD_HS_ASLEEP_MAX_UV - v->off;
}

static bool equal(const struct nod_pins_volts *v)
{
	return llabs(v->difference) <= v->off_difference;
}

/* -- high speed --------------------------------------------------------- */

static bool at_ground(int64_t uv, const struct nod_pins_volts *v)
{
	return within(uv, -NOD_HS_ASLEEP_MAX_UV, NOD_HS_ASLEEP_MAX_UV, v->off);
}

static bool recessive(int64_t uv, const struct nod_pins_volts *v)
{
	return within(uv, NOD_HS_RECESSIVE_MIN_UV, NOD_HS_RECESSIVE_MAX_UV, v->off);
}

static bool canh_awake(int64_t uv, const struct nod_pins_volts *v)
{
	return within(uv, NOD_HS_RECESSIVE_MIN_UV, NOD_HS_CANH_DOMINANT_MAX_UV, v->off);
}

static bool canl_awake(int64_t uv, const struct nod_pins_volts *v)
{
	return within(uv, NOD_HS_CANL_DOMINANT_MIN_UV, NOD_HS_RECESSIVE_MAX_UV, v->off);
}

static bool hs_asleep(const struct nod_pins_volts *v)
{
	return at_ground(v->high, v) && at_ground(v->low, v);
}

static bool hs_canh_battery(const struct nod_pins_volts *v)
{
	return v->high > ABOVE_ANY_LEVEL_UV + v->off && v->difference > v->off_difference;
}

static bool hs_canl_battery(const struct nod_pins_volts *v)
{
	return v->low > ABOVE_ANY_LEVEL_UV + v->off && v->difference < -v->off_difference;
}

static bool hs_both_battery(const struct nod_pins_volts *v)
{
	return v->high > ABOVE_ANY_LEVEL_UV + v->off && v->low > ABOVE_ANY_LEVEL_UV + v->off;
}

static bool hs_swapped(const struct nod_pins_volts *v)
{
	return v->difference < -v->off_difference && canl_awake(v->high, v) &&
	       canh_awake(v->low, v);
}

static bool hs_quiet(const struct nod_pins_volts *v)
{
	return equal(v) && recessive(v->high, v) && recessive(v->low, v);
}

static bool hs_busy(const struct nod_pins_volts *v)
{
	return canh_awake(v->high, v) && canl_awake(v->low, v) &&
	       v->difference - v->off_difference <= BUSIEST_UV;
}

static bool hs_held(const struct nod_pins_volts *v)
{
	return canh_awake(v->high, v) && canl_awake(v->low, v);
}

static bool hs_canl_open(const struct nod_pins_volts *v)
{
	return at_ground(v->low, v) && canh_awake(v->high, v);
}

static bool hs_canh_open(const struct nod_pins_volts *v)
{
	return at_ground(v->high, v) && recessive(v->low, v);
}

static bool hs_canl_ground(const struct nod_pins_volts *v)
{
	return at_ground(v->low, v) && v->high < NOD_HS_RECESSIVE_MIN_UV;
}

static bool hs_canh_ground(const struct nod_pins_volts *v)
{
	return at_ground(v->high, v) && v->low < NOD_HS_RECESSIVE_MIN_UV;
}

static bool hs_between(const struct nod_pins_volts *v)
{
	return v->high < NOD_HS_RECESSIVE_MIN_UV && v->low < NOD_HS_RECESSIVE_MIN_UV;
}

static bool hs_pulled_up(const struct nod_pins_volts *v)
{
	return v->high > NOD_HS_RECESSIVE_MAX_UV && v->low > NOD_HS_RECESSIVE_MAX_UV;
}

static const char text_below_ground[] =
	"A wire is below ground: the black probe is not on ground (pin 4 or 5), or the probes "
	"are exchanged. Nothing follows from this reading.";

static const struct nod_pins_rule high_speed[] = {
	{NOD_PINS_UNTRUSTED, false, below_ground, text_below_ground},
	{NOD_PINS_ASLEEP, false, hs_asleep,
	 "Asleep: both wires are at ground, the transceivers have switched their bias off. A "
	 "pair shorted to ground or without supply reads the same."},
	{NOD_PINS_TO_BATTERY, true, hs_canh_battery,
	 "CANH is shorted to battery or another supply: no transceiver lifts a wire above 5 V. "
	 "The terminators pull CANL up with it."},
	{NOD_PINS_TO_BATTERY, true, hs_canl_battery,
	 "CANL is shorted to battery or another supply: no transceiver lifts a wire above 5 V."},
	{NOD_PINS_TO_BATTERY, true, hs_both_battery,
	 "Shorted to battery or another supply: no transceiver lifts a wire above 5 V. The "
	 "terminators tie the wires together, so which of them it is does not show."},
	{NOD_PINS_SWAPPED, true, hs_swapped,
	 "CANH is lower than CANL, which no traffic does: the wires are exchanged, or the probes "
	 "were."},
	{NOD_PINS_QUIET, false, hs_quiet,
	 "Awake: both wires rest at the recessive level. Wires shorted together read the same."},
	{NOD_PINS_BUSY, false, hs_busy, "Awake, with traffic: CANH is above CANL on average."},
	{NOD_PINS_HELD, true, hs_held,
	 "Held dominant: the wires are apart for more of the time than published for any running "
	 "network (3.3 V and 1.7 V at most). A module "
	 "or transceiver that hangs, or CANH and CANL each shorted, does this."},
	{NOD_PINS_OPEN, true, hs_canl_open,
	 "CANL does not reach the network: it is at 0 V while CANH is awake. A short to ground "
	 "would pull CANH down too, through the terminators. Or the probe had no contact."},
	{NOD_PINS_OPEN, true, hs_canh_open,
	 "CANH does not reach the network: it is at 0 V while CANL is awake. A short to ground "
	 "would pull CANL down too, through the terminators. Or the probe had no contact."},
	{NOD_PINS_TO_GROUND, true, hs_canl_ground,
	 "CANL is shorted to ground: it is at 0 V, and the terminators pull CANH down with it."},
	{NOD_PINS_TO_GROUND, true, hs_canh_ground,
	 "CANH is shorted to ground: it is at 0 V, and the terminators pull CANL down with it."},
	{NOD_PINS_BETWEEN, false, hs_between,
	 "Between asleep (0 V) and awake (2.0 to 3.0 V): it was falling asleep, or it wakes "
	 "again and again and the meter averages. A steady value would be a leak to ground."},
	{NOD_PINS_TO_BATTERY, true, hs_pulled_up,
	 "Both wires are above the recessive range (2.0 to 3.0 V): something pulls them up, a "
	 "leak to battery or a short to a 5 V supply."},
	{NOD_PINS_CONTRADICTORY, false, always,
	 "These two voltages do not occur together on such a network: measure both again, on "
	 "the same pins and with ground at pin 4 or 5."},
};

/* -- fault tolerant ----------------------------------------------------- */

static bool ft_canh_rests(const struct nod_pins_volts *v)
{
	return v->high <= NOD_FT_RECESSIVE_UV + v->off;
}

static bool ft_canl_rests(const struct nod_pins_volts *v)
{
	return within(v->low, NOD_FT_SUPPLY_UV - NOD_FT_SUPPLY_SPREAD_UV - NOD_FT_RECESSIVE_UV,
		      NOD_FT_SUPPLY_UV + NOD_FT_SUPPLY_SPREAD_UV, v->off);
}

static bool ft_asleep(const struct nod_pins_volts *v)
{
	int64_t least = v->battery == NOD_NOT_MEASURED ? ABOVE_ANY_LEVEL_UV
						       : v->battery - BELOW_BATTERY_UV;

	return ft_canh_rests(v) && v->low > ABOVE_ANY_LEVEL_UV && v->low >= least - v->off;
}

static bool ft_canh_battery(const struct nod_pins_volts *v)
{
	return v->high > ABOVE_ANY_LEVEL_UV + v->off;
}

static bool ft_canl_battery(const struct nod_pins_volts *v)
{
	return v->low > ABOVE_ANY_LEVEL_UV + v->off;
}

static bool ft_ground(const struct nod_pins_volts *v)
{
	return ft_canh_rests(v) && v->low <= NOD_FT_RECESSIVE_UV + v->off;
}

static bool ft_quiet(const struct nod_pins_volts *v)
{
	return ft_canh_rests(v) && ft_canl_rests(v);
}

static bool ft_swapped(const struct nod_pins_volts *v)
{
	struct nod_pins_volts turned = *v;

	turned.high = v->low;
	turned.low = v->high;
	return ft_quiet(&turned);
}

static bool ft_moves_alike(const struct nod_pins_volts *v)
{
	return llabs(v->high - (NOD_FT_SUPPLY_UV - v->low)) <= UNEQUAL_UV + 2 * v->off;
}

/* Dominant for more than half of the time, CANH would be above CANL. */
static bool ft_busy(const struct nod_pins_volts *v)
{
	return ft_moves_alike(v) && v->difference < -v->off_difference;
}

static bool ft_held(const struct nod_pins_volts *v)
{
	return ft_moves_alike(v) && !equal(v);
}

static const struct nod_pins_rule fault_tolerant[] = {
	{NOD_PINS_UNTRUSTED, false, below_ground, text_below_ground},
	{NOD_PINS_ASLEEP, false, ft_asleep,
	 "Asleep: CANL is at battery voltage through its termination and CANH at ground."},
	{NOD_PINS_TO_BATTERY, true, ft_canh_battery,
	 "CANH is shorted to battery: it rests at ground, asleep or awake, and is never above "
	 "5 V."},
	{NOD_PINS_TO_BATTERY, true, ft_canl_battery,
	 "CANL is above 5 V but this is not sleep: CANH does not rest at ground or CANL is not "
	 "at battery voltage. A short or leak of CANL to battery does this."},
	{NOD_PINS_TO_GROUND, true, ft_ground,
	 "CANL is shorted to ground or nothing feeds the network: CANL rests at 5 V awake and at "
	 "battery voltage asleep, never at 0 V."},
	{NOD_PINS_QUIET, false, ft_quiet,
	 "Awake: CANH rests at ground and CANL at 5 V, the recessive levels."},
	{NOD_PINS_SWAPPED, true, ft_swapped,
	 "CANH at 5 V and CANL at ground: the wires are exchanged, or the probes were, or the "
	 "network is held dominant."},
	{NOD_PINS_BUSY, false, ft_busy,
	 "Awake, with traffic: CANH is above ground and CANL below 5 V by the same amount."},
	{NOD_PINS_HELD, true, ft_held,
	 "Held dominant: CANH is above CANL on average, so the wires are away from rest for more "
	 "of the time than traffic is."},
	{NOD_PINS_TOGETHER, true, equal,
	 "The wires are shorted together: CANH and CANL are equal, where 5 V must lie between "
	 "them."},
	{NOD_PINS_OPEN, true, ft_canh_rests,
	 "CANH stays at ground while CANL moves: CANH is open on the way here or shorted to "
	 "ground. Such a network goes on over one wire."},
	{NOD_PINS_OPEN, true, ft_canl_rests,
	 "CANL stays at 5 V while CANH moves: CANL is open on the way here or shorted to 5 V. "
	 "Such a network goes on over one wire."},
	{NOD_PINS_CONTRADICTORY, false, always,
	 "These two voltages do not occur together on such a network: measure both again, on "
	 "the same pins and with ground at pin 4 or 5."},
};

const struct nod_pins_rule *nod_pins_rule_of_volts(enum nod_physical_layer layer,
						   const struct nod_pins_volts *v)
{
	const struct nod_pins_rule *rule = layer == NOD_LAYER_HIGH_SPEED ? high_speed
									 : fault_tolerant;

	while (!rule->fits(v))
		rule++;
	return rule;
}

/* -- ohms --------------------------------------------------------------- */

/* Terminators are 120 ohm (data sheet SLLSF80B quoting ISO 11898-2): two in
 * parallel make 60, three 40, four 30. Bands are +-15 % around these, chosen:
 * 1 % parts, leads, and some dozens of modules in parallel stay within. */
static const struct nod_pins_band terminated[] = {
	{5000, NOD_PINS_TOGETHER, true,
	 "The wires are shorted together: less than 5 ohm where two terminators make 60."},
	{34000, NOD_PINS_ODD_RESISTANCE, true,
	 "Too little: three terminators make 40 ohm. A partial short between the wires, water in "
	 "a connector, or four terminators and more."},
	{46000, NOD_PINS_EXTRA_TERMINATOR, true,
	 "One terminator too many: three make 40 ohm. It may be the adapter's own: unplug it, or "
	 "switch its terminator off."},
	{51000, NOD_PINS_ODD_RESISTANCE, true,
	 "Less than the 60 ohm of two terminators, more than the 40 of three: a leak between the "
	 "wires, or a meter whose leads were not subtracted."},
	{69000, NOD_PINS_TERMINATED, false,
	 "Two terminators are reached, as it should be. That alone does not prove the wiring."},
	{102000, NOD_PINS_ODD_RESISTANCE, true,
	 "More than two terminators (60 ohm), less than one (120): a poor contact on the way to "
	 "one of them."},
	{138000, NOD_PINS_ONE_TERMINATOR, true,
	 "One terminator is missing: one alone makes 120 ohm. It is unplugged or defective, or "
	 "the pair is broken between here and it."},
	{1000000, NOD_PINS_ODD_RESISTANCE, true,
	 "More than one terminator (120 ohm): a poor contact between here and the pair, or both "
	 "terminators out of reach behind modules."},
	{INT64_MAX, NOD_PINS_OPEN, true,
	 "No terminator is reached: a wire is broken near the connector, both are missing, or "
	 "these pins carry no such network."},
};

static const struct nod_pins_band unterminated[] = {
	{5000, NOD_PINS_TOGETHER, true, "The wires are shorted together: less than 5 ohm."},
	{INT64_MAX, NOD_PINS_ODD_RESISTANCE, false,
	 "Ohms across the pair say little on a fault-tolerant network: each module terminates each "
	 "wire by itself and 60 ohm are not to be expected."},
};

const struct nod_pins_band *nod_pins_band_of_ohms(enum nod_pins_layer layer, int64_t uohm)
{
	const struct nod_pins_band *band = layer == NOD_PINS_FAULT_TOLERANT ? unterminated
									    : terminated;

	while (band->below_mohm != INT64_MAX && uohm >= band->below_mohm * 1000)
		band++;
	return band;
}

static const char *const next[NOD_PINS_STATES] = {
	[NOD_PINS_ASLEEP] = "Wake the car and measure again: the wires must change level. If "
			    "they stay, it was no sleep but a short or a missing supply.",
	[NOD_PINS_QUIET] = "A meter cannot prove silence: record the network for a minute, or "
			   "measure ohms without supply to exclude wires shorted together.",
	[NOD_PINS_HELD] = "Unplug modules one at a time until the wires go back to rest.",
	[NOD_PINS_BETWEEN] = "Watch the meter for a minute: falling is sleep setting in, swinging "
			     "is waking again and again, steady is a leak.",
	[NOD_PINS_ONE_TERMINATOR] =
		"Measure at the modules at both ends of the network: where 60 ohm "
		"turn into 120, the wire is broken.",
	[NOD_PINS_EXTRA_TERMINATOR] = "Unplug the adapter and what was added to the car, then "
				      "measure ohms again.",
	[NOD_PINS_ODD_RESISTANCE] = "Short the meter's leads and subtract what they show, then "
				    "measure again while the connectors are moved.",
	[NOD_PINS_OPEN] = "Measure the same wire at another module: where it is right, the break "
			  "lies between.",
	[NOD_PINS_TO_GROUND] = "Without supply: ohms from each wire to ground (pin 4), then unplug "
			       "modules one at a time until the short is gone.",
	[NOD_PINS_TO_BATTERY] =
		"Without supply: ohms from each wire to the battery + line (pin 16), "
		"then unplug modules one at a time until the short is gone.",
	[NOD_PINS_TOGETHER] = "Without supply: ohms across the pair, then unplug modules one at a "
			      "time until they rise.",
	[NOD_PINS_SWAPPED] = "Measure again with the probes named: pin 6 is CANH, pin 14 CANL.",
};

const char *nod_pins_next(enum nod_pins_state state)
{
	return next[state];
}
