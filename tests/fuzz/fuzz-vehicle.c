/* SPDX-License-Identifier: MIT */
/* A vehicle file: what is taken can be written, is read back as the same, and the
 * index finds the module that a search one by one finds. */
#include "fuzz.h"
#include "signal-value.h"
#include "vehicle-extend.h"
#include "vehicle-report.h"
#include "vehicle-warnings.h"
#include "vehicle.h"

static char *written(const struct nod_vehicle *vehicle, size_t *length)
{
	char *text = NULL;
	FILE *out = open_memstream(&text, length);

	FUZZ_CHECK(out && !nod_vehicle_write(vehicle, out) && !fclose(out));
	return text;
}

static void take_warning(void *context, unsigned line, const char *text)
{
	(void)line;
	FUZZ_CHECK(context && text[0]);
}

/* The IDs at the edges of every rule, with the index and without it. */
static void check_index(struct nod_vehicle *vehicle)
{
	struct nod_vehicle_index *index = vehicle->index;

	for (size_t m = 0; m < vehicle->module_count && m < 20; m++)
		for (size_t i = 0; i < vehicle->modules[m].id_count && i < 20; i++) {
			const struct nod_id_rule *rule = &vehicle->modules[m].ids[i];
			uint32_t ids[] = {rule->first, rule->mask ? rule->first : rule->last,
					  rule->first ^ 1};
			for (size_t k = 0; k < 3; k++)
				for (int n = NOD_NONE; n < (int)vehicle->network_count && n < 4;
				     n++) {
					int quick = nod_vehicle_module_of_id(vehicle, n, ids[k]);
					vehicle->index = NULL;
					int slow = nod_vehicle_module_of_id(vehicle, n, ids[k]);
					vehicle->index = index;
					FUZZ_CHECK(quick == slow);
				}
		}
}

static void check_names(const struct nod_vehicle *vehicle)
{
	for (size_t m = 0; m < vehicle->module_count && m < 50; m++)
		FUZZ_CHECK(nod_vehicle_module_by_name(vehicle, vehicle->modules[m].name) == (int)m);
	for (size_t f = 0; f < vehicle->fuse_count && f < 50; f++)
		FUZZ_CHECK(nod_vehicle_fuse_by_name(vehicle, vehicle->fuses[f].name) == (int)f);
}

/* Every signal is either in a payload of 64 bytes or refused, and has a value in words. */
static void check_signals(const struct nod_vehicle *vehicle)
{
	static const uint8_t payload[64] = {0x5A, 0xFF, 0x80, 1, 2, 3, 4, 5};
	char text[300];
	uint64_t raw;

	for (size_t m = 0; m < vehicle->message_count && m < 20; m++)
		for (size_t i = 0; i < vehicle->messages[m].signal_count && i < 50; i++) {
			const struct nod_signal *s = &vehicle->messages[m].signals[i];
			nod_signal_present(&vehicle->messages[m], s, payload, sizeof(payload));
			if (nod_signal_raw(s, payload, sizeof(payload), &raw))
				FUZZ_CHECK(nod_signal_print(text, sizeof(text), s, raw)[0]);
		}
}

/* To what is taken something can be added, or it is said why not; what is added to is taken. */
static void check_extension(const char *text, size_t size)
{
	static const char more[] =
		"networks: { body: { interfaces: can0 } }\n"
		"modules: { a: { networks: body, ids: [100, 7FF] }, new: { ids: 1FFFFFFF } }\n"
		"messages: { m: { id: 100 } }\n";
	struct nod_vehicle *vehicle = nod_vehicle_parse(more, strlen(more), "more", NULL), *again;
	struct nod_extension done;
	struct nod_error err = {""};
	char *longer = nod_vehicle_extend(text, size, "car.yaml", vehicle, &done, &err);

	FUZZ_CHECK(longer || err.text[0]);
	again = longer ? nod_vehicle_parse(longer, strlen(longer), "longer", &err) : NULL;
	FUZZ_CHECK(!longer || again);
	nod_vehicle_free(again);
	nod_vehicle_free(vehicle);
	free(longer);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct nod_error err = {""};
	char *text = fuzz_text(data, size), *first, *second;
	size_t first_length = 0, second_length = 0;
	struct nod_vehicle *vehicle = nod_vehicle_parse(text, size, "car.yaml", &err), *again;

	if (vehicle)
		check_extension(text, size);
	free(text);
	if (!vehicle) {
		FUZZ_CHECK(err.text[0]);
		return 0;
	}
	check_index(vehicle);
	check_names(vehicle);
	nod_vehicle_warn(vehicle, take_warning, &err);
	first = written(vehicle, &first_length);
	again = nod_vehicle_parse(first, first_length, "again.yaml", &err);
	FUZZ_CHECK(again && again->module_count == vehicle->module_count &&
		   again->network_count == vehicle->network_count &&
		   again->fuse_count == vehicle->fuse_count &&
		   again->message_count == vehicle->message_count);
	check_signals(vehicle);
	second = written(again, &second_length);
	FUZZ_CHECK(first_length == second_length && !memcmp(first, second, first_length));
	nod_vehicle_free(vehicle);
	nod_vehicle_free(again);
	free(first);
	free(second);
	return 0;
}
