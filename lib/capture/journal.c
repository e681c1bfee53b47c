/* SPDX-License-Identifier: MIT */
#include "journal.h"

#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "plain-text.h"

static const struct {
	const char *name, *help;
	bool disturbs;
	bool own; /* not for a person to enter */
} kinds[NOD_MARK_KINDS] = {
	[NOD_MARK_LOCKED] = {"locked", "the car was locked: waiting counts from here", false,
			     false},
	[NOD_MARK_UNLOCKED] = {"unlocked", "the car was unlocked", true, false},
	[NOD_MARK_DOOR] = {"door", "a door, lid or bonnet was opened or closed", true, false},
	[NOD_MARK_KEY] = {"key", "a key or phone key came near", true, false},
	[NOD_MARK_IGNITION] = {"ignition", "ignition or start button", true, false},
	[NOD_MARK_TESTER_ON] = {"tester on", "a diagnostic tester was connected", true, false},
	[NOD_MARK_TESTER_OFF] = {"tester off", "the diagnostic tester was disconnected", true,
				 false},
	[NOD_MARK_ISOLATED] = {"isolated", "WHAT: this fuse or module was pulled or unplugged",
			       true, false},
	[NOD_MARK_REFITTED] = {"refitted", "WHAT: it was put back", true, false},
	[NOD_MARK_TOUCHED] = {"touched", "WHAT: this switch, latch or lid was worked", true, false},
	[NOD_MARK_READING] = {"reading", "WHAT VALUE: a meter reading, as F12 2.3 mV", false,
			      false},
	[NOD_MARK_ZEROED] = {"zeroed", "the current clamp was zeroed", false, false},
	[NOD_MARK_NOTE] = {"note", "TEXT: anything worth remembering", false, false},
	[NOD_MARK_GAP] = {"gap", "IFACE LENGTH: nobody listened for LENGTH until now", false, true},
	[NOD_MARK_CLOCK_STEP] = {"clock step", "LENGTH: the recording clock was set", false, true},
	[NOD_MARK_STARTED] = {"started", "listening began", false, true},
	[NOD_MARK_STOPPED] = {"stopped", "listening ended; silence until now was heard", false,
			      true},
	[NOD_MARK_NOTHING] = {"nothing done", "what the traffic showed then was nobody's doing",
			      false, false},
	[NOD_MARK_UNDONE] = {"undone", "MARK: it is taken back", false, true},
	[NOD_MARK_DEAF] = {"not listening", "IFACE: nobody listens from now on", false, true},
};

const char *nod_mark_kind_name(enum nod_mark_kind kind)
{
	assert(kind < NOD_MARK_KINDS);
	return kinds[kind].name;
}

const char *nod_mark_kind_help(enum nod_mark_kind kind)
{
	assert(kind < NOD_MARK_KINDS);
	return kinds[kind].help;
}

/* Length of `name` when the text starts with it as whole words, else 0. */
static size_t match_words(const char *text, const char *name)
{
	size_t i = 0;

	for (; name[i]; i++)
		if (text[i] != name[i] && !(name[i] == ' ' && text[i] == '-'))
			return 0;
	return !text[i] || text[i] == ' ' || text[i] == '\t' ? i : 0;
}

/* Finds the kind that the text starts with. Returns the length of its name or 0. */
static size_t match_kind(enum nod_mark_kind *kind, const char *text)
{
	for (unsigned i = 0; i < NOD_MARK_KINDS; i++) {
		size_t length = match_words(text, kinds[i].name);
		if (length) {
			*kind = (enum nod_mark_kind)i;
			return length;
		}
	}
	return 0;
}

int nod_mark_kind_parse(enum nod_mark_kind *kind, const char *word)
{
	size_t length = match_kind(kind, word);

	return length && !word[length] ? 0 : -EINVAL;
}

bool nod_mark_disturbs(enum nod_mark_kind kind)
{
	assert(kind < NOD_MARK_KINDS);
	return kinds[kind].disturbs;
}

bool nod_mark_is_persons(enum nod_mark_kind kind)
{
	assert(kind < NOD_MARK_KINDS);
	return !kinds[kind].own;
}

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static char *skip_blanks(char *p)
{
	while (is_blank(*p))
		p++;
	return p;
}

static void trim_end(char *line)
{
	size_t length = strlen(line);

	while (length && (is_blank(line[length - 1]) || line[length - 1] == '\r'))
		line[--length] = '\0';
}

static bool ends_in_cut_off(const char *text, size_t length)
{
	size_t sign = strlen(NOD_MARK_CUT_OFF);

	return length >= sign && !memcmp(text + length - sign, NOD_MARK_CUT_OFF, sign);
}

static int fail(unsigned *column, const char *line, const char *at, struct nod_error *err,
		const char *expected)
{
	*column = (unsigned)(at - line) + 1;
	return nod_error_set(err, EINVAL, "%s", expected);
}

/* "(SECONDS)" at *p; moves *p behind it. False when it is no such time. */
static bool read_time(nod_time *time, char **p)
{
	char *close = **p == '(' ? strchr(*p, ')') : NULL;

	if (!close || nod_time_parse(time, *p + 1, (size_t)(close - *p - 1)))
		return false;
	*p = close + 1;
	return true;
}

int nod_mark_parse(struct nod_mark *mark, char *line, unsigned *column, struct nod_error *err)
{
	nod_text_make_plain(line, ' ');
	char *p = skip_blanks(line);

	trim_end(line);
	if (!*p || *p == '#')
		return 0;
	if (ends_in_cut_off(p, strlen(p)))
		return fail(column, line, p, err, "this mark was cut off while it was written");
	if (!read_time(&mark->time, &p))
		return fail(column, line, p, err, "expected a time: (SECONDS.FRACTION)");
	char *word = skip_blanks(p);
	if (word == p || !*word)
		return fail(column, line, p, err, "expected a blank and the kind of the mark");
	size_t length = match_kind(&mark->kind, word);
	if (!length) {
		*column = (unsigned)(word - line) + 1;
		return nod_error_set(err, EINVAL,
				     "`%.*s` is no kind of mark; expected locked, door, "
				     "isolated, reading, note, ...",
				     (int)strcspn(word, " \t"), word);
	}
	mark->subject = skip_blanks(word + length);
	return 1;
}

/* True when the subject would end in the sign of a torn line; a blank stands before
 * it in the file. */
static bool would_be_cut_off(const char *subject, size_t length)
{
	const char *sign = &NOD_MARK_CUT_OFF[1];
	size_t size = strlen(sign);

	return length >= size && !memcmp(subject + length - size, sign, size) &&
	       (length == size || is_blank(subject[length - size - 1]));
}

/* Length of the subject without blanks at its end and the sign of a torn line. */
static size_t subject_length(const char *subject)
{
	size_t length = strlen(subject);

	for (;;) {
		if (length && is_blank(subject[length - 1]))
			length--;
		else if (would_be_cut_off(subject, length))
			length -= strlen(&NOD_MARK_CUT_OFF[1]);
		else
			return length;
	}
}

int nod_mark_clean(char buf[NOD_MARK_LINE_MAX], const char *subject)
{
	if (strlen(subject) >= NOD_MARK_LINE_MAX)
		return -ENOBUFS;
	strcpy(buf, subject);
	nod_text_make_plain(buf, ' ');
	buf[subject_length(buf)] = '\0';
	size_t blanks = strspn(buf, " ");
	memmove(buf, buf + blanks, strlen(buf + blanks) + 1);
	return 0;
}

int nod_mark_print(char *buf, size_t size, const struct nod_mark *mark)
{
	char time[NOD_TIME_TEXT], subject[NOD_MARK_LINE_MAX];

	assert(nod_time_is_set(mark->time));
	if (nod_mark_clean(subject, mark->subject ? mark->subject : ""))
		return -ENOBUFS;
	nod_time_print(time, mark->time, mark->time.ns % NOD_NS_PER_US ? 9 : 6);
	int used = snprintf(buf, size, "(%s) %s%s%s\n", time, nod_mark_kind_name(mark->kind),
			    *subject ? " " : "", subject);
	if (used < 0 || (size_t)used >= size)
		return -ENOBUFS;
	return used;
}
