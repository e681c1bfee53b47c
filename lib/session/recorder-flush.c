/* SPDX-License-Identifier: MIT */
/* From the recorder to the disk, and what is told when that failed. */
#include "recorder-internal.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

#include "mark-forms.h"

/* Silence is data: says up to when nothing was heard. */
static void put_silence(struct nod_recorder *recorder, nod_time now)
{
	char text[NOD_TIME_TEXT];

	if (recorder->idle && !recorder->status.error && !recorder->losing &&
	    (!nod_time_is_set(recorder->kept) || now.ns > recorder->kept.ns) &&
	    !nod_recorder_take_header(
		    recorder, "ended",
		    nod_time_print(text, now, recorder->digits ? recorder->digits : 9)))
		recorder->kept = now;
}

/* From the last sync that succeeded until now some may be missing. */
void nod_recorder_doubt_since_safe(struct nod_recorder *recorder, nod_time now)
{
	nod_time from = nod_time_is_set(recorder->safe) ? recorder->safe : recorder->begun;

	if (!nod_time_is_set(from) || from.ns > now.ns) /* the clock was set back */
		from = now;
	if (!nod_time_is_set(recorder->gap_from) || from.ns < recorder->gap_from.ns)
		recorder->gap_from = from;
	recorder->gap_to = now;
}

static int flush_frames(struct nod_recorder *recorder, nod_time now)
{
	int result = nod_piece_writer_flush(&recorder->frames, now);

	if (recorder->frames.uncertain)
		nod_recorder_doubt_since_safe(recorder, now);
	recorder->frames.uncertain = false;
	if (!result)
		recorder->safe = recorder->kept;
	return result;
}

/* There is room again: says what is missing, and takes frames again. */
static int resume(struct nod_recorder *recorder, nod_time now)
{
	if (!recorder->losing)
		return 0;
	recorder->losing = false;
	recorder->gap_from = nod_time_is_set(recorder->gap_from) ? recorder->gap_from
								 : recorder->kept;
	recorder->gap_to = now;
	for (unsigned i = 0; i < recorder->interfaces->count; i++)
		if (recorder->lost[i] && nod_recorder_put_loss(recorder, i, recorder->lost[i]))
			recorder->lost[i] = 0;
	return flush_frames(recorder, now);
}

int nod_recorder_tell_gap(struct nod_recorder *recorder)
{
	char subject[64];

	if (!nod_time_is_set(recorder->gap_from))
		return 0;
	struct nod_mark mark = nod_recorder_gap_mark(subject, "all", recorder->gap_from,
						     recorder->gap_to);
	int result = nod_recorder_write_mark(recorder, &mark, false);
	if (!result)
		recorder->gap_from = NOD_TIME_NONE;
	return result;
}

int nod_recorder_open_log(struct nod_appender *log, const char *directory, const char *name,
			  const struct nod_file_ops *ops)
{
	char *path;

	if (asprintf(&path, "%s/%s", directory, name) < 0)
		return -ENOMEM;
	int result = nod_appender_open(log, path, NOD_MARK_CUT_OFF, ops);
	free(path);
	return result;
}

/* The file was made just now. Where that fails it is tried again until it succeeds: the
 * file systems in use keep the name with the file's own sync as well. */
static int sync_name_of_current(struct nod_recorder *recorder)
{
	int result = nod_file_sync_directory(recorder->ops, recorder->frames.directory);

	recorder->current_named = !result;
	if (result && !recorder->frames.name_synced)
		recorder->frames.name_in_doubt = true; /* it was in the same directory */
	return result;
}

static int flush_samples(struct nod_recorder *recorder)
{
	int result = 0;

	if (!recorder->samples_length || !recorder->sampled)
		return 0;
	if (recorder->current.fd < 0)
		result = nod_recorder_open_log(&recorder->current, recorder->frames.directory,
					       "current.log", recorder->ops);
	if (!result && !recorder->current_named)
		result = sync_name_of_current(recorder);
	if (!result)
		result = nod_appender_write(&recorder->current, recorder->samples,
					    recorder->samples_length, true);
	if (!result)
		recorder->samples_length = 0;
	return result;
}

int nod_recorder_flush(struct nod_recorder *recorder, nod_time now)
{
	nod_recorder_note_time(recorder, now);
	put_silence(recorder, now);
	recorder->idle = true;
	int result = flush_frames(recorder, now);
	if (!result)
		result = resume(recorder, now);
	if (!result)
		result = nod_recorder_write_untold(recorder);
	if (!result)
		result = nod_recorder_tell_gap(recorder);
	int samples = flush_samples(recorder);
	return nod_recorder_note_result(recorder, result ? result : samples);
}
