/* SPDX-License-Identifier: MIT */
/* What a person types: quantities, times, durations, IDs, readings across fuses and at
 * pins, a resting battery. The first byte chooses; texts are lines. */
#include "battery.h"
#include "fuse-reading.h"
#include "fuse-report.h"
#include "fuzz.h"
#include "pins.h"
#include "vin.h"
#include "wall-time.h"
#include "when.h"

static const char map[] =
	"networks: { body: { interfaces: [can0] } }\n"
	"fuses:\n"
	"  F12: { family: mini, rating: 10 A, box: cabin }\n"
	"  F13: { family: maxi, rating: 40 A, resistance: 1 mOhm, feeds: [lamps] }\n"
	"modules:\n"
	"  seat: { networks: [body], ids: [100], fuses: [F12, F13] }\n";

static void take_texts(struct fuzz_input *in)
{
	/* clang-format off */
	const struct nod_when_base bases[] = {
		{{100}, {0}, {NOD_NS_PER_S}, NOD_TIME_NONE, NULL},
		{{1700000000 * NOD_NS_PER_S}, {1700000000 * NOD_NS_PER_S},
		 {1700090000 * NOD_NS_PER_S}, NOD_TIME_NONE, "UTC"},
		{NOD_TIME_NONE, NOD_TIME_NONE, NOD_TIME_NONE, {1700000000 * NOD_NS_PER_S}, NULL}};
	/* clang-format on */
	struct nod_error err = {""};
	char *text = fuzz_text_until(in, '\n'), buf[NOD_WHEN_TEXT], exact[NOD_TIME_TEXT];
	struct nod_quantity q;
	struct nod_wall_time wall;
	nod_duration d, d_again;
	nod_time t;
	int zone;
	uint32_t id;

	for (int mark = NOD_DECIMAL_ANY; mark <= NOD_DECIMAL_COMMA; mark++)
		if (!nod_quantity_parse(&q, text, strlen(text), (enum nod_decimal_mark)mark,
					&err)) {
			char shown[NOD_QUANTITY_TEXT];
			FUZZ_CHECK(q.last_digit >= 1 && q.unit < NOD_UNITS);
			FUZZ_CHECK(strlen(nod_quantity_print(shown, q.micro, q.unit)) <
				   sizeof(shown));
			nod_quantity_print_fixed(shown, q.micro, q.unit, 2);
		}
	if (!nod_duration_parse(&d, text) && d.ns >= 0) {
		FUZZ_CHECK(!nod_duration_parse(&d_again, nod_duration_print_exact(exact, d)));
		FUZZ_CHECK(d.ns == d_again.ns);
		nod_duration_print(exact, d);
	}
	for (size_t i = 0; i < sizeof(bases) / sizeof(bases[0]); i++)
		if (!nod_when_parse(&t, text, &bases[i], &err))
			nod_when_print(buf, t, NULL);
	for (int comma = 0; comma < 2; comma++)
		if (!nod_wall_parse(&wall, text, comma))
			for (int order = NOD_DATE_YMD; order <= NOD_DATE_MDY; order++)
				if (!nod_wall_to_time(&t, &wall, (enum nod_date_order)order, 60))
					nod_wall_print(exact, t);
	nod_zone_parse(&zone, text);
	if (!nod_id_parse(&id, text, (unsigned)strlen(text))) {
		char shown[NOD_ID_TEXT];
		uint32_t again;
		nod_id_print(shown, id);
		FUZZ_CHECK(!nod_id_parse(&again, shown, (unsigned)strlen(shown)) && again == id);
	}
	size_t length = strlen(text);
	nod_vin_mask_text(text);
	FUZZ_CHECK(strlen(text) == length);
	free(text);
}

static void take_fuses(struct fuzz_input *in)
{
	static struct nod_vehicle *vehicle;
	struct nod_arena arena = {0};
	struct nod_fuse_reading readings[8];
	struct nod_error err = {""};
	size_t count = 0;
	int64_t clamp = (int64_t)fuzz_number(in, 4);

	if (!vehicle)
		vehicle = nod_vehicle_parse(map, sizeof(map) - 1, "map", &err);
	FUZZ_CHECK(vehicle);
	while (in->left && count < 8) {
		char *text = fuzz_text_until(in, '\n');
		if (!nod_fuse_reading_parse(&readings[count], text, count % 2 ? 100 : -1, vehicle,
					    &arena, &err))
			count++;
		free(text);
	}
	struct nod_fuse_survey *survey = nod_fuse_survey_make(vehicle, readings, count,
							      clamp ? &clamp : NULL, 0, &err);
	if (survey) {
		char *shown = NULL;
		size_t length;
		FILE *out = open_memstream(&shown, &length);
		FUZZ_CHECK(survey->line_count <= count && survey->known <= survey->line_count);
		FUZZ_CHECK(survey->sum_low_ua <= survey->sum_high_ua && out);
		nod_fuse_survey_print(out, survey, vehicle);
		fclose(out);
		free(shown);
		nod_fuse_survey_free(survey);
	}
	nod_arena_free(&arena);
}

static int64_t value(struct fuzz_input *in, int64_t none)
{
	unsigned kind = fuzz_byte(in);

	return kind & 1 ? none : (int64_t)fuzz_number(in, 1 + kind / 2 % 8);
}

static void take_pins(struct fuzz_input *in)
{
	struct nod_error err = {""};
	struct nod_pins_input p = {
		.layer = (enum nod_pins_layer)(fuzz_byte(in) % 3),
		.power = (enum nod_pins_power)(fuzz_byte(in) % 3),
		.canh_uv = value(in, NOD_NOT_MEASURED),
		.canl_uv = value(in, NOD_NOT_MEASURED),
		.ohms_uohm = value(in, NOD_NOT_MEASURED),
		.battery_uv = value(in, NOD_NOT_MEASURED),
		.count_uv = (int64_t)fuzz_number(in, 3),
		.load_ppm = value(in, NOD_NOT_MEASURED),
		.dominant_ppm = value(in, NOD_NOT_MEASURED),
	};
	struct nod_pins *pins = nod_pins_judge(&p, &err);

	FUZZ_CHECK(pins || err.text[0]);
	if (!pins)
		return;
	FUZZ_CHECK(pins->finding_count <= NOD_PINS_MOST && pins->next_count <= NOD_PINS_MOST);
	for (size_t i = 0; i < pins->finding_count; i++)
		FUZZ_CHECK(pins->findings[i].text && pins->findings[i].state < NOD_PINS_STATES);
	nod_pins_free(pins);
}

static void take_battery(struct fuzz_input *in)
{
	struct nod_battery_input b = nod_battery_input_unknown();
	struct nod_error err = {""};
	struct nod_battery out;

	b.type = (enum nod_battery_type)(fuzz_byte(in) % 3);
	b.rest_uv = value(in, NOD_BATTERY_UNKNOWN);
	b.rest_uncertainty_uv = (int64_t)fuzz_number(in, 3);
	b.temperature_microcelsius = value(in, NOD_BATTERY_UNKNOWN);
	b.rested_s = value(in, NOD_BATTERY_UNKNOWN);
	b.capacity_uah = value(in, NOD_BATTERY_UNKNOWN);
	b.reserve_s = value(in, NOD_BATTERY_UNKNOWN);
	b.current_ua = value(in, NOD_BATTERY_UNKNOWN);
	b.current_uncertainty_ua = (int64_t)fuzz_number(in, 4);
	if (nod_battery_judge(&out, &b, &err)) {
		FUZZ_CHECK(err.text[0]);
		return;
	}
	FUZZ_CHECK(out.charge.worst <= out.charge.best && out.charge.worst >= 0 &&
		   out.charge.best <= 1000000);
	FUZZ_CHECK(!out.time_known || out.seconds.worst <= out.seconds.best);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct fuzz_input in = {data, size};

	switch (fuzz_byte(&in) % 4) {
	case 0:
		take_texts(&in);
		break;
	case 1:
		take_fuses(&in);
		break;
	case 2:
		take_pins(&in);
		break;
	default:
		take_battery(&in);
		break;
	}
	return 0;
}
