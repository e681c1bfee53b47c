/* SPDX-License-Identifier: MIT */
#include "source.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "source-private.h"

static bool is_name(const char *name, size_t length)
{
	for (size_t i = 0; i < length; i++)
		if ((unsigned char)name[i] <= ' ' || name[i] == 127)
			return false;
	return length > 0 && length < sizeof(((struct nod_interfaces *)0)->names[0]);
}

int nod_interfaces_index(struct nod_interfaces *table, const char *name, size_t length)
{
	if (!is_name(name, length))
		return -EINVAL;
	for (unsigned i = 0; i < table->count; i++)
		if (!memcmp(table->names[i], name, length) && !table->names[i][length])
			return (int)i;
	if (table->count == NOD_INTERFACES_MAX)
		return -ENOSPC;
	memset(table->names[table->count], 0, sizeof(table->names[0]));
	memcpy(table->names[table->count], name, length);
	return (int)table->count++;
}

/* Fits nod_read_function; the context is the file descriptor. */
static ptrdiff_t read_file(void *context, void *buf, size_t size)
{
	for (;;) {
		ssize_t n = read(*(const int *)context, buf, size);
		if (n >= 0)
			return n;
		if (errno == EAGAIN) /* a pipe that is not waited for: all that came was read */
			return 0;
		if (errno != EINTR)
			return -errno;
	}
}

void nod_input_close(struct nod_input *input)
{
	nod_inflate_free(input->inflate);
	if (input->fd > STDIN_FILENO)
		close(input->fd);
	if (input->read == read_file)
		free(input->context);
	free(input->name);
}

/* Magic numbers: draft-ietf-opsawg-pcap, section "File Header", in both byte
 * orders (micro- and nanoseconds), and the one of an old variant of libpcap's;
 * draft-ietf-opsawg-pcapng, section "Section Header Block". */
static bool is_pcap(const unsigned char *head, size_t length)
{
	static const unsigned char magic[][4] = {
		{0xA1, 0xB2, 0xC3, 0xD4}, {0xD4, 0xC3, 0xB2, 0xA1}, {0xA1, 0xB2, 0x3C, 0x4D},
		{0x4D, 0x3C, 0xB2, 0xA1}, {0xA1, 0xB2, 0xCD, 0x34}, {0x34, 0xCD, 0xB2, 0xA1},
	};
	for (size_t i = 0; length >= 4 && i < sizeof(magic) / sizeof(magic[0]); i++)
		if (!memcmp(head, magic[i], 4))
			return true;
	return false;
}

static struct nod_source *open_by_content(struct nod_input input, struct nod_interfaces *table,
					  struct nod_error *err)
{
	size_t length;
	const unsigned char *head = nod_inflate_head(input.inflate, &length);

	if (is_pcap(head, length))
		return nod_source_pcap(input, table, err);
	if (length >= 4 && !memcmp(head, "\x0A\x0D\x0D\x0A", 4))
		return nod_source_pcapng(input, table, err);
	if (length >= 4 && !memcmp(head, "LOGG", 4))
		return nod_source_blf(input, table, err);
	return nod_source_text(input, table, err);
}

static struct nod_source *open_input(struct nod_input input, struct nod_interfaces *table,
				     struct nod_error *err)
{
	int code = -ENOMEM;

	if (input.name)
		input.inflate = nod_inflate_new(input.read, input.context, &code);
	if (input.inflate)
		return open_by_content(input, table, err);
	nod_error_set(err, -code, "%s: cannot be read: %s", input.name ? input.name : "capture",
		      code == -EBADMSG ? "the packed data are damaged" : strerror(-code));
	nod_input_close(&input);
	errno = -code;
	return NULL;
}

struct nod_source *nod_source_open(const char *path, struct nod_interfaces *table,
				   struct nod_error *err)
{
	bool standard = !strcmp(path, "-");
	int fd = standard ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC);

	if (fd < 0) {
		int code = errno;
		nod_error_set(err, code, "%s: cannot be opened: %s", path, strerror(code));
		errno = code;
		return NULL;
	}
	struct nod_input input = {.name = strdup(path), .fd = fd, .read = read_file};
	int *context = malloc(sizeof(*context));
	input.context = context;
	if (context) {
		*context = fd;
		return open_input(input, table, err);
	}
	return nod_source_no_memory(&input, err);
}

struct nod_source *nod_source_open_reader(nod_read_function *read_function, void *context,
					  const char *name, struct nod_interfaces *table,
					  struct nod_error *err)
{
	struct nod_input input = {
		.name = strdup(name), .fd = -1, .read = read_function, .context = context};
	return open_input(input, table, err);
}

int nod_source_next(struct nod_source *source, const struct nod_event **event,
		    struct nod_error *err)
{
	return source->ops->next(source, event, err);
}

size_t nod_source_frames(struct nod_source *source, struct nod_frame *frames, size_t room)
{
	return source->ops->frames ? source->ops->frames(source, frames, room) : 0;
}

void nod_source_counts(const struct nod_source *source, struct nod_source_counts *counts)
{
	if (source->ops->counts)
		source->ops->counts(source, counts);
	else
		*counts = source->counts;
}

const char *nod_source_form(const struct nod_source *source)
{
	return source->form;
}

void nod_source_close(struct nod_source *source)
{
	if (source)
		source->ops->close(source);
}

void nod_source_init(struct nod_source *source, const struct nod_source_ops *ops,
		     struct nod_input input, struct nod_interfaces *table)
{
	*source = (struct nod_source){
		.ops = ops, .table = table, .input = input, .last = NOD_TIME_NONE};
}

struct nod_source *nod_source_no_memory(struct nod_input *input, struct nod_error *err)
{
	nod_input_close(input);
	nod_error_set(err, ENOMEM, "out of memory");
	errno = ENOMEM;
	return NULL;
}

int nod_source_read_failed(const struct nod_source *source, int code, struct nod_error *err)
{
	return nod_error_set(err, -code, "%s: cannot be read on: %s", source->input.name,
			     code == -EBADMSG ? "the packed data are damaged"
			     : code == -EFBIG ? "no line ends within 16 MiB: this is no capture"
					      : strerror(-code));
}

#define NAME_SIZE sizeof(((struct nod_interfaces *)0)->names[0])

int nod_source_name_interface(struct nod_source *source, const char *name, size_t length)
{
	char copy[NAME_SIZE];
	size_t n = 0;

	for (; n < length && n < NAME_SIZE - 1 && name[n]; n++)
		copy[n] = (unsigned char)name[n] <= ' ' || name[n] == 127 ? '_' : name[n];
	if (!n)
		copy[n++] = '_';
	return nod_interfaces_index(source->table, copy, n);
}

int nod_source_name_by_file(struct nod_source *source, unsigned number)
{
	const char *slash = strrchr(source->input.name, '/');
	const char *stem = slash ? slash + 1 : source->input.name;
	int length = (int)strcspn(stem, ".");
	char name[NAME_SIZE];

	if (!strcmp(stem, "-") || !length) {
		stem = "capture";
		length = (int)strlen(stem);
	}
	if (number)
		snprintf(name, sizeof(name), "%.*s.%u", length > 11 ? 11 : length, stem, number);
	else
		snprintf(name, sizeof(name), "%.*s", length, stem);
	return nod_source_name_interface(source, name, strlen(name));
}

void nod_source_free(struct nod_source *source)
{
	nod_input_close(&source->input);
	free(source);
}

int nod_source_deliver_defect(struct nod_source *source, const struct nod_event **event,
			      uint64_t line, unsigned column, const char *reason)
{
	source->counts.defects++;
	source->event.kind = NOD_EVENT_DEFECT;
	source->event.time = source->last;
	source->event.defect.file = source->input.name;
	source->event.defect.line = line;
	source->event.defect.column = column;
	source->event.defect.reason = reason;
	*event = &source->event;
	return 1;
}

int nod_source_deliver_loss(struct nod_source *source, const struct nod_event **event,
			    uint8_t interface, uint64_t count)
{
	source->counts.lost += count;
	source->event.kind = NOD_EVENT_LOSS;
	source->event.time = source->last;
	source->event.loss.interface = interface;
	source->event.loss.count = count;
	*event = &source->event;
	return 1;
}

bool nod_source_unpack_ahead(struct nod_source *source)
{
	return source->input.inflate && nod_inflate_ahead(source->input.inflate);
}
