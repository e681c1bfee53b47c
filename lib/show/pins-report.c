/* SPDX-License-Identifier: MIT */
#include "pins-report.h"

#include "json-build.h"
#include "paragraph.h"
#include "quantity.h"

static bool measured(int64_t value)
{
	return value != NOD_NOT_MEASURED;
}

/* Decimals of the meter: 2 for a count of 10 mV, 3 for 1 mV. */
static int decimals(int64_t count_uv)
{
	return count_uv >= 100000 ? 1 : count_uv >= 10000 ? 2 : 3;
}

static void print_row(FILE *out, const char *label, int64_t micro, enum nod_unit unit, int digits)
{
	char text[NOD_QUANTITY_TEXT];

	fprintf(out, "  %-26s %s\n", label, nod_quantity_print_fixed(text, micro, unit, digits));
}

static void print_difference(FILE *out, const struct nod_pins_input *in, int digits)
{
	int64_t difference = in->canh_uv - in->canl_uv;
	int64_t off = nod_meter_difference_uncertainty_uv(difference, in->count_uv);
	char text[NOD_QUANTITY_TEXT], more[NOD_QUANTITY_TEXT];

	fprintf(out, "  %-26s %s, +-%s by the meter\n", "CANH less CANL",
		nod_quantity_print_fixed(text, difference, NOD_UNIT_VOLT, digits),
		nod_quantity_print_fixed(more, off, NOD_UNIT_VOLT, digits));
}

static void print_readings(FILE *out, const struct nod_pins_input *in)
{
	int digits = decimals(in->count_uv);

	if (measured(in->canh_uv))
		print_row(out, "CANH to ground", in->canh_uv, NOD_UNIT_VOLT, digits);
	if (measured(in->canl_uv))
		print_row(out, "CANL to ground", in->canl_uv, NOD_UNIT_VOLT, digits);
	if (measured(in->canh_uv) && measured(in->canl_uv))
		print_difference(out, in, digits);
	if (measured(in->ohms_uohm))
		print_row(out,
			  in->power == NOD_PINS_LIVE        ? "across the pair, live"
			  : in->power == NOD_PINS_UNPOWERED ? "across the pair, no supply"
							    : "across the pair",
			  in->ohms_uohm, NOD_UNIT_OHM, in->ohms_uohm < 100000000 ? 1 : 0);
	if (measured(in->battery_uv))
		print_row(out, "battery", in->battery_uv, NOD_UNIT_VOLT, 2);
}

/* Does the same reading mean different things on two layers? */
static bool two_layers(const struct nod_pins *p)
{
	return p->finding_count > 1 && p->findings[0].layer != p->findings[1].layer &&
	       p->findings[0].layer != NOD_PINS_ANY_LAYER &&
	       p->findings[1].layer != NOD_PINS_ANY_LAYER;
}

static const char *lead(const struct nod_pins *p, size_t i)
{
	if (!two_layers(p) || i > 1)
		return "";
	return p->findings[i].layer == NOD_PINS_HIGH_SPEED ? "If high speed:      "
							   : "If fault-tolerant:  ";
}

void nod_pins_print(FILE *out, const struct nod_pins_input *input, const struct nod_pins *pins)
{
	for (size_t i = 0; i < pins->finding_count; i++) {
		nod_paragraph_print(out, lead(pins, i), pins->findings[i].text);
		fputc('\n', out);
	}
	print_readings(out, input);
	if (pins->next_count)
		fputs("\nNext:\n", out);
	for (size_t i = 0; i < pins->next_count; i++) {
		char number[32];
		snprintf(number, sizeof(number), "  %zu. ", i + 1);
		nod_paragraph_print(out, number, pins->next[i]);
	}
}

static json_t *micro(int64_t value)
{
	return measured(value) ? nod_json_number((double)value / 1e6) : json_null();
}

static json_t *range(struct nod_ppm_range r)
{
	return json_pack("{s:o, s:o, s:o}", "low", micro(r.low), "nominal", micro(r.nominal),
			 "high", micro(r.high));
}

static json_t *findings(const struct nod_pins *p)
{
	json_t *list = json_array();

	for (size_t i = 0; i < p->finding_count; i++) {
		const struct nod_pins_finding *f = &p->findings[i];
		nod_json_append(&list, json_pack("{s:s, s:s, s:b, s:s}", "state",
						 nod_pins_state_name(f->state), "layer",
						 nod_pins_layer_name(f->layer), "fault", f->fault,
						 "text", f->text));
	}
	return list;
}

static json_t *next(const struct nod_pins *p)
{
	json_t *list = json_array();

	for (size_t i = 0; i < p->next_count; i++)
		nod_json_append(&list, nod_json_text(p->next[i]));
	return list;
}

json_t *nod_pins_json(const struct nod_pins_input *input, const struct nod_pins *pins)
{
	static const char *const powers[] = {"unknown", "live", "unpowered"};

	return json_pack(
		"{s:{s:s, s:o, s:o, s:o, s:s, s:o}, s:o, s:o, s:o, s:o, s:o}", "readings", "layer",
		nod_pins_layer_name(input->layer), "canh_v", micro(input->canh_uv), "canl_v",
		micro(input->canl_uv), "ohms", micro(input->ohms_uohm), "power",
		powers[input->power], "battery_v", micro(input->battery_uv), "findings",
		findings(pins), "dominant",
		pins->dominant_known ? range(pins->dominant) : json_null(), "load",
		pins->dominant_known ? range(pins->load) : json_null(), "predicted_dominant",
		pins->predicted_known ? range(pins->predicted) : json_null(), "next", next(pins));
}
