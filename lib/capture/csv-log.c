/* SPDX-License-Identifier: MIT */
/* One line of a csv log, by the names of its columns. */
#include <ctype.h>
#include <string.h>
#include <strings.h>

#include "csv.h"
#include "lines.h"
#include "other-log.h"

/* Names as tools write them, without case, blanks and signs. */
/* clang-format off */
static const struct {
	const char *name;
	enum nod_csv_column column;
	int64_t unit_ns; /* of a time that says it */
} names[] = {
	{"timestamp", NOD_CSV_TIME, 0},	   {"time", NOD_CSV_TIME, 0},
	{"times", NOD_CSV_TIME, NOD_NS_PER_S}, {"timems", NOD_CSV_TIME, NOD_NS_PER_MS},
	{"timeus", NOD_CSV_TIME, NOD_NS_PER_US}, {"timestampus", NOD_CSV_TIME, NOD_NS_PER_US},
	{"timestampms", NOD_CSV_TIME, NOD_NS_PER_MS}, {"timestamps", NOD_CSV_TIME, NOD_NS_PER_S},
	{"arbitrationid", NOD_CSV_ID, 0},  {"id", NOD_CSV_ID, 0},
	{"canid", NOD_CSV_ID, 0},	   {"idhex", NOD_CSV_ID, 0},
	{"identifier", NOD_CSV_ID, 0},	   {"extended", NOD_CSV_EXTENDED, 0},
	{"ext", NOD_CSV_EXTENDED, 0},	   {"ide", NOD_CSV_EXTENDED, 0},
	{"remote", NOD_CSV_REMOTE, 0},	   {"rtr", NOD_CSV_REMOTE, 0},
	{"error", NOD_CSV_ERROR, 0},	   {"dir", NOD_CSV_SENT, 0},
	{"direction", NOD_CSV_SENT, 0},	   {"bus", NOD_CSV_BUS, 0},
	{"channel", NOD_CSV_BUS, 0},	   {"len", NOD_CSV_LENGTH, 0},
	{"length", NOD_CSV_LENGTH, 0},	   {"dlc", NOD_CSV_LENGTH, 0},
	{"data", NOD_CSV_DATA, 0},	   {"databytes", NOD_CSV_DATA, 0},
	{"payload", NOD_CSV_DATA, 0},	   {"d0", NOD_CSV_FIRST_BYTE, 0},
	{"d1", NOD_CSV_FIRST_BYTE, 0},	   {"b0", NOD_CSV_FIRST_BYTE, 0},
	{"b1", NOD_CSV_FIRST_BYTE, 0},	   {"byte0", NOD_CSV_FIRST_BYTE, 0},
	{"byte1", NOD_CSV_FIRST_BYTE, 0},  {"data0", NOD_CSV_FIRST_BYTE, 0},
	{"data1", NOD_CSV_FIRST_BYTE, 0},
};
/* clang-format on */

static void take_name(struct nod_other_log *log, const char *text, unsigned field)
{
	char plain[32];
	size_t used = 0;

	for (; *text && used + 1 < sizeof(plain); text++)
		if (isalnum((unsigned char)*text))
			plain[used++] = (char)tolower((unsigned char)*text);
	plain[used] = 0;
	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++)
		if (!strcmp(names[i].name, plain) && !log->column[names[i].column]) {
			log->column[names[i].column] = (uint8_t)(field + 1);
			log->unit_ns = names[i].unit_ns ? names[i].unit_ns : log->unit_ns;
		}
}

/* Fields of a line that is copied into `line`; false: too long or too many. */
static bool split(struct nod_csv_row *row, char line[NOD_LINE_MAX + 1], const struct nod_scan *scan,
		  char separator)
{
	size_t length = (size_t)(scan->end - scan->begin);

	if (length > NOD_LINE_MAX || memchr(scan->begin, 0, length))
		return false;
	memcpy(line, scan->begin, length);
	line[length] = 0;
	return !nod_csv_split(row, line, separator);
}

bool nod_csv_log_header(struct nod_other_log *log, struct nod_scan scan)
{
	static const char separators[] = ",;\t";
	static const char python_can[] = "timestamp,arbitration_id,extended,remote,error,dlc,data";
	char line[NOD_LINE_MAX + 1];
	struct nod_csv_row row;

	for (const char *s = separators; *s; s++) {
		if (!split(&row, line, &scan, *s) || row.count < 3)
			continue;
		memset(log->column, 0, sizeof(log->column));
		for (unsigned i = 0; i < row.count; i++)
			take_name(log, row.field[i].text, i);
		log->separator = *s;
		log->base64 = (size_t)(scan.end - scan.begin) == sizeof(python_can) - 1 &&
			      !memcmp(scan.begin, python_can, sizeof(python_can) - 1);
		if (log->column[NOD_CSV_TIME] && log->column[NOD_CSV_ID] &&
		    (log->column[NOD_CSV_DATA] || log->column[NOD_CSV_FIRST_BYTE]))
			return true;
	}
	return false;
}

/* The field of a column as a word, empty when it is not there. */
static struct nod_word field(const struct nod_other_log *log, const struct nod_csv_row *row,
			     enum nod_csv_column column)
{
	unsigned at = log->column[column];
	const char *text = at && at <= row->count ? row->field[at - 1].text : "";

	return (struct nod_word){text, strlen(text)};
}

static bool is_true(struct nod_word word)
{
	return nod_word_is(&word, "1") || nod_word_is(&word, "true") || nod_word_is(&word, "yes") ||
	       nod_word_is(&word, "tx");
}

/* Without a unit: seconds where there is a point, else microseconds. */
static bool take_time(const struct nod_other_log *log, struct nod_word word, nod_time *time)
{
	bool point = memchr(word.text, '.', word.length);

	return nod_word_time(&word,
			     log->unit_ns ? log->unit_ns
			     : point      ? NOD_NS_PER_S
					  : NOD_NS_PER_US,
			     time);
}

static bool take_id(const struct nod_other_log *log, const struct nod_csv_row *row, uint32_t *id)
{
	struct nod_word word = field(log, row, NOD_CSV_ID);
	bool said = log->column[NOD_CSV_EXTENDED];
	bool extended = said ? is_true(field(log, row, NOD_CSV_EXTENDED)) : word.length == 8;
	uint64_t number;

	if (word.length > 2 && !strncasecmp(word.text, "0x", 2))
		word.text += 2, word.length -= 2;
	if (!nod_word_number(&word, 16, NOD_ID_EXTENDED_MASK, &number))
		return false;
	extended |= !said && number > NOD_ID_STANDARD_MASK;
	if (!extended && number > NOD_ID_STANDARD_MASK)
		return false;
	*id = (uint32_t)number | (extended ? NOD_ID_EXTENDED : 0);
	return true;
}

static int base64_value(char c)
{
	static const char digits[] =
		"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
	const char *at = c ? strchr(digits, c) : NULL;

	return at ? (int)(at - digits) : -1;
}

/* RFC 4648. Returns the number of bytes, or -1. */
static int take_base64(struct nod_word word, uint8_t data[64])
{
	unsigned bits = 0, held = 0;
	int count = 0;

	while (word.length && word.text[word.length - 1] == '=')
		word.length--;
	for (size_t i = 0; i < word.length; i++) {
		int value = base64_value(word.text[i]);
		if (value < 0)
			return -1;
		bits = bits << 6 | (unsigned)value;
		held += 6;
		if (held < 8)
			continue;
		held -= 8;
		if (count == 64)
			return -1;
		data[count++] = (uint8_t)(bits >> held);
	}
	return count;
}

/* "11 22", "1122", "0x11 0x22". */
static int take_hex(struct nod_word word, uint8_t data[64])
{
	struct nod_scan scan = nod_scan_line(word.text, word.length);
	int count = 0;

	for (;;) {
		nod_scan_blanks(&scan);
		if (scan.p == scan.end)
			return count;
		nod_scan_text(&scan, "0x");
		if (count == 64 || !nod_scan_byte(&scan, &data[count++]))
			return -1;
	}
}

/* A column a byte, until one is empty. */
static int take_columns(const struct nod_other_log *log, const struct nod_csv_row *row,
			uint8_t data[64])
{
	int count = 0;

	for (unsigned i = log->column[NOD_CSV_FIRST_BYTE] - 1u; i < row->count && count < 64; i++) {
		struct nod_word word = {row->field[i].text, strlen(row->field[i].text)};
		uint64_t byte;
		if (!word.length)
			break;
		if (!nod_word_number(&word, 16, 0xFF, &byte))
			return -1;
		data[count++] = (uint8_t)byte;
	}
	return count;
}

/* More than eight bytes are CAN FD; the form does not say. */
static const char *take_data(const struct nod_other_log *log, const struct nod_csv_row *row,
			     struct nod_frame *frame)
{
	struct nod_word word = field(log, row, NOD_CSV_DATA),
			said = field(log, row, NOD_CSV_LENGTH);
	int count = log->column[NOD_CSV_FIRST_BYTE] ? take_columns(log, row, frame->data)
		    : log->base64                   ? take_base64(word, frame->data)
						    : take_hex(word, frame->data);
	uint64_t length = (uint64_t)count;

	if (count < 0)
		return "expected data bytes";
	if (said.length && !nod_word_number(&said, 10, 64, &length))
		return "expected a data length";
	if (frame->id & NOD_ID_REMOTE)
		count = length > 8 ? 8 : (int)length;
	if (length < (uint64_t)count)
		count = (int)length;
	else if (length > (uint64_t)count && !(length <= 15 && count == 8))
		return "expected as many data bytes as the length says";
	if (count > 8 && !nod_scan_fd_length((unsigned)count))
		return "expected a length that CAN FD has";
	frame->length = (uint8_t)count;
	frame->flags |= count > 8 ? NOD_FRAME_FD : 0;
	memset(frame->data + count, 0, sizeof(frame->data) - (size_t)count);
	return NULL;
}

static int fault(struct nod_scan *scan, const struct nod_csv_row *row, unsigned field_number,
		 const char *reason)
{
	scan->p = field_number && field_number <= row->count
			  ? scan->begin + row->field[field_number - 1].column - 1
			  : scan->end;
	nod_scan_fail(scan, reason);
	return -1;
}

int nod_csv_log_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame)
{
	char line[NOD_LINE_MAX + 1];
	struct nod_csv_row row;
	uint64_t bus = 0;

	if (!split(&row, line, scan, log->separator))
		return fault(scan, &row, 0, "expected a line of at most 64 columns");
	struct nod_word time = field(log, &row, NOD_CSV_TIME),
			number = field(log, &row, NOD_CSV_BUS);
	if (!log->named) {
		log->named = true;
		return 0; /* the line of the names */
	}
	if (!take_time(log, time, &frame->time))
		return fault(scan, &row, log->column[NOD_CSV_TIME], "expected a time");
	if (is_true(field(log, &row, NOD_CSV_ERROR))) {
		frame->id = NOD_ID_ERROR;
		frame->length = 8;
	} else if (!take_id(log, &row, &frame->id)) {
		return fault(scan, &row, log->column[NOD_CSV_ID], "expected a hexadecimal ID");
	}
	if (is_true(field(log, &row, NOD_CSV_REMOTE)))
		frame->id |= NOD_ID_REMOTE;
	const char *reason = frame->id & NOD_ID_ERROR ? NULL : take_data(log, &row, frame);
	if (reason)
		return fault(
			scan, &row,
			log->column[log->column[NOD_CSV_DATA] ? NOD_CSV_DATA : NOD_CSV_FIRST_BYTE],
			reason);
	if (is_true(field(log, &row, NOD_CSV_SENT)))
		frame->flags |= NOD_FRAME_SENT;
	if (number.length && !nod_word_number(&number, 10, 255, &bus))
		return fault(scan, &row, log->column[NOD_CSV_BUS], "expected the number of a bus");
	if (!nod_channel_name(log, frame, bus + 1))
		return fault(scan, &row, 0, "more than 255 different interface names");
	return 1;
}
