/* SPDX-License-Identifier: MIT */
#include "pins-internal.h"
#include "quantity.h"

static bool measured(int64_t value)
{
	return value != NOD_NOT_MEASURED;
}

static const char *disagreement(struct nod_pins *p, enum nod_pins_state volts)
{
	const char *why = "the load has changed, or the recording is of another network";

	if (volts == NOD_PINS_QUIET && p->predicted.low > p->dominant.high &&
	    !nod_pins_has(p, NOD_PINS_TERMINATED))
		why = "the wires are shorted together here, the load has changed, or the "
		      "recording is of another network";
	return nod_arena_printf(
		&p->arena,
		"The recording does not fit: it predicts %s to %s dominant, the meter "
		"shows %s to %s. Either %s.",
		nod_pins_percent(p, p->predicted.low), nod_pins_percent(p, p->predicted.high),
		nod_pins_percent(p, p->dominant.low), nod_pins_percent(p, p->dominant.high), why);
}

static const char *agreement(struct nod_pins *p)
{
	char high[NOD_QUANTITY_TEXT], low[NOD_QUANTITY_TEXT];
	int64_t f = p->predicted.nominal;

	return nod_arena_printf(
		&p->arena,
		"The recording fits: its traffic is dominant %s to %s of the time "
		"(nominal levels: CANH %s, CANL %s).",
		nod_pins_percent(p, p->predicted.low), nod_pins_percent(p, p->predicted.high),
		nod_quantity_print_fixed(high, nod_levels_mean_canh_uv(f), NOD_UNIT_VOLT, 2),
		nod_quantity_print_fixed(low, nod_levels_mean_canl_uv(f), NOD_UNIT_VOLT, 2));
}

static const char *plain_agreement(struct nod_pins *p)
{
	return nod_arena_printf(
		&p->arena, "The recording fits: its traffic is dominant %s to %s of the time.",
		nod_pins_percent(p, p->predicted.low), nod_pins_percent(p, p->predicted.high));
}

void nod_pins_compare_recording(struct nod_pins *p, const struct nod_pins_input *in,
				enum nod_pins_state volts)
{
	enum nod_pins_layer layer = p->findings[0].layer;

	if (!measured(in->dominant_ppm) && !measured(in->load_ppm))
		return;
	p->predicted_known = true;
	p->predicted = nod_levels_dominant_of_load(in->load_ppm);
	if (measured(in->dominant_ppm))
		p->predicted = (struct nod_ppm_range){in->dominant_ppm, in->dominant_ppm,
						      in->dominant_ppm};
	if (volts == NOD_PINS_ASLEEP && p->predicted.high > 0)
		nod_pins_add(p, NOD_PINS_CONTRADICTORY, NOD_PINS_ANY_LAYER, false,
			     "The recording does not fit: it has traffic, and these pins are "
			     "asleep. It "
			     "fell asleep in between, or the recording is of another network.");
	if (!p->dominant_known)
		return;
	if (!nod_ppm_ranges_meet(p->predicted, p->dominant))
		nod_pins_add(p, NOD_PINS_CONTRADICTORY, layer, false, disagreement(p, volts));
	else
		nod_pins_add(p, NOD_PINS_AGREES, layer, false,
			     layer == NOD_PINS_HIGH_SPEED ? agreement(p) : plain_agreement(p));
}
