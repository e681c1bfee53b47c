/* SPDX-License-Identifier: MIT */
/* An expectation file: read, compared with the findings of a small recording, and
 * revised; the revision is read again and fails in nothing that a value can meet. */
#include <sys/mman.h>
#include <unistd.h>

#include "engine.h"
#include "expectation.h"
#include "fuzz.h"

static struct nod_engine *engine;
static struct nod_findings *findings;
static int file = -1;
static char path[64];

static void make_findings(void)
{
	static struct nod_interfaces names = {.count = 1, .names = {"can0"}};
	struct nod_event event = {.kind = NOD_EVENT_FRAME};

	engine = nod_engine_new(NULL, &names);
	FUZZ_CHECK(engine);
	event.frame.length = 2;
	for (int i = 0; i < 3000; i++) {
		event.frame.id = 0x100 + (uint32_t)(i % 3);
		event.time = event.frame.time = (nod_time){(i + 1) * NOD_NS_PER_S};
		nod_engine_take(engine, &event);
	}
	findings = nod_engine_findings(engine);
	file = memfd_create("expect", MFD_CLOEXEC);
	FUZZ_CHECK(findings && file >= 0);
	snprintf(path, sizeof(path), "/proc/self/fd/%d", file);
}

static void put(const void *bytes, size_t size)
{
	FUZZ_CHECK(!ftruncate(file, 0) && pwrite(file, bytes, size, 0) == (ssize_t)size);
}

static void check_revision(const struct nod_differences *d)
{
	struct nod_error err = {""};
	char *text = NULL;
	size_t length;
	FILE *out = open_memstream(&text, &length);

	FUZZ_CHECK(out && !nod_expectation_revise(out, path, d, &err) && !fclose(out));
	put(text, length);
	free(text);
	struct nod_expectation *again = nod_expectation_load(path, &err);
	FUZZ_CHECK(again || err.text[0]);
	nod_expectation_free(again);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct nod_error err = {""};

	if (!engine)
		make_findings();
	put(data, size);
	struct nod_expectation *x = nod_expectation_load(path, &err);
	FUZZ_CHECK(x || err.text[0]);
	if (!x)
		return 0;
	for (size_t i = 0; i < x->count; i++)
		FUZZ_CHECK(x->demands[i].key < NOD_DEMAND_KEYS && x->demands[i].line);
	struct nod_differences *d = nod_expectation_compare(x, findings);
	FUZZ_CHECK(d && d->failures <= d->count);
	for (size_t i = 0; i < d->count; i++)
		FUZZ_CHECK(d->list[i].text && d->list[i].found && d->list[i].demand);
	check_revision(d);
	nod_differences_free(d);
	nod_expectation_free(x);
	return 0;
}
