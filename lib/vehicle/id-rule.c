/* SPDX-License-Identifier: MIT */
#include "id-rule.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

static uint32_t space_of(uint32_t id)
{
	return id & NOD_ID_EXTENDED ? NOD_ID_EXTENDED_MASK : NOD_ID_STANDARD_MASK;
}

static size_t trim(const char **text, size_t length)
{
	while (length && (*text)[0] == ' ')
		(*text)++, length--;
	while (length && (*text)[length - 1] == ' ')
		length--;
	return length;
}

static bool is_hex(const char *text, size_t length)
{
	return strspn(text, "0123456789abcdefABCDEF") >= length;
}

static int parse_id(uint32_t *id, const char *text, size_t length, struct nod_error *err)
{
	length = trim(&text, length);
	int shown = length > 60 ? 60 : (int)length;
	int status = length > 8 ? -EINVAL : nod_id_parse(id, text, (unsigned)length);

	if (status == -ERANGE)
		return nod_error_set(err, EINVAL, "ID `%.*s` is above %s", shown, text,
				     length == 8 ? "1FFFFFFF" : "7FF");
	if (status && length > 3 && length < 8 && is_hex(text, length))
		return nod_error_set(err, EINVAL,
				     "ID `%.*s` has %zu digits, expected 1 to 3 (standard) or 8 "
				     "(extended: `%.*s%.*s`)",
				     shown, text, length, (int)(8 - length), "0000", shown, text);
	if (status)
		return nod_error_set(err, EINVAL,
				     "expected an ID of 1 to 3 hex digits (standard) or exactly 8 "
				     "(extended), found `%.*s`",
				     shown, text);
	return 0;
}

/* Both IDs around the mark at `mark`. */
static int parse_two(uint32_t *a, uint32_t *b, const char *text, const char *mark,
		     struct nod_error *err)
{
	int status = parse_id(a, text, (size_t)(mark - text), err);

	return status ? status : parse_id(b, mark + 1, strlen(mark + 1), err);
}

static int parse_mask(struct nod_id_rule *rule, const char *text, const char *slash,
		      struct nod_error *err)
{
	uint32_t value, mask;
	int status = parse_two(&value, &mask, text, slash, err);

	if (status)
		return status;
	if ((value ^ mask) & NOD_ID_EXTENDED)
		return nod_error_set(err, EINVAL,
				     "value and mask of `%s` differ in kind, expected both with up "
				     "to 3 digits or both with 8",
				     text);
	rule->first = value;
	rule->mask = mask & ~NOD_ID_EXTENDED;
	if (!rule->mask)
		return nod_error_set(err, EINVAL,
				     "the mask of `%s` is zero, so it fits every ID; expected bits "
				     "that count",
				     text);
	if (value & NOD_ID_EXTENDED_MASK & ~rule->mask)
		return nod_error_set(err, EINVAL,
				     "`%s` has value bits outside its mask, so it fits no ID",
				     text);
	return 0;
}

static int parse_range(struct nod_id_rule *rule, const char *text, const char *dash,
		       struct nod_error *err)
{
	int status = parse_two(&rule->first, &rule->last, text, dash, err);

	if (status)
		return status;
	if ((rule->first ^ rule->last) & NOD_ID_EXTENDED)
		return nod_error_set(
			err, EINVAL,
			"range `%s` mixes a standard and an extended ID, expected both "
			"with up to 3 digits or both with 8",
			text);
	if (rule->first > rule->last)
		return nod_error_set(err, EINVAL,
				     "range `%s` is upside down, expected the smaller ID first",
				     text);
	return 0;
}

int nod_id_rule_parse(struct nod_id_rule *rule, const char *text, struct nod_error *err)
{
	const char *slash = strchr(text, '/'), *dash = strchr(text, '-');

	rule->mask = rule->last = 0;
	if (slash)
		return parse_mask(rule, text, slash, err);
	if (dash)
		return parse_range(rule, text, dash, err);
	int status = parse_id(&rule->first, text, strlen(text), err);
	rule->last = rule->first;
	return status;
}

char *nod_id_rule_print(char buf[NOD_ID_RULE_TEXT], const struct nod_id_rule *rule)
{
	uint32_t flag = rule->first & NOD_ID_EXTENDED;
	char a[NOD_ID_TEXT], b[NOD_ID_TEXT];

	nod_id_print(a, rule->first);
	if (rule->mask)
		snprintf(buf, NOD_ID_RULE_TEXT, "%s/%s", a, nod_id_print(b, rule->mask | flag));
	else if (rule->last != rule->first)
		snprintf(buf, NOD_ID_RULE_TEXT, "%s-%s", a, nod_id_print(b, rule->last));
	else
		snprintf(buf, NOD_ID_RULE_TEXT, "%s", a);
	return buf;
}

bool nod_id_rule_is_range(const struct nod_id_rule *rule, uint32_t *first, uint32_t *last)
{
	uint32_t open = rule->mask ? ~rule->mask & space_of(rule->first) : 0;

	*first = rule->first;
	*last = rule->mask ? rule->first | open : rule->last;
	return !(open & (open + 1));
}

/* The smallest ID >= from that fits value/mask. It equals `from` above some
 * bit, has 1 where `from` has 0 at that bit, and is minimal below: the lowest
 * such bit gives it. False when there is none up to `top`. */
static bool next_masked(uint32_t value, uint32_t mask, uint32_t from, uint32_t top, uint32_t *id)
{
	*id = from;
	if ((from & mask) == value)
		return true;
	for (uint32_t bit = 1; bit <= top; bit <<= 1) {
		uint32_t above = ~(bit | (bit - 1));
		bool fits = !((from ^ value) & mask & above) && !(from & bit) &&
			    (!(mask & bit) || value & bit);
		if (!fits)
			continue;
		*id = (from & above) | bit | (value & (bit - 1));
		return true;
	}
	return false;
}

static bool mask_and_range(const struct nod_id_rule *m, const struct nod_id_rule *r, uint32_t *id)
{
	uint32_t flag = m->first & NOD_ID_EXTENDED, found;

	if (flag != (r->first & NOD_ID_EXTENDED))
		return false;
	if (!next_masked(m->first & ~NOD_ID_EXTENDED, m->mask, r->first & ~NOD_ID_EXTENDED,
			 space_of(flag), &found) ||
	    found > (r->last & ~NOD_ID_EXTENDED))
		return false;
	*id = found | flag;
	return true;
}

static bool two_masks(const struct nod_id_rule *a, const struct nod_id_rule *b, uint32_t *id)
{
	uint32_t both = (a->mask & b->mask) | NOD_ID_EXTENDED;

	*id = a->first | b->first;
	return !((a->first ^ b->first) & both);
}

bool nod_id_rules_overlap(const struct nod_id_rule *a, const struct nod_id_rule *b, uint32_t *id)
{
	if (a->mask && b->mask)
		return two_masks(a, b, id);
	if (a->mask)
		return mask_and_range(a, b, id);
	if (b->mask)
		return mask_and_range(b, a, id);
	*id = a->first > b->first ? a->first : b->first;
	return a->first <= b->last && b->first <= a->last;
}
