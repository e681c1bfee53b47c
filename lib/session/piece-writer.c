/* SPDX-License-Identifier: MIT */
#include "piece-writer.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zstd.h>

#include "recorder.h"

/* Chosen: one core packs over 300 MB/s of such text at this level; higher ones
 * save a tenth of the disk for twice the time. */
#define PIECE_LEVEL 1

/* Numbers of pieces that may be in use already. */
#define NUMBERS_TRIED 100

int nod_piece_writer_init(struct nod_piece_writer *writer, const char *directory, const char *head,
			  unsigned first, const struct nod_file_ops *ops)
{
	*writer = (struct nod_piece_writer){.ops = ops, .fd = -1, .piece = first};
	writer->begun = NOD_TIME_NONE;
	writer->room = ZSTD_compressBound(NOD_RECORDER_BUFFER);
	writer->directory = strdup(directory);
	writer->head = strdup(head);
	writer->text = malloc(NOD_RECORDER_BUFFER);
	writer->packed = malloc(writer->room);
	writer->unsynced = malloc(NOD_PIECE_UNSYNCED);
	writer->zstd = ZSTD_createCCtx();
	if (!writer->directory || !writer->head || !writer->text || !writer->packed ||
	    !writer->unsynced || !writer->zstd)
		return -ENOMEM;
	ZSTD_CCtx_setParameter(writer->zstd, ZSTD_c_compressionLevel, PIECE_LEVEL);
	ZSTD_CCtx_setParameter(writer->zstd, ZSTD_c_checksumFlag, 1);
	return 0;
}

/* What is not synced is in memory no longer, and whether it is on the disk is not known. */
static void give_up_unsynced(struct nod_piece_writer *writer)
{
	writer->uncertain |= writer->unsynced_length > 0;
	writer->unsynced_length = 0;
	writer->failure = 0;
}

static void close_piece(struct nod_piece_writer *writer)
{
	if (writer->fd < 0)
		return;
	writer->ops->close(writer->ops->context, writer->fd);
	writer->fd = -1;
	writer->piece++;
	writer->begun = NOD_TIME_NONE;
	writer->torn = false;
	writer->name_in_doubt = false;
}

void nod_piece_writer_free(struct nod_piece_writer *writer)
{
	close_piece(writer);
	ZSTD_freeCCtx(writer->zstd);
	free(writer->unsynced);
	free(writer->packed);
	free(writer->text);
	free(writer->head);
	free(writer->directory);
}

static void confirm(struct nod_piece_writer *writer)
{
	writer->synced = writer->good;
	writer->unsynced_length = 0;
	writer->data_synced = true;
	writer->failure = 0;
}

/* Cuts off what a failed write has left; when even that fails, another piece
 * is begun, and this one keeps its torn end. */
static void mend(struct nod_piece_writer *writer)
{
	if (writer->torn &&
	    !writer->ops->truncate(writer->ops->context, writer->fd, (off_t)writer->good)) {
		writer->torn = false;
	} else if (writer->torn) {
		if (writer->ops->sync(writer->ops->context, writer->fd) || !writer->name_synced)
			give_up_unsynced(writer);
		else
			confirm(writer);
		close_piece(writer);
	}
}

/* Appends bytes to the piece, all of them or none. */
static int append(struct nod_piece_writer *writer, const char *bytes, size_t size)
{
	size_t written;
	int result = nod_file_write(writer->ops, writer->fd, bytes, size, &written);

	if (!result) {
		writer->good += size;
		writer->bytes += size;
		writer->data_synced = false;
		return 0;
	}
	writer->torn = written > 0;
	if (writer->torn &&
	    !writer->ops->truncate(writer->ops->context, writer->fd, (off_t)writer->good))
		writer->torn = false;
	return result;
}

static int sync_piece(struct nod_piece_writer *writer);

static int write_packed(struct nod_piece_writer *writer, const char *text, size_t length)
{
	size_t size = ZSTD_compress2(writer->zstd, writer->packed, writer->room, text, length);

	if (ZSTD_isError(size))
		return -ENOMEM; /* there is room enough, so nothing else can be wrong */
	if (NOD_PIECE_UNSYNCED - writer->unsynced_length < size) {
		int result = sync_piece(writer);
		if (result)
			return result;
	}
	int result = append(writer, writer->packed, size);
	if (!result) {
		memcpy(writer->unsynced + writer->unsynced_length, writer->packed, size);
		writer->unsynced_length += size;
	}
	return result;
}

static int create_piece(struct nod_piece_writer *writer)
{
	char *path;

	if (asprintf(&path, "%s/frames-%06u.log.zst", writer->directory, writer->piece) < 0)
		return -ENOMEM;
	int fd = writer->ops->open(writer->ops->context, path,
				   O_WRONLY | O_CREAT | O_EXCL | O_APPEND, 0666);
	free(path);
	return fd;
}

static int open_piece(struct nod_piece_writer *writer)
{
	int fd;

	for (int i = 0; (fd = create_piece(writer)) == -EEXIST && i < NUMBERS_TRIED; i++)
		writer->piece++; /* somebody else's */
	if (fd < 0)
		return fd;
	writer->fd = fd;
	writer->good = writer->synced = 0;
	writer->name_synced = false;
	return 0;
}

/* Cuts the piece back to what is surely on the disk. When that fails, the next piece goes
 * on without what was in doubt, if there can be one. */
static int cut_back(struct nod_piece_writer *writer)
{
	const struct nod_file_ops *ops = writer->ops;
	int result = ops->truncate(ops->context, writer->fd, (off_t)writer->synced);
	int old = writer->fd;

	if (!result) {
		writer->bytes -= writer->good - writer->synced;
		writer->good = writer->synced;
		writer->torn = false;
		return 0;
	}
	writer->piece++;
	int opened = open_piece(writer);
	if (opened) {
		writer->piece--;
		return result;
	}
	ops->close(ops->context, old);
	writer->begun = NOD_TIME_NONE;
	writer->torn = writer->name_in_doubt = false;
	give_up_unsynced(writer);
	return 0;
}

/* After a failed sync: writes once more what it was to keep, and syncs that. */
static int restore(struct nod_piece_writer *writer)
{
	int result;

	if (!writer->failure)
		return 0;
	result = writer->fd < 0 ? open_piece(writer) : cut_back(writer);
	if (result || !writer->failure) /* else given up */
		return result;
	result = append(writer, writer->unsynced, writer->unsynced_length);
	if (!result)
		result = writer->ops->sync(writer->ops->context, writer->fd);
	if (result)
		return result;
	writer->data_synced = true;
	writer->failure = 0;
	return 0;
}

int nod_piece_writer_open(struct nod_piece_writer *writer)
{
	int result = restore(writer);

	if (!result)
		mend(writer);
	if (!result && writer->fd < 0)
		result = open_piece(writer);
	if (!result && !writer->good)
		result = write_packed(writer, writer->head, strlen(writer->head));
	return result;
}

char *nod_piece_writer_room(struct nod_piece_writer *writer, size_t size)
{
	return NOD_RECORDER_BUFFER - writer->length < size ? NULL : writer->text + writer->length;
}

void nod_piece_writer_add(struct nod_piece_writer *writer, size_t length)
{
	writer->length += length;
}

int nod_piece_writer_write(struct nod_piece_writer *writer)
{
	if (!writer->length)
		return restore(writer);
	int result = nod_piece_writer_open(writer);
	if (!result)
		result = write_packed(writer, writer->text, writer->length);
	if (!result)
		writer->length = 0;
	return result;
}

/* A directory whose sync has failed may have lost the piece's name, though the next sync
 * says that all is well: a new piece, with a name that is written anew, takes over. */
static int move_to_new_name(struct nod_piece_writer *writer)
{
	const struct nod_file_ops *ops = writer->ops;
	int result = ops->truncate(ops->context, writer->fd, 0);

	if (result)
		return result;
	writer->bytes -= writer->good;
	close_piece(writer);
	writer->failure = -EIO; /* nothing of it is anywhere but in memory */
	return restore(writer);
}

static int sync_name(struct nod_piece_writer *writer)
{
	int result = nod_file_sync_directory(writer->ops, writer->directory);

	writer->name_synced = !result;
	writer->name_in_doubt |= result != 0;
	return result;
}

static int sync_data(struct nod_piece_writer *writer)
{
	if (writer->data_synced)
		return 0;
	writer->failure = writer->ops->sync(writer->ops->context, writer->fd);
	writer->data_synced = !writer->failure;
	return writer->failure;
}

/* What is confirmed is on the disk, and so is the name by which it is found. */
static int sync_piece(struct nod_piece_writer *writer)
{
	int result;

	if (writer->fd < 0 && !writer->failure)
		return 0;
	result = restore(writer);
	if (!result)
		result = sync_data(writer);
	if (!result && !writer->name_synced)
		result = sync_name(writer);
	if (!result && writer->name_in_doubt) {
		result = move_to_new_name(writer);
		if (!result)
			result = sync_name(writer);
	}
	if (!result)
		confirm(writer);
	return result;
}

static bool is_full(const struct nod_piece_writer *writer, nod_time now)
{
	return writer->good >= writer->piece_bytes ||
	       nod_time_since(now, writer->begun).ns >= writer->piece_time.ns;
}

int nod_piece_writer_flush(struct nod_piece_writer *writer, nod_time now)
{
	int result = nod_piece_writer_write(writer);

	if (!result)
		result = sync_piece(writer);
	if (result || writer->fd < 0)
		return result;
	if (!nod_time_is_set(writer->begun))
		writer->begun = now;
	if (is_full(writer, now))
		close_piece(writer);
	return 0;
}
