#include "frame-bits.h"

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

/* One byte of the data, `left` bytes before its end. */
#define WALK(left) \
	do { \
		unsigned byte = end[-(left)]; \
		crc ^= crc_slices[(left) - 1][byte]; \
		at = walks[(at & WALK_STATE_MASK) | byte]; \
		sum += at; \
	} while (0)

unsigned nod_bits_total(const struct nod_bits_head *head, const uint8_t *data)
{
	unsigned at = (unsigned)head->state << WALK_STATE_SHIFT, crc = head->crc;
	unsigned sum = head->stuffed & SUM_STUFF_MASK;
	const uint8_t *end = data + head->length;

	switch (head->length) {
	case 8: WALK(8); /* fall through */
	case 7: WALK(7); /* fall through */
	case 6: WALK(6); /* fall through */
	case 5: WALK(5); /* fall through */
	case 4: WALK(4); /* fall through */
	case 3: WALK(3); /* fall through */
	case 2: WALK(2); /* fall through */
	case 1: WALK(1); /* fall through */
	default: break;
	}
	/* The CRC as in send_crc(). */
	at = walks[(at & WALK_STATE_MASK) | (crc >> 7 & 0xFF)];
	sum += at;
	at = walks[(at & WALK_STATE_MASK) | ((crc << 1 | (~crc & 1u)) & 0xFF)];
	sum += at;
	return head->unstuffed + (sum & WALK_STUFF_MASK);
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
		return (struct nod_fd_bits){(uint16_t)(arbitration + TAIL_BITS - 1),
					    (uint16_t)data, (uint16_t)(before + after)};
	return (struct nod_fd_bits){(uint16_t)(arbitration + data + TAIL_BITS - 1), 0,
				    (uint16_t)(before + after)};
}

uint32_t nod_frame_bits(const struct nod_frame *frame)
{
	if (nod_frame_is_error(frame))
		return 0;
	if (!(frame->flags & NOD_FRAME_FD)) {
		struct nod_bits_head head = nod_bits_head(frame);
		return nod_bits_total(&head, frame->data);
	}
	struct nod_fd_bits fd = nod_fd_bits_of(frame);
	return (uint32_t)fd.nominal + fd.data;
}

int64_t nod_frame_duration(const struct nod_frame *frame, uint32_t bitrate, uint32_t data_bitrate)
{
	struct nod_fd_bits fd = {nod_bits_of(frame).total, 0, 0};

	if (frame->flags & NOD_FRAME_FD && !nod_frame_is_error(frame))
		fd = nod_fd_bits_of(frame);
	if (!data_bitrate)
		data_bitrate = bitrate;
	return fd.nominal * NOD_NS_PER_S / bitrate + fd.data * NOD_NS_PER_S / data_bitrate;
}

unsigned nod_bits_stuff_bound(bool extended, unsigned length)
{
	return ((extended ? 54 : 34) + 8 * length - 1) / 4;
}

unsigned nod_bits_least(bool extended, unsigned length)
{
	return (extended ? NOD_BITS_EXTENDED : NOD_BITS_STANDARD) + 8 * length;
}

unsigned nod_bits_worst(bool extended, unsigned length)
{
	return nod_bits_least(extended, length) + nod_bits_stuff_bound(extended, length);
}
