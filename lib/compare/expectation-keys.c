/* SPDX-License-Identifier: MIT */
/* What each key of an expectation may hold. */
#include "expectation-keys.h"

#include <errno.h>
#include <string.h>

#include "quantity.h"
#include "timestamp.h"

#define PPM_PER_PERCENT 10000

static int read_text(struct nod_demand *d, struct nod_error *err)
{
	(void)d;
	(void)err;
	return 0;
}

static int read_verdict(struct nod_demand *d, struct nod_error *err)
{
	for (int v = 0; v < NOD_VERDICTS; v++)
		if (!strcmp(d->text, nod_verdict_name((enum nod_verdict)v)))
			return 0;
	return nod_error_set(err, EINVAL,
			     "there is no verdict \"%s\"; expected sleeps in time, kept awake, "
			     "woken again, draws current while asleep or cannot tell",
			     d->text);
}

static int read_role(struct nod_demand *d, struct nod_error *err)
{
	for (int r = 0; r <= NOD_ROLE_OTHER; r++)
		if (!strcmp(d->text, nod_role_name((enum nod_role)r)))
			return 0;
	return nod_error_set(
		err, EINVAL,
		"there is no role \"%s\"; expected holder, waker, drain, tester or other", d->text);
}

/* Takes "<=" or ">=" away from the front of a value. */
static const char *take_bound(struct nod_demand *d)
{
	const char *text = d->text;

	d->bound = NOD_BOUND_EXACT;
	if (!strncmp(text, "<=", 2) || !strncmp(text, ">=", 2)) {
		d->bound = text[0] == '<' ? NOD_BOUND_AT_MOST : NOD_BOUND_AT_LEAST;
		text += 2;
	}
	return text + strspn(text, " \t");
}

static int read_probability(struct nod_demand *d, struct nod_error *err)
{
	struct nod_quantity q;

	if (nod_quantity_parse_as(&q, take_bound(d), NOD_UNIT_PERCENT, "the probability", err))
		return -EINVAL;
	if (q.micro < 0 || q.micro > INT64_C(100000000))
		return nod_error_set(err, EINVAL, "a probability is 0 %% to 100 %%");
	d->value = q.micro / (1000000 / PPM_PER_PERCENT);
	if (d->bound == NOD_BOUND_EXACT)
		d->tolerance = q.last_digit / (1000000 / PPM_PER_PERCENT) / 2;
	return 0;
}

static int read_current(struct nod_demand *d, struct nod_error *err)
{
	struct nod_quantity q;

	if (nod_quantity_parse_as(&q, take_bound(d), NOD_UNIT_AMPERE, "the current", err))
		return -EINVAL;
	d->value = q.micro;
	if (d->bound == NOD_BOUND_EXACT)
		d->tolerance = q.last_digit / 2;
	return 0;
}

static int read_count(struct nod_demand *d, struct nod_error *err)
{
	const char *text = take_bound(d), *p = text;

	for (d->value = 0; *p >= '0' && *p <= '9' && d->value < 1000000; p++)
		d->value = 10 * d->value + (*p - '0');
	if (p == text || *p)
		return nod_error_set(err, EINVAL, "expected a number of wake-ups, found \"%s\"",
				     text);
	return 0;
}

/* "120 s after lock", "50.123 after lock", or UNIX seconds. */
static int read_moment(struct nod_demand *d, const char *text, struct nod_error *err)
{
	static const char suffix[] = "after lock";
	size_t length = strlen(text), tail = sizeof(suffix) - 1;
	char span[80];
	nod_duration after;
	nod_time time;

	if (length > tail && length < sizeof(span) && !strcmp(text + length - tail, suffix)) {
		length -= tail;
		while (length && strchr(" \t", text[length - 1]))
			length--;
		memcpy(span, text, length);
		span[length] = '\0';
		d->after_lock = true;
		if (!nod_duration_parse(&after, span)) {
			d->value = after.ns;
			return 0;
		}
	} else if (!nod_time_parse(&time, text, length)) {
		d->value = time.ns;
		return 0;
	}
	return nod_error_set(err, EINVAL,
			     "expected UNIX seconds, or a time like \"90 s after lock\", found "
			     "\"%s\"",
			     text);
}

static int read_slept_at(struct nod_demand *d, struct nod_error *err)
{
	const char *text = take_bound(d);

	if (!strcmp(d->text, "never")) {
		d->bound = NOD_BOUND_NEVER;
		return 0;
	}
	d->tolerance = NOD_EXPECTATION_TIME_NS / 2;
	return read_moment(d, text, err);
}

static int read_sleeps_by(struct nod_demand *d, struct nod_error *err)
{
	d->bound = NOD_BOUND_AT_MOST;
	d->tolerance = NOD_EXPECTATION_TIME_NS / 2;
	return read_moment(d, d->text, err);
}

const struct nod_demand_rule *nod_demand_rule(enum nod_demand_key key)
{
	static const struct nod_demand_rule rules[NOD_DEMAND_KEYS] = {
		[NOD_DEMAND_VERDICT] = {"verdict", false, false, read_verdict},
		[NOD_DEMAND_CULPRIT] = {"culprit", false, true, read_text},
		[NOD_DEMAND_ROLE] = {"role", false, false, read_role},
		[NOD_DEMAND_PROBABILITY] = {"probability", false, false, read_probability},
		[NOD_DEMAND_NETWORK] = {"network", true, false, read_verdict},
		[NOD_DEMAND_SLEPT_AT] = {"slept-at", true, false, read_slept_at},
		[NOD_DEMAND_SLEEPS_BY] = {"sleeps-by", true, false, read_sleeps_by},
		[NOD_DEMAND_WAKES] = {"wakes", true, false, read_count},
		[NOD_DEMAND_WAKES_EXPLAINED] = {"wakes-explained", true, false, read_count},
		[NOD_DEMAND_WAKES_BY] = {"wakes-by", false, false, read_text},
		[NOD_DEMAND_QUIESCENT] = {"quiescent", false, false, read_current},
		[NOD_DEMAND_SENTENCE] = {"sentence", false, false, read_text},
		[NOD_DEMAND_LOCKED] = {"locked", false, false, read_text},
		[NOD_DEMAND_VEHICLE] = {"vehicle", false, false, read_text},
		[NOD_DEMAND_KNOWN_MISS] = {"known-miss", true, false, read_text},
	};
	return &rules[key];
}
