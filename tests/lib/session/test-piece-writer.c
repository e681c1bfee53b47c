/* SPDX-License-Identifier: MIT */
/* Recordings on a disk whose syncs fail: what is said to be on the disk must be there
 * after a power cut, and what may be missing must be said. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "engine.h"
#include "losing-disk.h"
#include "recorder.h"
#include "scratch.h"
#include "session.h"

#define S NOD_NS_PER_S
#define SECONDS 6
#define PER_SECOND 5

static struct nod_interfaces names = {1, {"can0"}};

struct recording {
	struct scratch files, cut;
	struct disk disk;
	struct nod_recorder *recorder;
	int64_t taken;
	int samples, marks; /* marks: acknowledged */
	unsigned failed;    /* flushes */
};

static int64_t time_of(int64_t frame)
{
	return S + frame * S / PER_SECOND;
}

static void begin(struct recording *r)
{
	struct nod_recorder_settings settings = {.interfaces = &names, .digits = 9};
	struct nod_error err = {""};

	memset(r, 0, sizeof(*r));
	scratch_make(&r->files);
	scratch_make(&r->cut);
	disk_begin(&r->disk);
	settings.directory = r->files.path;
	settings.ops = &r->disk.ops;
	r->recorder = nod_recorder_new(&settings, &err);
	assert_non_null(r->recorder);
}

static void end(struct recording *r)
{
	disk_end(&r->disk);
	scratch_remove(&r->files);
	scratch_remove(&r->cut);
}

static int take_frame(struct recording *r, unsigned char length)
{
	struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = {time_of(r->taken)}};

	event.frame.time = event.time;
	event.frame.id = 0x100 + (uint32_t)(r->taken & 0xFF);
	event.frame.length = length;
	event.frame.flags = length > 8 ? NOD_FRAME_FD : 0;
	for (unsigned char i = 0; i < length; i++) /* hard to pack */
		event.frame.data[i] = (uint8_t)((r->taken * 2654435761u) >> (i % 24)) ^
				      (uint8_t)(i * r->taken);
	r->taken++;
	return nod_recorder_take(r->recorder, &event);
}

/* The frames that are there: each at most once, in order. */
struct content {
	int64_t frames; /* from the first on without a hole */
	int64_t all;
	int64_t gap_from, gap_to; /* of the last gap in the journal, ns */
	int gaps, defects, samples, marks;
	uint64_t lost;
	char *doubts;
};

static void add_gap(struct content *c, const struct nod_mark *mark)
{
	double length;

	c->gaps++;
	assert_int_equal(sscanf(mark->subject, "all %lf s", &length), 1);
	c->gap_to = mark->time.ns;
	c->gap_from = mark->time.ns - (int64_t)(length * S);
}

static void add_event(struct content *c, const struct nod_event *event)
{
	if (event->kind == NOD_EVENT_FRAME) {
		int64_t frame = (event->time.ns - S) * PER_SECOND / S;
		assert_true(frame >= c->all);
		c->frames += frame == c->frames;
		c->all = frame + 1;
	}
	if (event->kind == NOD_EVENT_MARK && event->mark.kind == NOD_MARK_GAP)
		add_gap(c, &event->mark);
	c->samples += event->kind == NOD_EVENT_CURRENT;
	c->marks += event->kind == NOD_EVENT_MARK && event->mark.kind == NOD_MARK_DOOR;
	c->lost += event->kind == NOD_EVENT_LOSS ? event->loss.count : 0;
	c->defects += event->kind == NOD_EVENT_DEFECT;
}

static void read_back(const char *path, struct content *c)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(path, &err);
	const struct nod_event *event;
	struct nod_engine *engine;
	struct nod_findings *findings;

	memset(c, 0, sizeof(*c));
	if (!session)
		return; /* nothing was kept yet */
	engine = nod_engine_new(NULL, nod_session_interfaces(session));
	assert_non_null(engine);
	while (nod_session_next(session, &event, &err) > 0) {
		add_event(c, event);
		nod_engine_take(engine, event);
	}
	assert_string_equal(err.text, "");
	findings = nod_engine_findings(engine);
	assert_non_null(findings);
	assert_int_equal(findings->gaps, c->gaps);
	for (size_t i = 0; i < findings->doubt_count; i++)
		c->doubts = strstr(findings->doubts[i], "Nobody listened during") ? "gap"
										  : c->doubts;
	nod_findings_free(findings);
	nod_engine_free(engine);
	nod_session_close(session);
}

static void cut_and_read(struct recording *r, struct content *c)
{
	scratch_remove(&r->cut);
	scratch_make(&r->cut);
	disk_cut(&r->disk, &r->cut);
	read_back(r->cut.path, c);
}

/* A mark that is acknowledged is on the disk, a sample with the next flush. */
static void take_others(struct recording *r)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = {time_of(r->taken) - 1}};

	event.mark = (struct nod_mark){event.time, NOD_MARK_DOOR, ""};
	r->marks += nod_recorder_take(r->recorder, &event) == 0;
	event.kind = NOD_EVENT_CURRENT;
	event.current.microamps = 1000000;
	assert_int_equal(nod_recorder_take(r->recorder, &event), 0);
	r->samples++;
}

/* A second of frames and a flush. What the flush promises must be on the disk. */
static int record_second(struct recording *r, int frames)
{
	struct nod_recorder_status status;
	struct content c;

	for (int i = 0; i < frames; i++)
		take_frame(r, 2);
	take_others(r);
	cut_and_read(r, &c);
	assert_int_equal(c.marks, r->marks);
	int result = nod_recorder_flush(r->recorder, (nod_time){time_of(r->taken) - 1});
	nod_recorder_status(r->recorder, &status);
	assert_int_equal(status.error, result);
	r->failed += result != 0;
	if (result)
		return result;
	cut_and_read(r, &c);
	assert_int_equal(c.samples, r->samples);
	if (!c.gaps)
		assert_int_equal(c.frames, r->taken);
	else
		assert_non_null(c.doubts);
	return 0;
}

static void record(struct recording *r)
{
	for (int i = 0; i < SECONDS; i++)
		record_second(r, PER_SECOND);
}

/* ---- the error goes away ---- */

static void test_what_a_failed_sync_dropped_is_written_again(void **state)
{
	unsigned failed = 0;

	(void)state;
	for (long at = 1; at <= 2 * SECONDS; at++)
		for (long times = 1; times <= 3; times++) {
			struct recording r;
			struct content c;
			begin(&r);
			r.disk.syncs.fail_from = at;
			r.disk.syncs.fail_to = at + times - 1;
			record(&r);
			failed += r.failed;
			r.disk.syncs.fail_to = 0;
			assert_int_equal(
				nod_recorder_close(r.recorder, (nod_time){time_of(r.taken)}), 0);
			cut_and_read(&r, &c);
			assert_int_equal(c.frames, r.taken);
			assert_int_equal(c.all, r.taken);
			assert_int_equal(c.gaps + c.defects, 0);
			end(&r);
		}
	assert_true(failed >= 3 * SECONDS);
}

static void test_a_disk_that_is_full_as_well_makes_no_difference(void **state)
{
	(void)state;
	for (long at = 1; at <= SECONDS; at++)
		for (long write = 1; write <= 2 * SECONDS; write++) {
			struct recording r;
			struct content c;
			begin(&r);
			r.disk.syncs.fail_from = r.disk.syncs.fail_to = at;
			r.disk.writes.fail_from = write;
			r.disk.writes.fail_to = write + 2;
			record(&r);
			r.disk.writes.fail_to = 0;
			assert_int_equal(
				nod_recorder_close(r.recorder, (nod_time){time_of(r.taken)}), 0);
			cut_and_read(&r, &c);
			assert_int_equal(c.frames, r.taken);
			assert_int_equal(c.gaps + c.defects, 0);
			end(&r);
		}
}

/* ---- it does not ---- */

/* Nothing is promised any more, memory is bounded, and the end is in doubt. */
static void test_where_syncs_fail_for_good_the_end_is_told_to_be_missing(void **state)
{
	struct recording r;
	struct nod_recorder_status status;
	struct content c;
	int64_t safe;

	(void)state;
	begin(&r);
	r.disk.only = "frames-";
	for (int i = 0; i < SECONDS; i++)
		assert_int_equal(record_second(&r, PER_SECOND), 0);
	safe = r.taken;
	r.disk.syncs.fail_from = r.disk.syncs.made + 1;
	r.disk.syncs.fail_to = INT32_MAX;
	for (int i = 0; i < 30; i++) {
		for (int k = 0; k < 1000; k++)
			take_frame(&r, 64);
		assert_int_equal(record_second(&r, PER_SECOND), -EIO);
	}
	nod_recorder_status(r.recorder, &status);
	assert_true(status.lost > 0);
	assert_int_equal(nod_recorder_close(r.recorder, (nod_time){time_of(r.taken)}), -EIO);
	cut_and_read(&r, &c);
	assert_int_equal(c.frames, safe);
	assert_int_equal(c.gaps, 1);
	assert_true(c.gap_from <= time_of(safe) && c.gap_to == time_of(r.taken));
	assert_non_null(c.doubts);
	end(&r);
}

/* It goes away after memory was full: what was lost is counted, nothing else is. */
static void test_what_had_no_room_meanwhile_is_counted(void **state)
{
	struct recording r;
	struct nod_recorder_status status;
	struct content c;

	(void)state;
	begin(&r);
	r.disk.only = "frames-";
	record(&r);
	r.disk.syncs.fail_from = r.disk.syncs.made + 1;
	r.disk.syncs.fail_to = INT32_MAX;
	for (int i = 0; i < 30; i++) {
		for (int k = 0; k < 1000; k++)
			take_frame(&r, 64);
		record_second(&r, PER_SECOND);
	}
	r.disk.syncs.fail_to = 0;
	assert_int_equal(record_second(&r, PER_SECOND), 0);
	nod_recorder_status(r.recorder, &status);
	assert_int_equal(nod_recorder_close(r.recorder, (nod_time){time_of(r.taken)}), 0);
	cut_and_read(&r, &c);
	assert_true(status.lost > 0);
	assert_int_equal(c.lost, status.lost);
	assert_int_equal(c.gaps, 1);
	assert_non_null(c.doubts);
	assert_int_equal(c.defects, 0);
	end(&r);
}

/* What is in doubt cannot even be cut off: it is not written twice, but told. */
static void test_what_cannot_be_cut_off_is_a_gap(void **state)
{
	unsigned gaps = 0;

	(void)state;
	for (long at = 1; at <= SECONDS; at++) {
		struct recording r;
		struct content c;
		begin(&r);
		r.disk.only = "frames-";
		r.disk.syncs.fail_from = r.disk.syncs.fail_to = at;
		r.disk.truncates.fail_from = 1;
		r.disk.truncates.fail_to = INT32_MAX;
		record(&r);
		assert_int_equal(nod_recorder_close(r.recorder, (nod_time){time_of(r.taken)}), 0);
		read_back(r.files.path, &c); /* without a power cut */
		assert_int_equal(c.frames, r.taken);
		cut_and_read(&r, &c);
		if (at < SECONDS)
			assert_int_equal(c.all, r.taken);
		if (c.frames < r.taken) {
			assert_int_equal(c.gaps, 1);
			assert_true(c.gap_from <= time_of(c.frames));
			assert_non_null(c.doubts);
		}
		gaps += (unsigned)c.gaps;
		end(&r);
	}
	assert_int_equal(gaps, SECONDS);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_what_a_failed_sync_dropped_is_written_again),
		cmocka_unit_test(test_a_disk_that_is_full_as_well_makes_no_difference),
		cmocka_unit_test(test_where_syncs_fail_for_good_the_end_is_told_to_be_missing),
		cmocka_unit_test(test_what_had_no_room_meanwhile_is_counted),
		cmocka_unit_test(test_what_cannot_be_cut_off_is_a_gap),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
