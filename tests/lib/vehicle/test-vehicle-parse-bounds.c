/* SPDX-License-Identifier: MIT */
/* Vehicle files that are too large, large, cut off or damaged. */
#include <stdlib.h>

#include "refused.h"

/* Repeats `item`, its # replaced by a number, between two texts. */
static char *many(const char *before, const char *item, unsigned count, const char *after,
		  size_t *size)
{
	char *text = NULL;
	FILE *out = open_memstream(&text, size);
	fputs(before, out);
	for (unsigned i = 0; i < count; i++) {
		const char *mark = strchr(item, '#');
		if (mark)
			fprintf(out, "%.*s%u%s", (int)(mark - item), item, i, mark + 1);
		else
			fputs(item, out);
	}
	fputs(after, out);
	fclose(out);
	return text;
}

static void test_sizes_are_bounded(void **state)
{
	(void)state;
	static const struct {
		const char *before, *item;
		unsigned count;
		const char *after, *place, *says;
	} cases[] = {
		{"networks:\n", "  n#: {}\n", 33, "", "car.yaml:34:3: ", "more than 32 networks"},
		{NETWORK "fuses:\n", "  f#: {}\n", 10001, "",
		 "car.yaml:10004:3: ", "more than 10000 fuses"},
		{NETWORK "modules:\n", "  m#: {}\n", 10001, "",
		 "car.yaml:10004:3: ", "more than 10000 modules"},
		{NETWORK "modules:\n  a:\n    ids:\n", "    - 001\n", 100001, "",
		 "car.yaml:100006:7: ", "more than 100000 IDs and ranges"},
		{NETWORK "modules:\n  a:\n    inputs:\n", "    - i#\n", 1001, "",
		 "car.yaml:1006:7: ", "more than 1000 items in `inputs`"},
		{NETWORK "modules:\n  a:\n    ids:\n", "    - 001/00F\n", 301, "",
		 "car.yaml:306:7: ", "more than 300 masks"},
		{"networks: { a: { interfaces: [", "c#, ", 33, "x] } }",
		 "car.yaml:1:", "more than 32"},
		{"vehicle: ", "aaaaaaaa#", 30, "\n", "car.yaml:1:10: ", "at most 240 bytes"},
		{"", "[ #, ", 1000, "",
		 "car.yaml:1:", "nested too deeply, expected at most 16 levels"},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		size_t size;
		char *text = many(cases[i].before, cases[i].item, cases[i].count, cases[i].after,
				  &size);
		check(text, size, cases[i].place, cases[i].says);
		free(text);
	}
	size_t size;
	char *text = many(NETWORK, "  # 45678901234567890123456789012345678901234567890\n", 80000,
			  "", &size);
	struct nod_error err = {""};
	assert_true(size > 4 << 20);
	assert_null(nod_vehicle_parse(text, size, "car.yaml", &err));
	assert_int_equal(errno, EFBIG);
	assert_string_equal(err.text, "car.yaml: larger than 4 MiB, expected a vehicle file");
	free(text);
}

static void test_a_large_map_is_read(void **state)
{
	(void)state;
	size_t size;
	char *text = many(NETWORK "fuses:\n", "  f#: {}\n", 10000, "modules:\n  a:\n    ids: [",
			  &size);
	char *whole = NULL;
	FILE *out = open_memstream(&whole, &size);
	fputs(text, out);
	for (unsigned i = 0; i < 99000; i++)
		fprintf(out, "%s%08X", i ? ", " : "", i * 64);
	fputs("]\n  b: { ids: [00000001/0000003F] }\n", out);
	for (unsigned i = 0; i < 9000; i++)
		fprintf(out, "  m%u: { fuses: [f%u] }\n", i, i);
	fclose(out);
	free(text);
	struct nod_error err = {""};
	struct nod_vehicle *v = nod_vehicle_parse(whole, size, "car.yaml", &err);
	assert_string_equal(err.text, "");
	assert_int_equal(v->module_count, 9002);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 64 * 777 | NOD_ID_EXTENDED), 0);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, (64 * 777 + 1) | NOD_ID_EXTENDED), 1);
	assert_int_equal(v->modules[9001].fuses[0], 8999);
	nod_vehicle_free(v);
	free(whole);
}

static char *read_example(size_t *size)
{
	FILE *file = fopen(NOD_CAPTURES "/example-vehicle.yaml", "rb");
	assert_non_null(file);
	char *text = malloc(65536);
	*size = fread(text, 1, 65536, file);
	fclose(file);
	assert_in_range(*size, 1000, 65535);
	return text;
}

/* A copy of the exact size, so that reading beyond it is noticed. */
static bool is_read_or_refused(const char *text, size_t length)
{
	char *copy = malloc(length ? length : 1);
	struct nod_error err = {""};
	memcpy(copy, text, length);
	struct nod_vehicle *v = nod_vehicle_parse(copy, length, "cut", &err);
	bool fine = v ? !*err.text : !strncmp(err.text, "cut:", 4);
	nod_vehicle_free(v);
	free(copy);
	return fine;
}

static void test_the_example_cut_anywhere(void **state)
{
	(void)state;
	size_t size;
	char *text = read_example(&size);
	for (size_t length = 0; length <= size; length++)
		if (!is_read_or_refused(text, length))
			fail_msg("cut at %zu", length);
	free(text);
}

static void test_the_example_with_a_wrong_byte_anywhere(void **state)
{
	(void)state;
	static const char wrong[] = "{}[]:,#\"'&*!|>%@`-\t\n\0\xC2\xFF 0F";
	size_t size;
	char *text = read_example(&size);
	for (size_t at = 0; at < size; at++) {
		char kept = text[at];
		text[at] = wrong[at % (sizeof(wrong) - 1)];
		if (!is_read_or_refused(text, size))
			fail_msg("byte %zu", at);
		text[at] = kept;
	}
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_sizes_are_bounded),
		cmocka_unit_test(test_a_large_map_is_read),
		cmocka_unit_test(test_the_example_cut_anywhere),
		cmocka_unit_test(test_the_example_with_a_wrong_byte_anywhere),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
