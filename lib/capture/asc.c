/* SPDX-License-Identifier: MIT */
/* One line of an asc log. What is no frame (statistics, triggers, texts) says nothing here. */
#include <string.h>

#include "other-log.h"

static int header(struct nod_other_log *log, const struct nod_word *first, struct nod_scan scan)
{
	struct nod_word word;

	if (!nod_word_is(first, "base"))
		return 0;
	while (nod_scan_word(&scan, &word)) {
		log->decimal |= nod_word_is(&word, "dec");
		log->relative |= nod_word_is(&word, "relative");
	}
	return 0;
}

/* "1A5", "18FEBE15x". */
static bool take_id(const struct nod_other_log *log, struct nod_word word, uint32_t *id)
{
	bool extended = word.length && (word.text[word.length - 1] | 0x20) == 'x';
	uint64_t number;

	word.length -= extended;
	if (!nod_word_number(&word, log->decimal ? 10 : 16,
			     extended ? NOD_ID_EXTENDED_MASK : NOD_ID_STANDARD_MASK, &number))
		return false;
	*id = (uint32_t)number | (extended ? NOD_ID_EXTENDED : 0);
	return true;
}

static int take_bytes(const struct nod_other_log *log, struct nod_scan *scan,
		      struct nod_frame *frame)
{
	struct nod_word word;
	uint64_t byte;

	for (unsigned i = 0; i < frame->length; i++) {
		if (!nod_scan_word(scan, &word) ||
		    !nod_word_number(&word, log->decimal ? 10 : 16, 0xFF, &byte))
			return nod_word_fault(scan, &word, "expected a byte");
		frame->data[i] = (uint8_t)byte;
	}
	return 1;
}

static int take_error(struct nod_frame *frame)
{
	frame->id = NOD_ID_ERROR;
	frame->length = 8;
	return 1;
}

static bool take_direction(struct nod_scan *scan, struct nod_frame *frame)
{
	struct nod_word word;

	if (!nod_scan_word(scan, &word) ||
	    (!nod_word_is(&word, "Rx") && !nod_word_is(&word, "Tx") && !nod_word_is(&word, "TxRq")))
		return nod_word_fault(scan, &word, "expected Rx or Tx") > 0;
	frame->flags |= nod_word_is(&word, "Rx") ? NOD_FRAME_RECEIVED : NOD_FRAME_SENT;
	return true;
}

/* Behind the channel: "1A5 Rx d 8 11 22", "1A5 Rx r 8", "ErrorFrame". */
static int classical(const struct nod_other_log *log, struct nod_scan *scan,
		     struct nod_frame *frame)
{
	struct nod_word word;
	uint64_t dlc = 0;

	if (!nod_scan_word(scan, &word))
		return 0;
	if (nod_word_is(&word, "ErrorFrame"))
		return take_error(frame);
	if (!take_id(log, word, &frame->id))
		return 0; /* "Statistic: ..." and other events of a channel */
	if (!take_direction(scan, frame))
		return -1;
	if (!nod_scan_word(scan, &word) || (!nod_word_is(&word, "d") && !nod_word_is(&word, "r")))
		return nod_word_fault(scan, &word, "expected d or r");
	bool remote = nod_word_is(&word, "r");
	if (!nod_scan_word(scan, &word)
		    ? !remote
		    : !nod_word_number(&word, log->decimal ? 10 : 16, 15, &dlc)) {
		if (!remote)
			return nod_word_fault(scan, &word,
					      "expected a data length code of 0 to 15");
		dlc = 0; /* older logs have none, but other words */
	}
	nod_frame_classical(frame, (unsigned)dlc);
	if (!remote)
		return take_bytes(log, scan, frame);
	frame->id |= NOD_ID_REMOTE;
	return 1;
}

/* "1 Rx 1A5 [name] 1 0 d 32 11 22 ..": flags, code, length; behind CANFD. */
static int fd(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame)
{
	struct nod_word word, id;
	uint64_t channel, brs, esi, dlc, length;

	if (!nod_scan_word(scan, &word) || !nod_word_number(&word, 10, 255, &channel) ||
	    !nod_channel_name(log, frame, channel))
		return nod_word_fault(scan, &word, "expected a channel");
	if (!take_direction(scan, frame))
		return -1;
	if (!nod_scan_word(scan, &id))
		return nod_word_fault(scan, &id, "expected an ID");
	if (nod_word_is(&id, "ErrorFrame"))
		return take_error(frame);
	if (!take_id(log, id, &frame->id))
		return nod_word_fault(scan, &id, "expected an ID");
	if (nod_scan_word(scan, &word) && !nod_word_number(&word, 10, 1, &brs))
		nod_scan_word(scan, &word); /* that was a name */
	if (!nod_word_number(&word, 10, 1, &brs) || !nod_scan_word(scan, &word) ||
	    !nod_word_number(&word, 10, 1, &esi))
		return nod_word_fault(scan, &word, "expected the flags 0 or 1");
	if (!nod_scan_word(scan, &word) || !nod_word_number(&word, 16, 15, &dlc))
		return nod_word_fault(scan, &word, "expected a data length code of 0 to f");
	if (!nod_scan_word(scan, &word) || !nod_word_number(&word, 10, 64, &length) ||
	    !nod_scan_fd_length((unsigned)length))
		return nod_word_fault(scan, &word, "expected a length that CAN FD has");
	frame->length = (uint8_t)length;
	frame->flags |= (uint8_t)(NOD_FRAME_FD | (brs ? NOD_FRAME_BRS : 0) |
				  (esi ? NOD_FRAME_ESI : 0));
	return take_bytes(log, scan, frame);
}

int nod_asc_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame)
{
	struct nod_word word, channel;
	uint64_t number;

	if (!nod_scan_word(scan, &word))
		return 0;
	if (!memchr(word.text, '.', word.length) ||
	    !nod_word_time(&word, NOD_NS_PER_S, &frame->time))
		return header(log, &word, *scan);
	if (log->relative)
		frame->time.ns = nod_ns_add(log->last.ns, frame->time.ns);
	log->last = frame->time;
	if (!nod_scan_word(scan, &channel))
		return 0;
	if (nod_word_is(&channel, "CANFD"))
		return fd(log, scan, frame);
	if (!nod_word_number(&channel, 10, 255, &number))
		return 0;
	if (!nod_channel_name(log, frame, number))
		return nod_word_fault(scan, &channel, "more than 255 different interface names");
	return classical(log, scan, frame);
}
