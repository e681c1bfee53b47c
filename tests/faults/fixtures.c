/* SPDX-License-Identifier: MIT */
/* Captures in every form that is read, made once of a shipped one. */
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "source.h"
#include "stage.h"

/* LINKTYPE_CAN_SOCKETCAN, www.tcpdump.org/linktypes.html */
#define LINK_TYPE_CAN 227

/* A file from this size on is read by a thread; see read-ahead.c. */
#define LARGE (1024 * 1024 + 1024 * 256)

__attribute__((format(printf, 1, 2))) static void shell(const char *format, ...)
{
	char command[2048];
	va_list args;

	va_start(args, format);
	vsnprintf(command, sizeof(command), format, args);
	va_end(args);
	if (system(command))
		abort();
}

static FILE *create(const struct stage *stage, const char *name)
{
	char path[128];

	snprintf(path, sizeof(path), "%s%s", stage->fixtures, name);
	FILE *file = fopen(path, "w");
	if (!file)
		abort();
	return file;
}

static void put(FILE *file, uint32_t number, int bytes)
{
	fwrite(&number, (size_t)bytes, 1, file); /* in the order of this machine */
}

/* As pcap has it: identifier in network order, length, payload. */
static void put_frame(FILE *file, const struct nod_frame *frame)
{
	put(file, __builtin_bswap32(frame->id), 4);
	put(file, frame->length, 4);
	fwrite(frame->data, 1, frame->length, file);
}

static void put_pcap(FILE *file, const struct nod_frame *frame)
{
	put(file, (uint32_t)(frame->time.ns / NOD_NS_PER_S), 4);
	put(file, (uint32_t)(frame->time.ns % NOD_NS_PER_S / NOD_NS_PER_US), 4);
	put(file, 8U + frame->length, 4);
	put(file, 8U + frame->length, 4);
	put_frame(file, frame);
}

/* An Enhanced Packet Block. */
static void put_pcapng(FILE *file, const struct nod_frame *frame)
{
	uint32_t padding = -(uint32_t)frame->length & 3U, length = 8U + frame->length;
	uint64_t time = (uint64_t)frame->time.ns / NOD_NS_PER_US;

	put(file, 6, 4);
	put(file, 32 + length + padding, 4);
	put(file, 0, 4); /* the interface */
	put(file, (uint32_t)(time >> 32), 4);
	put(file, (uint32_t)time, 4);
	put(file, length, 4);
	put(file, length, 4);
	put_frame(file, frame);
	put(file, 0, (int)padding);
	put(file, 32 + length + padding, 4);
}

static void begin_pcap(FILE *file)
{
	put(file, 0xA1B2C3D4, 4);
	put(file, 2, 2);
	put(file, 4, 2);
	put(file, 0, 4);
	put(file, 0, 4);
	put(file, 65535, 4);
	put(file, LINK_TYPE_CAN, 4);
}

/* A Section Header Block and an Interface Description Block with a name. */
static void begin_pcapng(FILE *file)
{
	put(file, 0x0A0D0D0A, 4);
	put(file, 28, 4);
	put(file, 0x1A2B3C4D, 4);
	put(file, 1, 4);
	put(file, 0xFFFFFFFF, 4);
	put(file, 0xFFFFFFFF, 4);
	put(file, 28, 4);
	put(file, 1, 4);
	put(file, 32, 4);
	put(file, LINK_TYPE_CAN, 4);
	put(file, 65535, 4);
	put(file, 2 | 4U << 16, 4); /* if_name */
	fputs("can0", file);
	put(file, 0, 4); /* opt_endofopt */
	put(file, 32, 4);
}

static void make_binary_forms(const struct stage *stage)
{
	FILE *pcap = create(stage, "frames.pcap"), *pcapng = create(stage, "frames.pcapng");
	struct nod_interfaces table = {0};
	struct nod_error err = {""};
	const struct nod_event *event;
	struct nod_source *source = nod_source_open(NOD_CAPTURES "/truck/frames.log", &table, &err);

	if (!source)
		abort();
	begin_pcap(pcap);
	begin_pcapng(pcapng);
	while (nod_source_next(source, &event, &err) > 0)
		if (event->kind == NOD_EVENT_FRAME) {
			put_pcap(pcap, &event->frame);
			put_pcapng(pcapng, &event->frame);
		}
	nod_source_close(source);
	fclose(pcap);
	fclose(pcapng);
}

/* Two networks; the second is met late, when the reading is well under way. */
static void make_large(const struct stage *stage)
{
	FILE *log = create(stage, "large.log");

	for (unsigned i = 0; ftell(log) < LARGE; i++)
		fprintf(log, "(%u.%06u) can%d %03X#%04X0000%04X%04X\n", 1700000000 + i / 100,
			i % 100 * 10000, i > 20000, 0x100 + i % 50, i & 0xFFFF, i % 7,
			i * 7919 & 0xFFFF);
	fclose(log);
}

/* A recording whose machine lost its power: a torn packed piece, a torn mark. */
static void make_torn(const struct stage *stage)
{
	const char *to = stage->fixtures;

	shell("cp -r " NOD_CAPTURES "/truck %storn && cd %storn && rm expect.txt truth.txt && "
	      "zstd -q --rm frames.log -o frames-000001.log.zst && "
	      "truncate -s -100 frames-000001.log.zst && "
	      "printf '(1700000600.5) isol' >> journal.log",
	      to, to);
}

static void make_electrical(const struct stage *stage)
{
	FILE *car = create(stage, "car.yaml"), *readings = create(stage, "readings.txt"),
	     *dbc = create(stage, "car.dbc"), *asc = create(stage, "frames.asc");

	fputs("vehicle: Hatchback, invented\n"
	      "battery: { type: agm, capacity: 70 Ah, reserve: 120 min }\n"
	      "networks:\n"
	      "  body: { interfaces: [can0], physical layer: fault-tolerant }\n"
	      "  drive: { interfaces: [can1], physical layer: high-speed }\n"
	      "fuses:\n"
	      "  F1: { family: mini, rating: 10 A, box: cabin, feeds: [interior lamps] }\n"
	      "  F2: { family: mini, rating: 15 A, box: cabin }\n"
	      "  F3: { family: ato, rating: 30 A, box: engine }\n"
	      "modules:\n"
	      "  door module left: { networks: [body], ids: [2A0], fuses: [F1, F2] }\n"
	      "  engine control: { networks: [drive], ids: [100], fuses: [F3] }\n",
	      car);
	fputs("# of an invented car\nF1 2.3 mV\nF2 0.4 mV\n(1700000000) reading F3 0.0mV\n",
	      readings);
	fputs("BU_: Door Roof\nBO_ 672 Doors: 8 Door\n"
	      " SG_ Switch : 37|1@1+ (1,0) [0|1] \"\" Roof\n SG_ Page M : 48|4@1+ (1,0) [0|0] \"\" Roof\n"
	      " SG_ Inside m1 : 56|8@1- (0.5,-40) [0|0] \"degC\" Roof\nBO_TX_BU_ 672 : Door,Roof;\n"
	      "CM_ BO_ 672 \"of the doors\";\nBA_DEF_ BO_ \"GenMsgSendType\" ENUM \"cyclic\";\n"
	      "BA_ \"GenMsgSendType\" BO_ 672 0;\nVAL_ 672 Switch 0 \"closed\" 1 \"open\" ;\n"
	      "SG_MUL_VAL_ 672 Inside Page 1-2;\n",
	      dbc);
	fclose(car);
	fclose(readings);
	fputs("base hex  timestamps absolute\n   1.500000 2  1A5  Rx  d 2 11 FF\n", asc);
	fclose(asc);
	fclose(dbc);
}

void fixtures_make(const struct stage *stage)
{
	const char *to = stage->fixtures, *truck = NOD_CAPTURES "/truck";

	shell("gzip -c %s/frames.log > %sframes.log.gz", truck, to);
	shell("zstd -q -c %s/frames.log > %sframes.log.zst", truck, to);
	shell("mkdir -p %sfolder/deeper && cp -r %s " NOD_CAPTURES
	      "/lost-adapter %sfolder/deeper && "
	      "cp %s/frames.log %sfolder/bare.log && cp %s/expect.txt %sfolder/bare.log.expect.txt && "
	      "echo 'verdict: cannot tell' > %sfolder/deeper/lost-adapter/expect.txt",
	      to, truck, to, truck, to, truck, to, to);
	make_binary_forms(stage);
	make_large(stage);
	make_torn(stage);
	make_electrical(stage);
}
