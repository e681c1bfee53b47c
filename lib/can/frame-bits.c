/* SPDX-License-Identifier: MIT */
#include "frame-bits.h"

#include <endian.h>
#include <string.h>

#include "frame-bits-tables.h"
#include "frame-bits-tables.inc"
#include "timestamp.h"

/* Sums of steps: stuff bits below, dominant bits above. Classical frames have
 * at most 29 stuff bits. */
#define SUM_STUFF_MASK 63u
#define SUM_DOMINANT_SHIFT (STEP_DOMINANT_SHIFT - STEP_STUFF_SHIFT)

/* The bits before a header when it is padded to whole bytes: they alternate
 * and end recessive, so that the start of frame begins a new run. */
#define BEFORE_PADDING STATE(0u, 1u)

/* CRC delimiter, ACK slot and delimiter, end of frame, interframe space. */
#define TAIL_BITS (1 + 2 + 7 + 3)

struct sums {
	unsigned state, sum;
};

static inline void send(struct sums *s, uint8_t byte)
{
	unsigned step = stuff_steps[byte][s->state];

	s->state = step & STEP_STATE_MASK;
	s->sum += step >> STEP_STUFF_SHIFT;
}

/* SOF, ID, RTR, IDE, r0, DLC: 19 bits behind 10101. */
static struct sums send_standard(uint32_t header)
{
	struct sums s = {BEFORE_PADDING, 0};

	send(&s, (uint8_t)(0xA8 | header >> 16));
	send(&s, (uint8_t)(header >> 8));
	send(&s, (uint8_t)header);
	s.sum -= 2u << SUM_DOMINANT_SHIFT;
	return s;
}

/* SOF, ID, SRR, IDE, ID, RTR, r1, r0, DLC: 39 bits behind 1. */
static struct sums send_extended(uint64_t header)
{
	struct sums s = {BEFORE_PADDING, 0};

	send(&s, (uint8_t)(0x80 | header >> 32));
	send(&s, (uint8_t)(header >> 24));
	send(&s, (uint8_t)(header >> 16));
	send(&s, (uint8_t)(header >> 8));
	send(&s, (uint8_t)header);
	return s;
}

static unsigned crc_standard(uint32_t header, unsigned length)
{
	return crc_slices[length + 2][header >> 16] ^ crc_slices[length + 1][header >> 8 & 255] ^
	       crc_slices[length][header & 255];
}

static unsigned crc_extended(uint64_t header, unsigned length)
{
	return crc_slices[length + 4][header >> 32] ^ crc_slices[length + 3][header >> 24 & 255] ^
	       crc_standard((uint32_t)header & 0xFFFFFF, length);
}

static uint64_t extended_id(uint32_t id)
{
	return (uint64_t)(id & NOD_ID_EXTENDED_MASK) >> 18 << 27 | UINT64_C(3) << 25 |
	       (uint64_t)(id & 0x3FFFF) << 7;
}

struct nod_bits_head nod_bits_head(const struct nod_frame *frame)
{
	unsigned length = frame->length > 8 ? 8 : frame->length, dlc = length, crc;
	struct sums s;

	if (frame->raw_dlc > 8 && length == 8)
		dlc = frame->raw_dlc & 15u;
	uint32_t rtr_dlc = dlc;
	if (frame->id & NOD_ID_REMOTE) {
		rtr_dlc |= 1u << 6;
		length = 0;
	}
	if (frame->id & NOD_ID_EXTENDED) {
		uint64_t header = extended_id(frame->id) | rtr_dlc;
		s = send_extended(header);
		crc = crc_extended(header, length);
	} else {
		uint32_t header = (frame->id & NOD_ID_STANDARD_MASK) << 7 | rtr_dlc;
		s = send_standard(header);
		crc = crc_standard(header, length);
	}
	return (struct nod_bits_head){
		.crc = (uint16_t)crc,
		.stuffed = (uint16_t)s.sum,
		.state = (uint8_t)s.state,
		.length = (uint8_t)length,
		.unstuffed = (uint16_t)nod_bits_least(frame->id & NOD_ID_EXTENDED, length),
	};
}

/* The CRC and behind it one bit unlike its last one, which brings out a stuff
 * bit that is due but begins no other. */
static void send_crc(struct sums *s, unsigned crc)
{
	unsigned last = crc & 1u;

	send(s, (uint8_t)(crc >> 7));
	send(s, (uint8_t)(crc << 1 | !last));
	s->sum -= last << SUM_DOMINANT_SHIFT;
}

struct nod_bits nod_bits_count(const struct nod_bits_head *head, const uint8_t *data)
{
	struct sums s = {head->state, head->stuffed};
	unsigned crc = head->crc, length = head->length;

	for (unsigned i = 0; i < length; i++) {
		crc ^= crc_slices[length - 1 - i][data[i]];
		send(&s, data[i]);
	}
	send_crc(&s, crc);
	unsigned stuff = s.sum & SUM_STUFF_MASK;
	return (struct nod_bits){
		.total = (uint16_t)(head->unstuffed + stuff),
		.stuff = (uint16_t)stuff,
		.dominant = (uint16_t)((s.sum >> SUM_DOMINANT_SHIFT) + 1),
		.crc = (uint16_t)crc,
	};
}

/* ---- many frames ----
 *
 * The bits of a frame are stuffed one after another; where one byte has led to is needed
 * for the next. That step is one shift here (frame-bits-tables.h), everything else can be
 * done beside it. There is no branch and there are always as many steps: a frame with
 * less than 8 bytes of data begins with bytes of its header, and idle bytes before it. */

/* A byte that leaves the stuffing as BEFORE_PADDING has it, with no stuff bit. */
#define IDLE 0xAA

/* Idle bytes, then whatever is sent before the data. Returns the number of bytes. */
static unsigned lay_header(const struct nod_frame *frame, uint8_t bytes[WINDOW + 5])
{
	unsigned header = frame->id & NOD_ID_EXTENDED ? 5 : 3;
	uint64_t bits = (frame->id & NOD_ID_STANDARD_MASK) << 7 | UINT64_C(0xA80000);

	if (frame->id & NOD_ID_EXTENDED)
		bits = extended_id(frame->id) | UINT64_C(1) << 39;
	bits |= frame->length;
	memset(bytes, IDLE, WINDOW);
	for (unsigned i = 0; i < header; i++)
		bytes[WINDOW + i] = (uint8_t)(bits >> 8 * (header - 1 - i));
	return WINDOW + header;
}

/* The bits of the window on the wire, the first one highest. */
static inline uint64_t window_of(const struct nod_bits_line *line, uint64_t data)
{
	return line->head | data >> (8 * (WINDOW - line->length) & 63);
}

/* Where each bit of the window is like the one before it. */
static inline uint64_t same_bits(const struct nod_bits_line *line, uint64_t window)
{
	return window ^ window >> 1 ^ line->turn;
}

static inline unsigned crc_of(const struct nod_bits_line *line, uint64_t same)
{
	unsigned crc = line->crc;

	for (unsigned i = 0; i < WINDOW; i++)
		crc ^= same_crcs[i][same >> 8 * (WINDOW - 1 - i) & 0xFF];
	return crc;
}

/* The window ends with the data; what it has of the header before them is kept as it
 * is, and what lies before the window as what it leads to. */
void nod_bits_line_learn(struct nod_bits_line *line, const struct nod_frame *frame)
{
	uint8_t bytes[WINDOW + 5];
	unsigned before = lay_header(frame, bytes), kept = WINDOW - frame->length;
	unsigned least = nod_bits_least(frame->id & NOD_ID_EXTENDED, frame->length);
	struct sums s = {BEFORE_PADDING, 0};

	for (unsigned i = 0; i < before - kept; i++)
		send(&s, bytes[i]);
	line->length = frame->length;
	line->head = 0;
	for (unsigned i = 0; i < kept; i++)
		line->head |= (uint64_t)bytes[before - kept + i] << 8 * (WINDOW - 1 - i);
	line->turn = ~((uint64_t)STATE_BIT(s.state) << 63);
	line->run = (uint8_t)SAME_RUN(STATE_RUN(s.state));
	line->least = (uint16_t)(least + (s.sum & SUM_STUFF_MASK));
	/* the CRC with no bit set in the data is that of the head alone */
	line->crc = 0;
	line->crc = (uint16_t)(nod_bits_head(frame).crc ^
			       crc_of(line, same_bits(line, window_of(line, 0))));
}

#define STEP(byte) (at = same_steps[byte] >> (at & SAME_SHIFT_MASK), sum += at)

#define STEP_OF_WINDOW(i)                                                 \
	do {                                                              \
		uint8_t byte = (uint8_t)(same >> 8 * (WINDOW - 1 - (i))); \
		crc ^= same_crcs[i][byte];                                \
		STEP(byte);                                               \
	} while (0)

static inline unsigned walk(const struct nod_bits_line *line, uint64_t data)
{
	uint64_t window = window_of(line, data), same = same_bits(line, window), at = line->run;
	unsigned crc = line->crc;
	uint64_t sum = 0;

	STEP_OF_WINDOW(0);
	STEP_OF_WINDOW(1);
	STEP_OF_WINDOW(2);
	STEP_OF_WINDOW(3);
	STEP_OF_WINDOW(4);
	STEP_OF_WINDOW(5);
	STEP_OF_WINDOW(6);
	STEP_OF_WINDOW(7);
	/* the CRC, and behind it a bit unlike its last one, as in send_crc() */
	unsigned like = ~(crc ^ crc >> 1 ^ (unsigned)(window & 1) << 14);
	STEP(like >> 7 & 0xFF);
	STEP(like << 1 & 0xFF);
	return line->least + (unsigned)(sum >> SAME_STUFF_SHIFT & SAME_STUFF_MASK);
}

void nod_bits_walk(const struct nod_bits_line *const *lines, const struct nod_frame *frames,
		   size_t count, uint16_t *bits)
{
	uint64_t data;

	for (size_t i = 0; i < count; i++) {
		memcpy(&data, frames[i].data, sizeof(data));
		bits[i] = (uint16_t)walk(lines[i], be64toh(data));
	}
}

struct nod_bits nod_bits_of(const struct nod_frame *frame)
{
	if (nod_frame_is_error(frame))
		return (struct nod_bits){0};
	struct nod_bits_head head = nod_bits_head(frame);
	return nod_bits_count(&head, frame->data);
}

/* Sends the low `count` bits of value; for what is no whole byte. */
static unsigned send_bits(struct sums *s, unsigned value, unsigned count)
{
	unsigned stuff = 0;

	for (unsigned i = count; i-- > 0;) {
		unsigned bit = value >> i & 1u, last = STATE_BIT(s->state);
		unsigned run = STATE_RUN(s->state);
		if (run == 5) {
			last ^= 1u;
			run = 1;
			stuff++;
		}
		s->state = STATE(bit, bit == last ? run + 1 : 1);
	}
	return stuff;
}

static unsigned fd_dlc(unsigned length, unsigned *padded)
{
	static const uint8_t lengths[16] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64};
	unsigned dlc = length <= 8 ? length : 9;

	while (dlc < 15 && lengths[dlc] < length)
		dlc++;
	*padded = lengths[dlc];
	return dlc;
}

/* SOF to BRS: what is sent before the bit rate switches. Returns stuff bits. */
static unsigned send_fd_head(struct sums *s, const struct nod_frame *frame)
{
	unsigned brs = frame->flags & NOD_FRAME_BRS ? 1 : 0;
	uint32_t id = frame->id;

	/* RRS 0, IDE 0, FDF 1, res 0, BRS; extended: SRR 1, IDE 1, ..., RRS 0, FDF 1, res 0, BRS */
	*s = (struct sums){BEFORE_PADDING, 0};
	unsigned stuff = send_bits(s, 1, 1);
	if (!(id & NOD_ID_EXTENDED))
		return stuff + send_bits(s, (id & NOD_ID_STANDARD_MASK) << 5 | 4 | brs, 17);
	stuff += send_bits(s, (id & NOD_ID_EXTENDED_MASK) >> 18 << 2 | 3, 14);
	return stuff + send_bits(s, (id & 0x3FFFF) << 4 | 4 | brs, 22);
}

/* ESI, DLC, data: the rest of what is stuffed dynamically. Returns stuff bits. */
static unsigned send_fd_data(struct sums *s, const struct nod_frame *frame, unsigned dlc,
			     unsigned padded)
{
	unsigned length = frame->length < padded ? frame->length : padded;
	unsigned stuff = send_bits(s, (frame->flags & NOD_FRAME_ESI ? 16u : 0u) | dlc, 5);

	for (unsigned i = 0; i < padded; i++) {
		unsigned step = stuff_steps[i < length ? frame->data[i] : 0][s->state];
		s->state = step & STEP_STATE_MASK;
		stuff += step >> STEP_STUFF_SHIFT & 3u;
	}
	return stuff;
}

struct nod_fd_bits nod_fd_bits_of(const struct nod_frame *frame)
{
	struct sums s;
	unsigned padded, dlc = fd_dlc(frame->length, &padded);
	unsigned before = send_fd_head(&s, frame);
	unsigned after = send_fd_data(&s, frame, dlc, padded);
	unsigned crc = padded <= 16 ? 17 + 6 : 21 + 7;
	unsigned arbitration = (frame->id & NOD_ID_EXTENDED ? 36 : 17) + before;
	unsigned data = 5 + 8 * padded + after + 4 + crc + 1;

	if (frame->flags & NOD_FRAME_BRS)
		return (struct nod_fd_bits){(uint16_t)(arbitration + TAIL_BITS - 1), (uint16_t)data,
					    (uint16_t)(before + after)};
	return (struct nod_fd_bits){(uint16_t)(arbitration + data + TAIL_BITS - 1), 0,
				    (uint16_t)(before + after)};
}

uint32_t nod_frame_bits(const struct nod_frame *frame)
{
	if (nod_frame_is_error(frame))
		return 0;
	if (!(frame->flags & NOD_FRAME_FD)) {
		struct nod_bits_head head = nod_bits_head(frame);
		return nod_bits_count(&head, frame->data).total;
	}
	struct nod_fd_bits fd = nod_fd_bits_of(frame);
	return (uint32_t)fd.nominal + fd.data;
}

unsigned nod_bits_stuff_bound(bool extended, unsigned length)
{
	return ((extended ? 54 : 34) + 8 * length - 1) / 4;
}

unsigned nod_bits_least(bool extended, unsigned length)
{
	return (extended ? NOD_BITS_EXTENDED : NOD_BITS_STANDARD) + 8 * length;
}
