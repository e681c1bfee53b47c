/* SPDX-License-Identifier: MIT */
/* Captures in pcap form, read by libpcap. The form gives no interface a name;
 * the name of the file stands for it. */
#include <errno.h>
#include <pcap/pcap.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "packet.h"
#include "source-private.h"

struct pcap_source {
	struct nod_source base;
	pcap_t *pcap; /* owns the FILE it reads */
	int failure;  /* negative errno of the stream below */
	bool ended;
	uint64_t packets;
	uint8_t interface;
	char reason[PCAP_ERRBUF_SIZE];
};

/* Bytes the FILE holds. Chosen: enough that the calls do not show. */
#define FILE_BUFFER ((size_t)64 * 1024)

/* libpcap wants a FILE; this is its read(). */
static ssize_t read_stream(void *cookie, char *buf, size_t size)
{
	struct pcap_source *source = cookie;
	ptrdiff_t n = nod_inflate_read(source->base.input.inflate, buf, size);

	if (n >= 0)
		return n;
	source->failure = (int)n;
	errno = (int)-n;
	return -1;
}

/* Packets cannot be told from one another any more: the end. */
static int give_up(struct pcap_source *source, const struct nod_event **event,
		   struct nod_error *err)
{
	source->ended = true;
	if (source->failure)
		return nod_source_read_failed(&source->base, source->failure, err);
	source->base.counts.torn = true;
	if (feof(pcap_file(source->pcap)))
		return 0;
	snprintf(source->reason, sizeof(source->reason), "%s", pcap_geterr(source->pcap));
	return nod_source_deliver_defect(&source->base, event, source->packets + 1, 0,
					 source->reason);
}

static int take_packet(struct pcap_source *source, const struct pcap_pkthdr *header,
		       const u_char *bytes, const struct nod_event **event)
{
	struct nod_frame *frame = &source->base.event.frame;
	const char *reason;

	source->packets++;
	if (!nod_packet_parse(frame, bytes, header->caplen, header->len, &reason))
		return nod_source_deliver_defect(&source->base, event, source->packets, 0, reason);
	frame->interface = source->interface;
	/* Seconds are unsigned in the file (draft-ietf-opsawg-pcap, "Packet Record"); libpcap
	 * reads them as signed. With nanosecond precision asked for, tv_usec counts those. */
	frame->time.ns = (int64_t)(uint32_t)header->ts.tv_sec * NOD_NS_PER_S + header->ts.tv_usec;
	if (header->ts.tv_usec < 0 || header->ts.tv_usec >= NOD_NS_PER_S)
		return nod_source_deliver_defect(&source->base, event, source->packets, 0,
						 "a time that is out of range");
	return nod_source_deliver_frame(&source->base, event);
}

static int pcap_source_next(struct nod_source *base, const struct nod_event **event,
			    struct nod_error *err)
{
	struct pcap_source *source = (struct pcap_source *)base;
	struct pcap_pkthdr *header;
	const u_char *bytes;

	if (source->ended)
		return 0;
	switch (pcap_next_ex(source->pcap, &header, &bytes)) {
	case 1:
		return take_packet(source, header, bytes, event);
	case PCAP_ERROR_BREAK:
		source->ended = true;
		base->counts.torn |= nod_inflate_torn(base->input.inflate);
		return 0;
	default:
		return give_up(source, event, err);
	}
}

static void pcap_source_counts(const struct nod_source *base, struct nod_source_counts *counts)
{
	*counts = base->counts;
	counts->lines = ((const struct pcap_source *)base)->packets;
}

static void pcap_source_close(struct nod_source *base)
{
	struct pcap_source *source = (struct pcap_source *)base;

	if (source->pcap)
		pcap_close(source->pcap);
	nod_source_free(base);
}

static const struct nod_source_ops pcap_ops = {
	.next = pcap_source_next, .counts = pcap_source_counts, .close = pcap_source_close};

static int open_pcap(struct pcap_source *source, struct nod_error *err)
{
	const char *name = source->base.input.name;
	char text[PCAP_ERRBUF_SIZE] = "";
	FILE *file = fopencookie(source, "r", (cookie_io_functions_t){.read = read_stream});

	if (!file)
		return nod_error_set(err, ENOMEM, "out of memory");
	setvbuf(file, NULL, _IOFBF, FILE_BUFFER);
	source->pcap = pcap_fopen_offline_with_tstamp_precision(file, PCAP_TSTAMP_PRECISION_NANO,
								text);
	if (!source->pcap) {
		fclose(file);
		return nod_error_set(err, EINVAL, "%s: not a pcap file that can be read: %s", name,
				     text);
	}
	int link_type = pcap_datalink(source->pcap);
	if (link_type != NOD_LINKTYPE_CAN)
		return nod_error_set(err, EINVAL,
				     "%s: a pcap file of link type %d; only 227 (SocketCAN) holds "
				     "CAN frames",
				     name, link_type);
	int index = nod_source_name_by_file(&source->base, 0);
	if (index < 0)
		return nod_error_set(
			err, -index,
			"%s: more than " NOD_INTERFACES_TEXT " different interface names", name);
	source->interface = (uint8_t)index;
	return 0;
}

struct nod_source *nod_source_pcap(struct nod_input input, struct nod_interfaces *table,
				   struct nod_error *err)
{
	struct pcap_source *source = calloc(1, sizeof(*source));

	if (!source)
		return nod_source_no_memory(&input, err);
	nod_source_init(&source->base, &pcap_ops, input, table);
	snprintf(source->base.form, sizeof(source->base.form), "pcap%s",
		 nod_inflate_form(input.inflate));
	int status = open_pcap(source, err);
	if (status) {
		pcap_source_close(&source->base);
		errno = -status;
		return NULL;
	}
	return &source->base;
}
