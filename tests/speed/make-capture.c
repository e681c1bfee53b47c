/* SPDX-License-Identifier: MIT */
/* make-capture [--ids N] [--still] [--form log|pcap|pcapng] LINES: an invented
 * capture of a busy car on standard output. Two networks, about 2,500 frames a
 * second, 8 bytes mostly. Without --ids there are 48 IDs, a third of them
 * extended; with it N different ones, standard up to 2048, extended beyond.
 * --still: the IDs take turns and the payloads never change, so there is nothing
 * to learn and every frame but the first of an ID asks for the same work. The
 * same arguments give the same bytes. */
#include <getopt.h>
#include <inttypes.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define IDS_DEFAULT 48
#define IDS_MAX 1000000
#define EXTENDED UINT32_C(0x80000000)
#define LINK_SOCKETCAN 227 /* the pcap registry's LINKTYPE_CAN_SOCKETCAN */

struct message {
	unsigned network;
	uint32_t id;   /* with EXTENDED */
	char head[24]; /* "can0 123#" */
	unsigned length;
	uint64_t payload;
};

struct capture {
	struct message *messages;
	unsigned ids;
	bool still;
	uint64_t random;
	uint64_t time; /* microseconds */
	void (*write)(const struct capture *c, const struct message *m);
};

static uint64_t next_random(uint64_t *random)
{
	/* Knuth, MMIX */
	*random = *random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
	return *random >> 33;
}

/* The i-th of `ids` different IDs: an odd factor permutes the numbers. */
static uint32_t id_of(unsigned i, unsigned ids)
{
	if (ids <= 2048)
		return i * 1317 & 0x7FF;
	return (i * UINT32_C(2246822519) & 0x1FFFFFFF) | EXTENDED;
}

static void invent(struct capture *c, bool all_different)
{
	static const unsigned lengths[] = {8, 8, 8, 8, 8, 8, 7, 6, 4, 2};

	for (unsigned i = 0; i < c->ids; i++) {
		struct message *m = &c->messages[i];
		unsigned number = (unsigned)next_random(&c->random);
		m->network = i % 2;
		m->id = i % 3 ? number & 0x7FF : (number & 0x1FFFFFFF) | EXTENDED;
		if (all_different)
			m->id = id_of(i, c->ids);
		snprintf(m->head, sizeof(m->head), m->id & EXTENDED ? "can%u %08X#" : "can%u %03X#",
			 m->network, m->id & ~EXTENDED);
		m->length = lengths[next_random(&c->random) % 10];
		m->payload = next_random(&c->random) << 31 ^ next_random(&c->random);
	}
}

/* ---- forms ---- */

static void write_line(const struct capture *c, const struct message *m)
{
	printf("(%" PRIu64 ".%06" PRIu64 ") %s%0*" PRIX64 "\n", c->time / 1000000,
	       c->time % 1000000, m->head, 2 * (int)m->length,
	       m->payload & (UINT64_MAX >> (64 - 8 * m->length)));
}

static void put(const void *bytes, size_t size)
{
	fwrite(bytes, size, 1, stdout);
}

/* A SocketCAN packet: ID in network byte order, length, padding, data. */
static unsigned packet(unsigned char bytes[16], const struct message *m)
{
	memset(bytes, 0, 16);
	for (int i = 0; i < 4; i++)
		bytes[i] = (unsigned char)(m->id >> (24 - 8 * i));
	bytes[4] = (unsigned char)m->length;
	for (unsigned i = 0; i < m->length; i++)
		bytes[8 + i] = (unsigned char)(m->payload >> 8 * (m->length - 1 - i));
	return 8 + m->length;
}

static void write_pcap(const struct capture *c, const struct message *m)
{
	unsigned char bytes[16];
	uint32_t length = packet(bytes, m);
	uint32_t head[4] = {(uint32_t)(c->time / 1000000), (uint32_t)(c->time % 1000000), length,
			    length};

	put(head, sizeof(head));
	put(bytes, length);
}

/* An enhanced packet block; times are microseconds, the format's default. */
static void write_pcapng(const struct capture *c, const struct message *m)
{
	unsigned char bytes[16];
	uint32_t length = packet(bytes, m), padded = (length + 3) / 4 * 4, size = 32 + padded;
	uint32_t head[7] = {6,      size,  m->network, (uint32_t)(c->time >> 32), (uint32_t)c->time,
			    length, length};

	put(head, sizeof(head));
	put(bytes, padded);
	put(&size, sizeof(size));
}

static void begin_pcap(void)
{
	uint32_t head[6] = {0xA1B2C3D4, 4 << 16 | 2, 0, 0, 262144, LINK_SOCKETCAN};

	put(head, sizeof(head));
}

static void begin_pcapng(void)
{
	uint32_t section[7] = {0x0A0D0D0A, 28, 0x1A2B3C4D, 1, UINT32_MAX, UINT32_MAX, 28};

	put(section, sizeof(section));
	for (uint32_t i = 0; i < 2; i++) {
		uint32_t interface[8] = {1, 32, LINK_SOCKETCAN, 262144, 4 << 16 | 2, 0, 0, 32};
		memcpy(&interface[5], i ? "can1" : "can0", 4);
		put(interface, sizeof(interface));
	}
}

static bool set_form(struct capture *c, const char *form)
{
	if (!strcmp(form, "log")) {
		c->write = write_line;
	} else if (!strcmp(form, "pcap")) {
		c->write = write_pcap;
		begin_pcap();
	} else if (!strcmp(form, "pcapng")) {
		c->write = write_pcapng;
		begin_pcapng();
	} else {
		return false;
	}
	return true;
}

static int usage(void)
{
	fprintf(stderr, "usage: make-capture [--ids N] [--still] [--form log|pcap|pcapng] LINES\n");
	return 2;
}

static void make(struct capture *c, long lines)
{
	for (long i = 0; i < lines; i++) {
		uint64_t any = next_random(&c->random);
		struct message *m = &c->messages[(c->still ? (uint64_t)i : any) % c->ids];
		c->time += next_random(&c->random) % 800;
		m->payload += c->still ? 0 : UINT64_C(0x0100000000000001);
		c->write(c, m);
	}
}

int main(int argc, char **argv)
{
	static const struct option options[] = {{"ids", required_argument, NULL, 'i'},
						{"still", no_argument, NULL, 's'},
						{"form", required_argument, NULL, 'f'},
						{NULL, 0, NULL, 0}};
	struct capture c = {.random = 1, .time = UINT64_C(1700000000000000)};
	const char *form = "log";
	long ids = 0, lines = 0;
	int option;

	while ((option = getopt_long(argc, argv, "", options, NULL)) != -1) {
		if (option == 'i')
			ids = strtol(optarg, NULL, 10);
		else if (option == 's')
			c.still = true;
		else if (option == 'f')
			form = optarg;
		else
			return usage();
	}
	if (optind + 1 == argc)
		lines = strtol(argv[optind], NULL, 10);
	if (lines <= 0 || ids < 0 || ids > IDS_MAX || !set_form(&c, form))
		return usage();
	c.ids = ids ? (unsigned)ids : IDS_DEFAULT;
	c.messages = calloc(c.ids, sizeof(*c.messages));
	if (!c.messages)
		return 1;
	invent(&c, ids != 0);
	make(&c, lines);
	free(c.messages);
	return fflush(stdout) || ferror(stdout);
}
