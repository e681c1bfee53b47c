/* SPDX-License-Identifier: MIT */
/* What a mark needs before it is written: see journal.h. */
#include <errno.h>
#include <string.h>

#include "journal.h"
#include "quantity.h"

/* Options of the commands that make marks: inside a text they were meant otherwise. */
static const char *const options[] = {"--ago", "--at", "--undo", "--amend"};

static const char *option_inside(const char *text)
{
	for (size_t i = 0; i < sizeof(options) / sizeof(options[0]); i++) {
		const char *at = strstr(text, options[i]);
		size_t length = strlen(options[i]);
		if (at && (at == text || at[-1] == ' ') &&
		    (!at[length] || strchr(" =", at[length])))
			return options[i];
	}
	return NULL;
}

/* True when the text ends in a value with a unit, and something stands before it. */
static bool ends_in_value(const char *text)
{
	for (const char *p = strchr(text, ' '); p; p = strchr(p + 1, ' ')) {
		struct nod_quantity q;
		if (!nod_quantity_parse(&q, p, strlen(p), NOD_DECIMAL_ANY, NULL) &&
		    q.unit != NOD_UNIT_NONE)
			return true;
	}
	return false;
}

static int check_reading(const struct nod_mark *mark, struct nod_error *err)
{
	if (ends_in_value(mark->subject))
		return 0;
	return nod_error_set(err, EINVAL, "`reading%s%s` lacks %s: reading F12 2.3 mV",
			     *mark->subject ? " " : "", mark->subject,
			     strchr(mark->subject, ' ')
				     ? "the unit of its value"
				     : "what was measured, the value or its unit");
}

int nod_mark_check(const struct nod_mark *mark, struct nod_error *err)
{
	const char *name = nod_mark_kind_name(mark->kind), *option = option_inside(mark->subject);

	if (option)
		return nod_error_set(err, EINVAL, "`%s` stands inside the text of the mark",
				     option);
	switch (mark->kind) {
	case NOD_MARK_READING:
		return check_reading(mark, err);
	case NOD_MARK_ISOLATED:
	case NOD_MARK_REFITTED:
		return *mark->subject ? 0
				      : nod_error_set(err, EINVAL,
						      "`%s` lacks which fuse or module: %s F12",
						      name, name);
	case NOD_MARK_TOUCHED:
		return *mark->subject
			       ? 0
			       : nod_error_set(err, EINVAL, "`%s` lacks which switch, latch or lid",
					       name);
	case NOD_MARK_NOTE:
		return *mark->subject ? 0 : nod_error_set(err, EINVAL, "`%s` lacks its text", name);
	default:
		return 0;
	}
}
