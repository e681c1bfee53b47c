/* SPDX-License-Identifier: MIT */
/* nodoff history: when an ID was heard, and what it did. */
#include <inttypes.h>
#include <stdio.h>

#include "answer.h"
#include "command.h"
#include "door.h"
#include "json-build.h"
#include "judged.h"
#include "moment-text.h"
#include "option.h"
#include "paragraph.h"
#include "table-row.h"
#include "search.h"
#include "signal-watch.h"
#include "signals.h"
#include "terminal.h"

int nod_cmd_history(int argc, char **argv);

static const char help[] =
	"usage: nodoff history [OPTION ...] SESSION [WHO ...]\n"
	"\n"
	"Says of an ID (2A0) or of every ID of a sender (\"roof unit\") when it was heard\n"
	"and when it was silent, its period before and after the settle deadline, and\n"
	"which payload bits changed (counters and checksums apart) and when last.\n"
	"Without WHO it lists all IDs, one a line. Times are the clock on the wall and\n"
	"seconds after the lock.\n"
	"Bits that are signals of the vehicle file are named; --signal tells what one of\n"
	"them said and when.\n"
	"\n"
	"  -s, --signal NAME   the values of this signal of the vehicle file\n"
	"  -n, --network NAME  only this network\n"
	"  -v, --vehicle FILE  your map of the car (default: the session's own)\n"
	"  -l, --locked TIME   when the car was locked (default: as the session says)\n"
	"  -j, --json          as one JSON object\n"
	"  -h, --help          print this help\n"
	"\n"
	"A silence is listed when it is longer than 2 s and than 5 periods of the ID.\n";

struct history {
	struct nod_judge_options judge;
	const char *network;
	struct nod_signal_watch signals;
	int network_index;
	bool json;
	struct nod_wanted wanted[64];
	int wanted_count;
	const struct nod_judged *judged;
};

static bool is_wanted(struct history *h, const struct nod_findings *f,
		      const struct nod_ident_finding *ident)
{
	bool fits = !h->wanted_count;

	if (h->network && ident->network != h->network_index)
		return false;
	for (int i = 0; i < h->wanted_count; i++)
		if (nod_wanted_fits(&h->wanted[i], f, ident))
			fits = h->wanted[i].found = true;
	return fits;
}

/* When it was heard; NULL: not kept. Networks under two names: the first. */
static const struct nod_heard_id *heard_of(const struct history *h, const struct nod_findings *f,
					   const struct nod_ident_finding *ident)
{
	const struct nod_interfaces *names = nod_session_interfaces(h->judged->session);

	for (size_t i = 0; i < nod_heard_count(h->judged->heard); i++) {
		const struct nod_heard_id *id = nod_heard_id(h->judged->heard, i);
		if (id->id == ident->id &&
		    nod_vehicle_network_of_interface(f->vehicle, names->names[id->interface]) ==
			    f->networks[ident->network].network)
			return id;
	}
	return NULL;
}

/* ---- text ---- */

static const char *period_text(char *buf, size_t size, const struct nod_period *p)
{
	char length[NOD_TIME_TEXT];

	if (p->rhythm == NOD_RHYTHM_UNKNOWN || p->period.ns < 0)
		return "-";
	snprintf(buf, size, "%s%s", nod_duration_print(length, p->period),
		 p->rhythm == NOD_RHYTHM_CYCLIC  ? ""
		 : p->rhythm == NOD_RHYTHM_MIXED ? " and on events"
						 : ", on event");
	return buf;
}

/* Columns that a time of so many leaves for the sender in a list of 80. */
#define SENDER(at) ((at) < 25 ? 31 - (at) : 6)

static void print_line(const struct nod_findings *f, const struct nod_ident_finding *i)
{
	char id[NOD_ID_TEXT], first[NOD_TIME_TEXT], last[NOD_MOMENT_TEXT], frames[24], period[64];
	int at = nod_moment_cell_width(f, NULL);

	snprintf(frames, sizeof(frames), "%" PRIu64, i->frames);
	NOD_ROW(stdout, {8, f->networks[i->network].name}, {8, nod_id_print(id, i->id)},
		{SENDER(at), f->senders[i->sender].name}, {-7, frames},
		{-9, nod_duration_print_seconds(first, nod_time_since(i->first, f->lock), 1)},
		{-at, nod_moment_print_cell(last, f, i->last, NULL)},
		{9, period_text(period, sizeof(period), &i->before)});
}

static void print_payload(const struct nod_findings *f, const struct nod_ident_finding *i)
{
	char bits[600], last[NOD_MOMENT_TEXT];

	if (!i->changing_mask) {
		printf("  payload: nothing changed (%u counter, %u checksum bits apart)\n",
		       i->counter_bits, i->checksum_bits);
		return;
	}
	nod_paragraph_printf(stdout, "  changed: ", "%s; last at %s",
			     nod_signals_print_mask(bits, sizeof(bits), f, i, i->changing_mask),
			     nod_moment_print(last, f, i->last_change, NULL));
	if (i->changing_late_mask)
		nod_paragraph_printf(
			stdout, "  after the deadline: ", "%s, in %" PRIu64 " frame%s",
			nod_signals_print_mask(bits, sizeof(bits), f, i, i->changing_late_mask),
			i->changes_late, i->changes_late == 1 ? "" : "s");
}

static void print_stretches(const struct nod_findings *f, const struct nod_heard_id *heard)
{
	char from[NOD_MOMENT_TEXT], to[NOD_MOMENT_TEXT], frames[24], length[NOD_TIME_TEXT],
		silent[NOD_TIME_TEXT];
	int at = nod_moment_cell_width(f, NULL);

	NOD_ROW(stdout, {-at, "heard from"}, {-at, "to"}, {-10, "for"}, {-7, "frames"},
		{-11, "then silent"});
	for (uint32_t k = 0; k < heard->count; k++) {
		const struct nod_stretch *s = &heard->stretches[k];
		nod_time next = k + 1 < heard->count ? s[1].from : f->end;
		snprintf(frames, sizeof(frames), "%" PRIu64, s->frames);
		NOD_ROW(stdout, {-at, nod_moment_print_cell(from, f, s->from, NULL)},
			{-at, nod_moment_print_cell(to, f, s->to, NULL)},
			{-10, nod_duration_print(length, nod_time_since(s->to, s->from))},
			{-7, frames},
			{-11, nod_duration_print(silent, nod_time_since(next, s->to))});
	}
	if (heard->silence.ns)
		printf("  (silences under %s are not listed: too many)\n",
		       nod_duration_print(silent, heard->silence));
}

static void print_block(const struct history *h, const struct nod_findings *f,
			const struct nod_ident_finding *i)
{
	const struct nod_heard_id *heard = heard_of(h, f, i);
	char id[NOD_ID_TEXT], before[64], after[64];

	printf("%s on %s, %s\n", nod_id_print(id, i->id), f->networks[i->network].name,
	       f->senders[i->sender].name);
	printf("  %" PRIu64 " frames, %" PRIu64 " of them after the deadline\n", i->frames,
	       i->frames_late);
	printf("  period %s before the deadline, %s after it\n",
	       period_text(before, sizeof(before), &i->before),
	       period_text(after, sizeof(after), &i->after));
	print_payload(f, i);
	if (heard)
		print_stretches(f, heard);
	putchar('\n');
}

static int print_text(struct history *h, const struct nod_findings *f)
{
	int at = nod_moment_cell_width(f, NULL);

	if (!h->wanted_count)
		NOD_ROW(stdout, {8, "network"}, {8, "ID"}, {SENDER(at), "sender"}, {-7, "frames"},
			{-9, "first, s"}, {-at, "last"}, {9, "period"});
	for (size_t i = 0; i < f->ident_count; i++) {
		if (!is_wanted(h, f, &f->idents[i]))
			continue;
		if (h->wanted_count)
			print_block(h, f, &f->idents[i]);
		else
			print_line(f, &f->idents[i]);
	}
	for (int i = 0; i < h->wanted_count; i++)
		if (!h->wanted[i].found)
			nod_door_line(stdout, "%s: not heard\n", h->wanted[i].text);
	return nod_option_finish();
}

/* ---- JSON ---- */

static json_t *stretches_json(const struct nod_heard_id *heard)
{
	json_t *array = json_array();

	for (uint32_t k = 0; heard && k < heard->count; k++)
		nod_json_append(&array, json_pack("{s:o, s:o, s:I}", "from",
						  nod_json_time(heard->stretches[k].from), "to",
						  nod_json_time(heard->stretches[k].to), "frames",
						  (json_int_t)heard->stretches[k].frames));
	return array;
}

static json_t *bits_json(uint64_t mask)
{
	json_t *array = json_array();

	for (; mask; mask &= mask - 1) {
		int bit = __builtin_ctzll(mask);
		nod_json_append(&array, json_pack("{s:i, s:i}", "byte", bit / 8, "bit", bit % 8));
	}
	return array;
}

static json_t *ident_json(const struct history *h, const struct nod_findings *f,
			  const struct nod_ident_finding *i)
{
	char id[NOD_ID_TEXT];

	return json_pack("{s:s, s:o, s:o, s:I, s:I, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o}",
			 "id", nod_id_print(id, i->id), "network",
			 nod_json_text(f->networks[i->network].name), "sender",
			 nod_json_text(f->senders[i->sender].name), "frames", (json_int_t)i->frames,
			 "frames_late", (json_int_t)i->frames_late, "first",
			 nod_json_time(i->first), "last", nod_json_time(i->last), "rhythm",
			 nod_rhythm_name(i->before.rhythm), "period",
			 nod_json_length(i->before.period), "period_late",
			 nod_json_length(i->after.period), "changed", bits_json(i->changing_mask),
			 "changed_late", bits_json(i->changing_late_mask), "last_change",
			 nod_json_time(i->last_change), "heard", stretches_json(heard_of(h, f, i)));
}

static int print_json(struct history *h, const struct nod_findings *f)
{
	json_t *array = json_array();

	for (size_t i = 0; i < f->ident_count; i++)
		if (is_wanted(h, f, &f->idents[i]))
			nod_json_append(&array, ident_json(h, f, &f->idents[i]));
	return nod_option_print_json(json_pack("{s:i, s:o, s:o}", "nodoff", 1, "lock",
					       nod_json_time(f->lock), "ids", array));
}

static int print_signals(const struct history *h, const struct nod_findings *f)
{
	if (h->json)
		return nod_option_print_json(json_pack("{s:i, s:o, s:o}", "nodoff", 1, "lock",
						       nod_json_time(f->lock), "signals",
						       nod_signal_watch_json(&h->signals, f)));
	nod_signal_watch_print(&h->signals, f, stdout);
	return nod_option_finish();
}

static int run(struct history *h, const char *path)
{
	struct nod_judged judged;
	int code = nod_judge(&judged, &path, 1, &h->judge);

	h->judged = &judged;
	if (!code && h->network) {
		h->network_index = nod_search_network(judged.findings, h->network);
		if (h->network_index == NOD_NONE)
			code = nod_usage("history", "there is no network `%s`", h->network);
	}
	if (!code && !h->json)
		nod_terminal_page();
	if (!code && h->judge.signals)
		code = print_signals(h, judged.findings);
	else if (!code)
		code = h->json ? print_json(h, judged.findings) : print_text(h, judged.findings);
	nod_signal_watch_end(&h->signals);
	nod_judged_close(&judged);
	return code;
}

int nod_cmd_history(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TEXT('s', "signal", struct history, signals.name),
		NOD_TEXT('n', "network", struct history, network),
		NOD_TEXT('v', "vehicle", struct history, judge.vehicle),
		NOD_TEXT('l', "locked", struct history, judge.locked),
		NOD_FLAG('j', "json", struct history, json),
		{0}};
	static const struct nod_options options = {
		.command = "history", .help = help, .list = list};
	struct history h = {.judge = {.heard = true}};
	int status, first = nod_options_walk(&options, &h, argc, argv, &status);

	if (!first)
		return status;
	if (first == argc)
		return nod_usage("history", "no session given");
	h.wanted_count = argc - first - 1;
	if (h.signals.name && (h.wanted_count || h.network))
		return nod_usage("history",
				 "--signal stands alone: its message says the ID and the network");
	if (h.signals.name)
		h.judge.signals = &h.signals;
	if (h.wanted_count > (int)(sizeof(h.wanted) / sizeof(*h.wanted)))
		return nod_usage("history", "at most %zu IDs or senders at a time",
				 sizeof(h.wanted) / sizeof(*h.wanted));
	for (int i = 0; i < h.wanted_count; i++)
		nod_wanted_parse(&h.wanted[i], argv[first + 1 + i]);
	return run(&h, argv[first]);
}
