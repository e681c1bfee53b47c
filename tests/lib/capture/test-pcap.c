/* SPDX-License-Identifier: MIT */
/* pcap and pcapng captures through the source interface. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "event-text.h"

/* A capture being built, in either byte order. */
struct build {
	uint8_t bytes[300000];
	size_t length;
	bool big_endian;
};

static void put(struct build *b, const void *bytes, size_t length)
{
	memcpy(b->bytes + b->length, bytes, length);
	b->length += length;
}

static void put_number(struct build *b, uint64_t value, unsigned size)
{
	for (unsigned i = 0; i < size; i++)
		b->bytes[b->length++] = (uint8_t)(value >> 8 * (b->big_endian ? size - 1 - i : i));
}

/* draft-ietf-opsawg-pcap: header and packet records. */
static void put_pcap_header(struct build *b, uint32_t magic, uint32_t link_type)
{
	put_number(b, magic, 4);
	put_number(b, 2, 2);
	put_number(b, 4, 2);
	put_number(b, 0, 8);
	put_number(b, 262144, 4);
	put_number(b, link_type, 4);
}

static void put_record(struct build *b, uint32_t seconds, uint32_t fraction, const void *packet,
		       uint32_t length)
{
	put_number(b, seconds, 4);
	put_number(b, fraction, 4);
	put_number(b, length, 4);
	put_number(b, length, 4);
	put(b, packet, length);
}

static const char frame_1[] = "\x00\x00\x01\x23\x03\x00\x00\x00\x11\x22\x33";
static const char frame_2[] = "\x98\xDB\x33\xF1\x03\x00\x00\x00\x02\x3E\x80";

static void expect(const struct build *b, const char *events)
{
	char *text = events_in(b->bytes, b->length, 0, 0);
	assert_string_equal(text, events);
	for (uint64_t seed = 1; seed < 5; seed++) {
		char *again = events_in(b->bytes, b->length, 9, seed);
		assert_string_equal(again, text);
		free(again);
	}
	free(text);
}

static void test_the_published_header(void **state)
{
	(void)state;
	static const uint8_t header[] = {0xD4, 0xC3, 0xB2, 0xA1, 0x02, 0x00, 0x04, 0x00,
					 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00,
					 0x00, 0x00, 0x04, 0x00, 0xE3, 0x00, 0x00, 0x00};
	struct build b = {0};
	put_pcap_header(&b, 0xA1B2C3D4, 227);
	assert_int_equal(b.length, sizeof(header));
	assert_memory_equal(b.bytes, header, sizeof(header));
}

static void test_pcap_in_both_orders_and_resolutions(void **state)
{
	(void)state;
	for (int i = 0; i < 4; i++) {
		struct build b = {.big_endian = i & 1};
		put_pcap_header(&b, i & 2 ? 0xA1B23C4D : 0xA1B2C3D4, 227);
		put_record(&b, 1700000000, 123456, frame_1, 11);
		put_record(&b, 1700000000, 123455, frame_2, 11);
		expect(&b,
		       i & 2 ? "1700000000000123456 x 00000123 [3] flags 00 dlc 0 11 22 33\n"
			       "1700000000000123455 x 98DB33F1 [3] flags 00 dlc 0 02 3E 80\n"
			       "pcap: 0 ; 2 lines, 2 frames, 0 errors, 0 defects, 0 lost, 1 back, "
			       "1 ns\n"
			     : "1700000000123456000 x 00000123 [3] flags 00 dlc 0 11 22 33\n"
			       "1700000000123455000 x 98DB33F1 [3] flags 00 dlc 0 02 3E 80\n"
			       "pcap: 0 ; 2 lines, 2 frames, 0 errors, 0 defects, 0 lost, 1 back, "
			       "1000 ns\n");
	}
}

/* Seconds beyond 2038 are later, not before 1970. */
static void test_pcap_seconds_are_unsigned(void **state)
{
	(void)state;
	struct build b = {0};
	put_pcap_header(&b, 0xA1B2C3D4, 227);
	put_record(&b, 4000000000, 999999, frame_1, 11);
	put_record(&b, 4000000000, 1000000, frame_1, 11);
	put_record(&b, 4000000000, UINT32_MAX, frame_1, 11);
	expect(&b, "4000000000999999000 x 00000123 [3] flags 00 dlc 0 11 22 33\n"
		   "4000000000999999000 x.log:2:0 a time that is out of range\n"
		   "4000000000999999000 x.log:3:0 a time that is out of range\n"
		   "pcap: 0 ; 3 lines, 1 frames, 0 errors, 2 defects, 0 lost, 0 back, 0 ns\n");
}

static void test_pcap_defects(void **state)
{
	(void)state;
	struct build b = {0};
	put_pcap_header(&b, 0xA1B2C3D4, 227);
	put_record(&b, 1, 0, frame_1, 5);
	put_record(&b, 2, 0, frame_1, 11);
	put(&b, frame_1, 10); /* of the next record's header */
	expect(&b,
	       "x.log:1:0 a packet too short for a CAN frame\n"
	       "2000000000 x 00000123 [3] flags 00 dlc 0 11 22 33\n"
	       "pcap: 0 ; 2 lines, 1 frames, 0 errors, 1 defects, 0 lost, 0 back, 0 ns, torn\n");
	/* an impossible length: nothing behind it can be trusted */
	b.length -= 10;
	put_number(&b, 3, 8);
	put_number(&b, UINT32_MAX, 4);
	put_number(&b, UINT32_MAX, 4);
	b.length += 1000;
	char *text = events_in(b.bytes, b.length, 0, 0);
	assert_non_null(strstr(text, "\n2000000000 x.log:3:0 "));
	assert_non_null(strstr(text, "2 lines, 1 frames, 0 errors, 2 defects, 0 lost, 0 back, 0 "
				     "ns, torn\n"));
	free(text);
}

static void test_other_link_types_are_refused(void **state)
{
	(void)state;
	struct build b = {0};
	put_pcap_header(&b, 0xA1B2C3D4, 1);
	expect(&b, "x.log: a pcap file of link type 1; only 227 (SocketCAN) holds CAN frames");
}

/* draft-ietf-opsawg-pcapng: blocks. */
static size_t begin_block(struct build *b, uint32_t type)
{
	size_t start = b->length;
	put_number(b, type, 4);
	put_number(b, 0, 4);
	return start;
}

static void end_block(struct build *b, size_t start)
{
	while ((b->length - start) % 4)
		b->bytes[b->length++] = 0;
	size_t end = b->length, total = end + 4 - start;
	put_number(b, total, 4);
	b->length = start + 4;
	put_number(b, total, 4);
	b->length = end + 4;
}

static void put_option(struct build *b, unsigned code, const void *value, unsigned length)
{
	put_number(b, code, 2);
	put_number(b, length, 2);
	put(b, value, length);
	put(b, "\0\0\0", (4 - length % 4) % 4);
}

static void put_number_option(struct build *b, unsigned code, uint64_t value, unsigned length)
{
	put_number(b, code, 2);
	put_number(b, length, 2);
	put_number(b, value, length);
	put(b, "\0\0\0", (4 - length % 4) % 4);
}

static void put_section(struct build *b)
{
	size_t start = begin_block(b, 0x0A0D0D0A);
	put_number(b, 0x1A2B3C4D, 4);
	put_number(b, 1, 2);
	put_number(b, 0, 2);
	put_number(b, UINT64_MAX, 8);
	end_block(b, start);
}

/* resolution 0: none stated */
static void put_interface(struct build *b, unsigned link_type, const char *name, uint8_t resolution,
			  int64_t offset)
{
	size_t start = begin_block(b, 1);
	put_number(b, link_type, 2);
	put_number(b, 0, 2);
	put_number(b, 262144, 4);
	if (name)
		put_option(b, 2, name, (unsigned)strlen(name));
	if (resolution)
		put_option(b, 9, &resolution, 1);
	if (offset)
		put_number_option(b, 14, (uint64_t)offset, 8);
	put_number(b, 0, 4);
	end_block(b, start);
}

static size_t begin_packet(struct build *b, uint32_t interface, uint64_t ticks, const void *packet,
			   uint32_t length)
{
	size_t start = begin_block(b, 6);
	put_number(b, interface, 4);
	put_number(b, ticks >> 32, 4);
	put_number(b, ticks & UINT32_MAX, 4);
	put_number(b, length, 4);
	put_number(b, length, 4);
	put(b, packet, length);
	put(b, "\0\0\0", (4 - length % 4) % 4);
	return start;
}

static void put_packet(struct build *b, uint32_t interface, uint64_t ticks, const void *packet,
		       uint32_t length)
{
	end_block(b, begin_packet(b, interface, ticks, packet, length));
}

static void test_pcapng_tells_the_interfaces_apart(void **state)
{
	(void)state;
	for (int i = 0; i < 2; i++) {
		struct build b = {.big_endian = i};
		put_section(&b);
		put_interface(&b, 227, "can0", 0, 0);
		put_interface(&b, 227, "can1", 9, 0);
		put_interface(&b, 227, NULL, 0x80 | 10, 1700000000);
		put_interface(&b, 227, "a name, much too long", 0, 0);
		put_packet(&b, 0, 1700000000123456, frame_1, 11);
		put_packet(&b, 1, 1700000000123456789, frame_2, 11);
		put_packet(&b, 2, 1024 + 512, frame_1, 11);
		put_packet(&b, 3, 1700000002000000, frame_1, 11);
		put_section(&b);
		put_interface(&b, 227, "can1", 0, 0);
		put_packet(&b, 0, 1700000003000000, frame_1, 11);
		expect(&b,
		       "1700000000123456000 can0 00000123 [3] flags 00 dlc 0 11 22 33\n"
		       "1700000000123456789 can1 98DB33F1 [3] flags 00 dlc 0 02 3E 80\n"
		       "1700000001500000000 x.2 00000123 [3] flags 00 dlc 0 11 22 33\n"
		       "1700000002000000000 a_name,_much_to 00000123 [3] flags 00 dlc 0 11 22 33\n"
		       "1700000003000000000 can1 00000123 [3] flags 00 dlc 0 11 22 33\n"
		       "pcapng: 0 ; 5 lines, 5 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 "
		       "ns\n");
	}
}

static void test_pcapng_losses_and_directions(void **state)
{
	(void)state;
	struct build b = {0};
	put_section(&b);
	put_interface(&b, 227, "can0", 0, 0);
	size_t start = begin_packet(&b, 0, 1000000, frame_1, 11);
	put_number_option(&b, 2, 1, 4);
	put_number_option(&b, 4, 7, 8);
	end_block(&b, start);
	start = begin_packet(&b, 0, 2000000, frame_1, 11);
	put_number_option(&b, 2, 2, 4);
	end_block(&b, start);
	start = begin_block(&b, 5);
	put(&b, "\0\0\0\0\0\0\0\0\0\0\0", 12);
	put_number_option(&b, 5, 3, 8);
	end_block(&b, start);
	expect(&b, "lost 7 on can0\n"
		   "1000000000 can0 00000123 [3] flags 20 dlc 0 11 22 33\n"
		   "2000000000 can0 00000123 [3] flags 10 dlc 0 11 22 33\n"
		   "2000000000 lost 3 on can0\n"
		   "pcapng: 0 ; 2 lines, 2 frames, 0 errors, 0 defects, 10 lost, 0 back, 0 ns\n");
}

static void test_pcapng_defects(void **state)
{
	(void)state;
	struct build b = {0};
	put_section(&b);
	put_interface(&b, 1, "eth0", 0, 0);
	put_interface(&b, 227, "can0", 0, 0);
	put_packet(&b, 0, 1, "not a CAN frame", 15);
	put_packet(&b, 1, 1000000, frame_1, 11);
	put_packet(&b, 2, 1000000, frame_1, 11);
	size_t start = begin_block(&b, 3);
	put_number(&b, 11, 4);
	put(&b, frame_1, 11);
	end_block(&b, start);
	start = begin_block(&b, 0x0BAD);
	b.length += 200000; /* larger than what is held at once: skipped */
	end_block(&b, start);
	put_packet(&b, 1, 2000000, frame_1, 11);
	put_number(&b, 6, 4);
	put_number(&b, 33, 4);
	put(&b, frame_1, 11);
	expect(&b,
	       "x.log:1:0 interface 0 has link type 1, not 227 (SocketCAN): its packets are left "
	       "out\n"
	       "1000000000 can0 00000123 [3] flags 00 dlc 0 11 22 33\n"
	       "1000000000 x.log:3:0 a packet of an interface that was not described\n"
	       "1000000000 x.log:4:0 a packet without a time\n"
	       "2000000000 can0 00000123 [3] flags 00 dlc 0 11 22 33\n"
	       "2000000000 x.log:6:0 a block of an impossible length\n"
	       "pcapng: 0 ; 5 lines, 2 frames, 0 errors, 4 defects, 0 lost, 0 back, 0 ns, "
	       "torn\n");
}

/* By an offset to before 1970, and by ticks to what no log can hold. */
static void test_pcapng_times_of_no_log(void **state)
{
	(void)state;
	struct build b = {0};
	put_section(&b);
	put_interface(&b, 227, "can0", 9, -2);
	put_packet(&b, 0, 1999999999, frame_1, 11);
	put_packet(&b, 0, 2000000000, frame_1, 11);
	put_packet(&b, 0, UINT64_C(9223372038000000000), frame_1, 11);
	put_packet(&b, 0, UINT64_C(9223372037999999999), frame_1, 11);
	expect(&b, "x.log:1:0 a time that is out of range\n"
		   "0 can0 00000123 [3] flags 00 dlc 0 11 22 33\n"
		   "0 x.log:3:0 a time that is out of range\n"
		   "9223372035999999999 can0 00000123 [3] flags 00 dlc 0 11 22 33\n"
		   "pcapng: 0 ; 4 lines, 2 frames, 0 errors, 2 defects, 0 lost, 0 back, 0 ns\n");
}

static void test_pcapng_cut_anywhere(void **state)
{
	(void)state;
	struct build b = {0};
	put_section(&b);
	put_interface(&b, 227, "can0", 0, 0);
	for (unsigned i = 0; i < 3; i++)
		put_packet(&b, 0, i, frame_1, 11);
	size_t whole = b.length, packet = 44;
	for (size_t cut = 12; cut < whole; cut++) {
		char frames[40];
		char *text = events_in(b.bytes, cut, 0, 0);
		size_t header = whole - 3 * packet, n = cut < header ? 0 : (cut - header) / packet;
		bool between = cut == 28 || (cut >= header && (cut - header) % packet == 0);
		snprintf(frames, sizeof(frames), " %zu frames, ", n);
		assert_non_null(strstr(text, frames));
		assert_int_equal(!strstr(text, "torn"), between);
		free(text);
	}
	b.length = 11;
	expect(&b, "x.log: a pcapng file cut off in its first block");
}

static void test_pcapng_without_can_is_refused(void **state)
{
	(void)state;
	struct build b = {0};
	put_section(&b);
	put_interface(&b, 113, "any", 0, 0);
	put_packet(&b, 0, 1, frame_1, 11);
	expect(&b, "x.log: a pcapng file of link type 113; only 227 (SocketCAN) holds CAN frames");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_published_header),
		cmocka_unit_test(test_pcap_in_both_orders_and_resolutions),
		cmocka_unit_test(test_pcap_seconds_are_unsigned),
		cmocka_unit_test(test_pcap_defects),
		cmocka_unit_test(test_other_link_types_are_refused),
		cmocka_unit_test(test_pcapng_tells_the_interfaces_apart),
		cmocka_unit_test(test_pcapng_losses_and_directions),
		cmocka_unit_test(test_pcapng_defects),
		cmocka_unit_test(test_pcapng_times_of_no_log),
		cmocka_unit_test(test_pcapng_cut_anywhere),
		cmocka_unit_test(test_pcapng_without_can_is_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
