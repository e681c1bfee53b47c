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
	writer->zstd = ZSTD_createCCtx();
	if (!writer->directory || !writer->head || !writer->text || !writer->packed ||
	    !writer->zstd)
		return -ENOMEM;
	ZSTD_CCtx_setParameter(writer->zstd, ZSTD_c_compressionLevel, PIECE_LEVEL);
	ZSTD_CCtx_setParameter(writer->zstd, ZSTD_c_checksumFlag, 1);
	return 0;
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
}

void nod_piece_writer_free(struct nod_piece_writer *writer)
{
	close_piece(writer);
	ZSTD_freeCCtx(writer->zstd);
	free(writer->packed);
	free(writer->text);
	free(writer->head);
	free(writer->directory);
}

/* Cuts off what a failed write has left; when even that fails, another piece
 * is begun, and this one keeps its torn end. */
static void mend(struct nod_piece_writer *writer)
{
	if (writer->torn && !writer->ops->truncate(writer->ops->context, writer->fd,
						   (off_t)writer->good))
		writer->torn = false;
	else if (writer->torn)
		close_piece(writer);
}

static int write_packed(struct nod_piece_writer *writer, const char *text, size_t length)
{
	size_t size = ZSTD_compress2(writer->zstd, writer->packed, writer->room, text, length);
	size_t written;

	if (ZSTD_isError(size))
		return -ENOMEM; /* there is room enough, so nothing else can be wrong */
	int result = nod_file_write(writer->ops, writer->fd, writer->packed, size, &written);
	if (!result) {
		writer->good += size;
		writer->bytes += size;
		writer->data_synced = false;
		return 0;
	}
	writer->torn = written > 0;
	if (writer->torn && !writer->ops->truncate(writer->ops->context, writer->fd,
						   (off_t)writer->good))
		writer->torn = false;
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
	writer->good = 0;
	writer->name_synced = false;
	return 0;
}

int nod_piece_writer_open(struct nod_piece_writer *writer)
{
	int result = 0;

	mend(writer);
	if (writer->fd < 0)
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
		return 0;
	int result = nod_piece_writer_open(writer);
	if (!result)
		result = write_packed(writer, writer->text, writer->length);
	if (!result)
		writer->length = 0;
	return result;
}

static int sync_piece(struct nod_piece_writer *writer)
{
	int result = 0;

	if (writer->fd < 0)
		return 0;
	if (!writer->data_synced)
		result = writer->ops->sync(writer->ops->context, writer->fd);
	if (result)
		return result;
	writer->data_synced = true;
	if (!writer->name_synced)
		result = nod_file_sync_directory(writer->ops, writer->directory);
	writer->name_synced = !result;
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
