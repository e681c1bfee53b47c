/* SPDX-License-Identifier: MIT */
#include "csv-table-internal.h"

#include <ctype.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* Lines looked at to find the shape. Chosen: more than any heading is long. */
#define HEAD_LINES 100

/* Share of the lines from the first row of data on that must have its shape:
 * a logger may write a remark in between. Chosen. */
#define SHAPE_SHARE 0.75

static const char separators[] = {';', '\t', ',', '|', ' ', 0};

const char *nod_csv_separator_name(char separator)
{
	switch (separator) {
	case ';':
		return "semicolon";
	case '\t':
		return "tab";
	case ',':
		return "comma";
	case '|':
		return "bar";
	case ' ':
		return "blanks";
	default:
		return "none (one column)";
	}
}

bool nod_csv_is_comment(const char *line)
{
	line += strspn(line, " \t");
	return !*line || *line == '#';
}

/* Latin-1 micro (B5) and degree (B0) before ASCII: no UTF-8 text has them so. */
static void widen_latin1(char line[NOD_CSV_LINE])
{
	size_t length = strlen(line);

	for (size_t i = 0; i < length && length + 2 < NOD_CSV_LINE; i++) {
		unsigned char c = (unsigned char)line[i];
		bool lone = !i || !(line[i - 1] & 0x80);
		if ((c != 0xb5 && c != 0xb0) || !lone)
			continue;
		memmove(line + i + 1, line + i, length - i + 1);
		line[i++] = (char)0xc2;
		length++;
	}
}

int nod_csv_read_line(FILE *in, char line[NOD_CSV_LINE])
{
	if (!fgets(line, NOD_CSV_LINE, in))
		return ferror(in) ? -EIO : 0;
	size_t length = strlen(line);
	bool ended = length && line[length - 1] == '\n';
	while (length && (line[length - 1] == '\n' || line[length - 1] == '\r'))
		line[--length] = '\0';
	if (!ended && !feof(in)) {
		int c;
		while ((c = fgetc(in)) != EOF && c != '\n')
			;
		return -E2BIG;
	}
	if (!strncmp(line, "\xef\xbb\xbf", 3)) /* byte order mark */
		memmove(line, line + 3, length - 2);
	widen_latin1(line);
	return 1;
}

/* -- cells -------------------------------------------------------------- */

/* A number in either notation; *q in the one that fits. */
static bool is_number(const char *text, struct nod_quantity *q)
{
	size_t length = strlen(text);

	return !nod_quantity_parse(q, text, length, NOD_DECIMAL_COMMA, NULL) ||
	       !nod_quantity_parse(q, text, length, NOD_DECIMAL_POINT, NULL);
}

enum nod_cell nod_csv_classify(const char *text, char separator, struct nod_quantity *q,
			       struct nod_wall_time *wall)
{
	bool comma = separator != ',' && separator != ' ';

	if (!*text)
		return NOD_CELL_EMPTY;
	if (!nod_wall_parse(wall, text, comma))
		return NOD_CELL_WALL;
	return is_number(text, q) ? NOD_CELL_NUMBER : NOD_CELL_OTHER;
}

/* A row of data has a number or a time, and nothing that begins like a number
 * and is none. */
static bool is_data(const struct nod_csv_row *row, char separator)
{
	struct nod_quantity q;
	struct nod_wall_time wall;
	bool some = false;

	for (unsigned i = 0; i < row->count; i++) {
		const char *t = row->field[i].text;
		enum nod_cell kind = nod_csv_classify(t, separator, &q, &wall);
		some |= kind == NOD_CELL_NUMBER || kind == NOD_CELL_WALL;
		t += *t == '-' || *t == '+';
		if (kind == NOD_CELL_OTHER && isdigit((unsigned char)*t))
			return false;
	}
	return some;
}

/* -- shape -------------------------------------------------------------- */

struct head {
	char *line[HEAD_LINES];
	uint64_t number[HEAD_LINES];
	bool comment[HEAD_LINES];
	size_t count;
};

struct shape {
	bool valid;
	char separator;
	unsigned columns;
	size_t first; /* index of the first row of data in the head */
	int above;    /* index of the line above it, -1: none */
	unsigned above_columns;
};

static void head_free(struct head *head)
{
	for (size_t i = 0; i < head->count; i++)
		free(head->line[i]);
}

static int head_read(struct head *head, FILE *in)
{
	char line[NOD_CSV_LINE];
	int rc = 1;

	for (uint64_t number = 1; head->count < HEAD_LINES; number++) {
		rc = nod_csv_read_line(in, line);
		if (!rc || rc == -EIO)
			break;
		const char *text = line + strspn(line, " #"); /* "# time;current": headings */
		if (rc < 0 || !*text)
			continue;
		head->line[head->count] = strdup(text);
		if (!head->line[head->count])
			return -ENOMEM;
		head->comment[head->count] = nod_csv_is_comment(line);
		head->number[head->count++] = number;
	}
	return rc == -EIO ? -EIO : 0;
}

/* Splits a copy of line i. */
static unsigned split(const struct head *head, size_t i, char separator, char line[NOD_CSV_LINE],
		      struct nod_csv_row *row)
{
	snprintf(line, NOD_CSV_LINE, "%s", head->line[i]);
	return nod_csv_split(row, line, separator) ? 0 : row->count;
}

/* How many fields most lines have, at least two with a separator; 0: none. */
static unsigned usual_columns(const struct head *head, char separator)
{
	unsigned lines[NOD_CSV_FIELDS + 1] = {0}, best = 0, most = 0;
	char line[NOD_CSV_LINE];
	struct nod_csv_row row;

	for (size_t i = 0; i < head->count; i++)
		if (!head->comment[i])
			lines[split(head, i, separator, line, &row)]++;
	for (unsigned n = separator ? 2 : 1; n <= NOD_CSV_FIELDS; n++)
		if (lines[n] > most) {
			most = lines[n];
			best = n;
		}
	return best;
}

static struct shape try_separator(const struct head *head, char separator)
{
	struct shape shape = {.separator = separator, .above = -1};
	char line[NOD_CSV_LINE];
	struct nod_csv_row row;
	size_t fit = 0, rows = 0;

	shape.columns = usual_columns(head, separator);
	if (!shape.columns)
		return shape;
	for (shape.first = 0; shape.first < head->count; shape.first++)
		if (!head->comment[shape.first] &&
		    split(head, shape.first, separator, line, &row) == shape.columns &&
		    is_data(&row, separator))
			break;
	for (size_t i = shape.first; i < head->count; i++) {
		rows += !head->comment[i];
		fit += !head->comment[i] &&
		       split(head, i, separator, line, &row) == shape.columns &&
		       is_data(&row, separator);
	}
	shape.valid = fit && (double)fit >= SHAPE_SHARE * (double)rows;
	if (shape.valid && shape.first) {
		shape.above = (int)shape.first - 1;
		shape.above_columns = split(head, shape.first - 1, separator, line, &row);
	}
	return shape;
}

/* "1,31": two columns, or one with a decimal comma? A heading tells. */
static int check_comma(const struct head *head, const struct shape *comma, struct nod_error *err)
{
	struct shape blanks = try_separator(head, ' '), none = try_separator(head, 0);
	const struct shape *other = blanks.valid ? &blanks : &none;

	if (!other->valid)
		return 0;
	if (comma->above >= 0 && comma->above_columns == comma->columns)
		return 0;
	return nod_error_set(err, EINVAL,
			     "`%.60s`: the comma may separate columns or be a decimal mark; say "
			     "--separator comma or --decimal comma",
			     head->line[comma->first]);
}

static int find_shape(struct shape *shape, const struct head *head, char wanted, char decimal,
		      struct nod_error *err)
{
	if (wanted) {
		*shape = try_separator(head, wanted == '0' ? 0 : wanted);
		if (shape->valid)
			return 0;
		return nod_error_set(err, EINVAL, "no table with the separator %s was found",
				     nod_csv_separator_name(wanted == '0' ? 0 : wanted));
	}
	for (size_t i = 0; i < sizeof(separators); i++) {
		if (separators[i] == ',' && decimal == ',')
			continue;
		*shape = try_separator(head, separators[i]);
		if (shape->valid)
			return separators[i] == ',' && !decimal ? check_comma(head, shape, err) : 0;
	}
	return nod_error_set(err, EINVAL, "no table of numbers was found in the first %d lines",
			     HEAD_LINES);
}

/* -- headings ----------------------------------------------------------- */

/* "[mA]", "(mA)" or "mA": the unit inside. */
static void strip_brackets(char out[16], const char *text)
{
	size_t length;

	text += *text == '[' || *text == '(';
	length = strcspn(text, "])");
	snprintf(out, 16, "%.*s", (int)(length < 15 ? length : 15), text);
}

static bool is_units(const struct nod_csv_row *row)
{
	bool some = false;

	for (unsigned i = 0; i < row->count; i++) {
		char text[16];
		enum nod_unit unit;
		int exponent, multiplier;
		strip_brackets(text, row->field[i].text);
		if (!*text)
			continue;
		if (nod_unit_parse(&unit, &exponent, &multiplier, text, strlen(text)))
			return false;
		some = true;
	}
	return some;
}

static void take_headings(struct nod_csv_table *table, const struct head *head,
			  const struct shape *shape)
{
	char line[NOD_CSV_LINE];
	struct nod_csv_row row;
	int i = shape->above;

	if (i >= 0 && split(head, (size_t)i, shape->separator, line, &row) == shape->columns &&
	    is_units(&row)) {
		for (unsigned c = 0; c < row.count; c++)
			strip_brackets(table->column[c].unit, row.field[c].text);
		i--;
	}
	if (i >= 0 && split(head, (size_t)i, shape->separator, line, &row) == shape->columns) {
		for (unsigned c = 0; c < row.count; c++)
			snprintf(table->column[c].name, NOD_CSV_NAME, "%.*s", NOD_CSV_NAME - 1,
				 row.field[c].text);
		table->header_line = head->number[i];
	}
	uint64_t known = table->header_line ? 1 : 0;
	known += shape->above >= 0 && i < shape->above;
	table->skipped = table->first_line - 1 > known ? table->first_line - 1 - known : 0;
}

static bool is_utf16(FILE *in)
{
	char bytes[64];
	size_t n = fread(bytes, 1, sizeof(bytes), in);

	rewind(in);
	return n && memchr(bytes, 0, n);
}

static int survey(struct nod_csv_table *table, FILE *in, char separator, char decimal,
		  struct nod_error *err)
{
	struct head head = {.count = 0};
	struct shape shape = {.above = -1};
	int rc = head_read(&head, in);

	if (rc)
		nod_error_set(err, -rc, "%s", strerror(-rc));
	else if (!head.count)
		rc = nod_error_set(err, EINVAL, "the file is empty");
	else
		rc = find_shape(&shape, &head, separator, decimal, err);
	if (!rc) {
		table->separator = shape.separator;
		table->columns = shape.columns;
		table->first_line = head.number[shape.first];
		take_headings(table, &head, &shape);
		if (shape.above >= 0 && shape.separator == ',' && !table->header_line &&
		    shape.above_columns >= 2 && shape.above_columns * 2 == shape.columns)
			rc = nod_error_set(
				err, EINVAL,
				"rows have %u fields and the heading %u: the comma is both "
				"separator and decimal mark, which nobody can read back",
				shape.columns, shape.above_columns);
	}
	head_free(&head);
	return rc ? rc : nod_csv_survey_rows(table, in);
}

int nod_csv_survey(struct nod_csv_table *table, FILE *in, const char *name, char separator,
		   char decimal, struct nod_error *err)
{
	struct nod_error inner = {""};
	int rc;

	memset(table, 0, sizeof(*table));
	rewind(in);
	if (is_utf16(in))
		return nod_error_set(err, EINVAL, "%s: this is UTF-16 or no text; save it as UTF-8",
				     name);
	rc = survey(table, in, separator, decimal, &inner);
	return rc ? nod_error_set(err, -rc, "%s: %s", name, inner.text) : 0;
}
