/* SPDX-License-Identifier: MIT */
/* A DBC file: what is taken is a vehicle file that loads as the same; what is refused
 * says where. Read as on any network, and as on one. */
#include <errno.h>

#include "dbc-import.h"
#include "fuzz.h"
#include "signal-value.h"

static void take_note(void *context, const char *text)
{
	(void)context;
	FUZZ_CHECK(text[0]);
}

static char *written(const struct nod_vehicle *vehicle, size_t *length)
{
	char *text = NULL;
	FILE *out = open_memstream(&text, length);

	FUZZ_CHECK(out && !nod_vehicle_write(vehicle, out) && !fclose(out));
	return text;
}

static void check_signals(const struct nod_vehicle *vehicle, const uint8_t *payload, size_t size)
{
	char text[300];
	uint64_t raw;

	for (size_t m = 0; m < vehicle->message_count && m < 20; m++)
		for (size_t i = 0; i < vehicle->messages[m].signal_count && i < 50; i++) {
			const struct nod_signal *s = &vehicle->messages[m].signals[i];
			nod_signal_present(&vehicle->messages[m], s, payload, size);
			if (nod_signal_raw(s, payload, size, &raw))
				FUZZ_CHECK(nod_signal_print(text, sizeof(text), s, raw)[0]);
		}
}

static void check(const char *text, size_t size, const char *network, const uint8_t *payload,
		  size_t length)
{
	const struct nod_dbc_import how = {
		.network = network, .interface = network, .note = take_note};
	struct nod_error err = {""};
	struct nod_vehicle *vehicle = nod_dbc_import(text, size, "car.dbc", &how, &err), *again;
	size_t first_length, second_length;

	if (!vehicle) {
		FUZZ_CHECK(err.text[0]);
		/* what was made of it is a map that the map's own reader takes, but for its size */
		FUZZ_CHECK(strncmp(err.text, "what car.dbc became", 19) || errno == EFBIG);
		return;
	}
	check_signals(vehicle, payload, length < 64 ? length : 64);
	char *first = written(vehicle, &first_length), *second;
	again = nod_vehicle_parse(first, first_length, "again.yaml", &err);
	FUZZ_CHECK(again);
	second = written(again, &second_length);
	FUZZ_CHECK(first_length == second_length && !memcmp(first, second, first_length));
	nod_vehicle_free(vehicle);
	nod_vehicle_free(again);
	free(first);
	free(second);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	char *text = fuzz_text(data, size);

	check(text, size, NULL, data, size);
	check(text, size, "body", data, size);
	free(text);
	return 0;
}
