/* SPDX-License-Identifier: MIT */
/* Lines of logs that other tools write, in forms that python3-can and common CAN hobby tools
 * read and write:
 *
 *     asc     "0.015991 1  1A5  Rx  d 8 11 22 ..", CAN FD, remote frames, error frames; numbers
 *             hexadecimal or decimal as its header says
 *     trc     of version 1.0 to 1.3 and 2.0, 2.1, by the columns that the version has or names
 *     csv     by the names of its columns: a time, an ID, data in one column (base64 in
 *             python3-can's form, else hexadecimal) or a column a byte
 *     serial  the lines of a serial CAN adapter, "t1A521122" and their like, with the
 *             adapter's millisecond stamps or behind the time of a serial monitor
 *             ("13:02:10.250 -> t1A521122")
 *
 * Sources: can/io/asc.py, trc.py, csv.py of python3-can 4.1 (what it reads and writes is
 * compared frame by frame in tests/oracle); serial lines: Linux' drivers/net/can/slcan. The
 * columns of trc 1.2, 1.3 and 2.0 and the types beside DT are from memory. Times of asc and trc
 * count from the start of the file, whatever date its header has: that date names no time zone.
 * Channel 1 is can0. */
#ifndef NOD_OTHER_LOG_H
#define NOD_OTHER_LOG_H

#include "line-scan.h"

enum nod_other_form {
	NOD_OTHER_NONE,
	NOD_OTHER_ASC,
	NOD_OTHER_TRC,
	NOD_OTHER_CSV,
	NOD_OTHER_SERIAL,
	NOD_OTHER_TIMELESS /* serial lines without any time */
};

/* Columns of a table; data columns follow one another. */
enum nod_csv_column {
	NOD_CSV_TIME,
	NOD_CSV_ID,
	NOD_CSV_EXTENDED,
	NOD_CSV_REMOTE,
	NOD_CSV_ERROR,
	NOD_CSV_SENT,
	NOD_CSV_BUS,
	NOD_CSV_LENGTH,
	NOD_CSV_DATA,
	NOD_CSV_FIRST_BYTE,
	NOD_CSV_COLUMNS
};

/* What is known of the log. Starts as all zero. */
struct nod_other_log {
	enum nod_other_form form;
	struct nod_interfaces *table;
	uint64_t lines;   /* looked at to tell the form */
	bool decimal;     /* asc: IDs and data */
	bool relative;    /* asc: times since the line before */
	bool base64;      /* csv */
	bool named;       /* csv: the line of the names is passed */
	bool monitor;     /* serial: the time is the serial monitor's */
	char separator;   /* csv */
	int64_t unit_ns;  /* csv: what 1 of a time without a point is; 0: not told yet */
	char columns[16]; /* trc: letters as in $COLUMNS */
	uint8_t column[NOD_CSV_COLUMNS]; /* csv: field + 1, 0: not there */
	nod_time last;
	int64_t wrapped; /* serial: nanoseconds that a clock that began anew lacks */
};

/* Takes a line of the head into account. True when the form is decided. */
bool nod_other_log_guess(struct nod_other_log *log, const char *line, size_t length);

/* Takes a line. 1: a frame; 0: none, but nothing is wrong; -1: scan->fault and reason say what
 * was expected. */
int nod_other_log_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame);

/* "asc log", ... */
const char *nod_other_log_name(const struct nod_other_log *log);

/* The parts, one file each. */
int nod_asc_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame);
bool nod_trc_header(struct nod_other_log *log, struct nod_scan scan);
int nod_trc_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame);
bool nod_csv_log_header(struct nod_other_log *log, struct nod_scan scan);
int nod_csv_log_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame);
enum nod_other_form nod_serial_recognise(struct nod_scan scan, bool *monitor);
int nod_serial_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame);

/* ---- what they share ---- */

/* A word up to the next blank, without noting a fault. False at the end of the line. */
struct nod_word {
	const char *text;
	size_t length;
};
bool nod_scan_word(struct nod_scan *scan, struct nod_word *word);
bool nod_word_is(const struct nod_word *word, const char *text); /* without case */

/* A number that fills the word, in base 10 or 16. */
bool nod_word_number(const struct nod_word *word, unsigned base, uint64_t limit, uint64_t *number);

/* "12.345678" of `unit_ns` each, rounded down to nanoseconds; an exponent is no number. */
bool nod_word_time(const struct nod_word *word, int64_t unit_ns, nod_time *time);

/* -1 after noting `reason` at the word. */
int nod_word_fault(struct nod_scan *scan, const struct nod_word *word, const char *reason);

/* Names the frame's interface by a channel that counts from 1. False: too many. */
bool nod_channel_name(struct nod_other_log *log, struct nod_frame *frame, uint64_t channel);

/* The payload of a data length code of CAN FD: 0 to 15 (ISO 11898-1:2015). */
uint8_t nod_fd_length(unsigned dlc);

/* Sets length, raw_dlc and flags of a classical frame by its code, 0 to 15. */
void nod_frame_classical(struct nod_frame *frame, unsigned dlc);

#endif
