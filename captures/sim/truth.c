/* SPDX-License-Identifier: MIT */
#include "truth.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

#include "bus.h"
#include "recorder.h"

static const char *scheme_name(const struct sim_network *net)
{
	static const char *const words[] = {[NOD_NM_NONE] = "none",
					    [NOD_NM_AUTOSAR] = "autosar",
					    [NOD_NM_OSEK] = "osek",
					    [NOD_NM_J1939] = "j1939"};

	return words[net->scheme];
}

/* The span after which the network slept for the first time since the lock. */
static int first_sleep(const struct sim *sim, const struct sim_network *net)
{
	for (int i = 0; i < net->span_count; i++) {
		int64_t next = i + 1 < net->span_count ? net->spans[i + 1].from
						       : sim->recorder.stop;
		if (net->spans[i].to >= sim->lock && next - net->spans[i].to > SIM_SPAN_QUIET)
			return i;
	}
	return -1;
}

static void tell_network(const struct sim *sim, const struct sim_network *net,
			 struct nod_truth_network *out)
{
	int slept = first_sleep(sim, net);

	*out = (struct nod_truth_network){.name = net->name,
					  .interface = net->interface,
					  .scheme = scheme_name(net),
					  .slept_at = NOD_TIME_NONE,
					  .hidden = net->hidden};
	if (slept >= 0) {
		out->slept_at.ns = sim_recorder_stamp(sim, net->spans[slept].to);
		out->wakes = (unsigned)(net->span_count - 1 - slept);
	}
	out->awake_at_end = net->span_count &&
			    sim->recorder.stop - net->last_frame <= SIM_SPAN_QUIET;
}

/* A waker is known by its first frames, if they were recorded. */
static void tell_wakes(struct sim *sim, struct nod_truth *truth)
{
	const struct sim_network *net = &sim->networks[sim->story.network];
	int slept = first_sleep(sim, net);

	truth->first_of = truth->wakes_heard = 0;
	for (int i = slept + 1; slept >= 0 && i < net->span_count; i++) {
		truth->wakes_heard += net->spans[i].first_recorded != -2;
		for (int k = 0; k < sim->story.culprit_count; k++)
			truth->first_of += net->spans[i].first_recorded == sim->story.culprits[k];
	}
	if (strcmp(sim->story.role, "waker") != 0)
		return;
	truth->determined = truth->first_of > 0 && truth->first_of * 3 >= truth->wakes_heard * 2;
	truth->verdict_determined = truth->wakes_heard > 0;
	if (truth->determined)
		return;
	truth->why = "its first frames were not recorded";
	if (!truth->verdict_determined) {
		truth->why = "no wake-up was recorded";
	} else if (net->scheme == NOD_NM_AUTOSAR) {
		truth->determined = true;
		truth->why = "its NM PDUs go on saying that it woke the network actively";
	} else if (net->scheme == NOD_NM_OSEK) {
		truth->determined = true;
		truth->why = "after each wake-up only it does not give the sleep indication";
	}
}

static void tell_ids_up_to(const struct sim *sim, const struct sim_module *module, uint32_t *ids,
			   int *count, int room)
{
	for (int k = 0; k < module->node_count; k++) {
		const struct sim_node *node = &sim->nodes[module->first_node + k];
		const struct sim_network *net = &sim->networks[node->network];
		for (int i = 0; i < node->message_count && *count < room; i++)
			ids[(*count)++] = sim->messages[node->first_message + i].id;
		if ((net->scheme == NOD_NM_AUTOSAR || net->scheme == NOD_NM_OSEK) && *count < room)
			ids[(*count)++] = net->nm_base + node->address;
	}
}

static void tell_ids(const struct sim *sim, const struct sim_module *module, uint32_t *ids,
		     int *count)
{
	tell_ids_up_to(sim, module, ids, count, NOD_TRUTH_IDS);
}

/* Of everything that the last isolation took the power from. */
static void tell_off(const struct sim *sim, struct nod_truth *truth)
{
	const struct sim_module *isolated = &sim->modules[sim->story.isolated];
	bool plug = false;

	for (int i = 0; i < sim->action_count; i++)
		plug |= sim->actions[i].act == SIM_ACT_UNPLUG;
	for (int m = 0; m < sim->module_count; m++) {
		const struct sim_module *module = &sim->modules[m];
		bool same_fuse = module->fuses[0] == isolated->fuses[0] && module->fuses[1] < 0;
		if (module == isolated || (!plug && same_fuse))
			tell_ids_up_to(sim, module, truth->off_ids, &truth->off_id_count,
				       NOD_TRUTH_OFF_IDS);
	}
}

static void tell_culprits(const struct sim *sim, struct nod_truth *truth)
{
	truth->culprit_count = sim->story.culprit_count;
	for (int i = 0; i < truth->culprit_count; i++) {
		const struct sim_module *module = &sim->modules[sim->story.culprits[i]];
		truth->culprits[i] = module->name;
		truth->in_map[i] = module->in_map;
		truth->fuses[i] = module->fuses[0] >= 0 ? sim->fuses[module->fuses[0]].name : "";
		truth->source_address[i] = sim->truck ? module->source_address : -1;
		tell_ids(sim, module, truth->ids[i], &truth->id_count[i]);
	}
}

/* What is missing from the recording of a network: frames or time. */
static bool is_incomplete(const struct sim *sim, int network)
{
	for (int i = 0; i < sim->recorder.window_count; i++) {
		const struct sim_window *w = &sim->recorder.windows[i];
		if (w->network >= 0 && w->network != network)
			continue;
		if (w->kind == SIM_WINDOW_GAP || (w->kind == SIM_WINDOW_LOSS && w->percent > 50))
			return true;
	}
	return false;
}

/* A car is seen to be kept awake on any of its networks, also where the one
 * concerned cannot be heard well. */
static void tell_what_others_show(const struct sim *sim, struct nod_truth *truth)
{
	int64_t deadline = sim->lock + sim->sleeps_within;

	if (strcmp(truth->verdict, "kept awake") != 0)
		return;
	for (int n = 0; n < sim->network_count; n++)
		if (sim->networks[n].last_recorded > deadline && !is_incomplete(sim, n))
			truth->verdict_determined = true;
}

/* A tester that was plugged in after the car slept has woken it. */
static void tell_tester(const struct sim *sim, struct nod_truth *truth)
{
	const struct nod_truth_network *net = &truth->networks[sim->story.network];

	if (!strcmp(truth->role, "tester") && net->wakes > 0 &&
	    net->slept_at.ns <= truth->deadline.ns)
		truth->verdict = "woken again";
}

void sim_truth_tell(struct sim *sim, struct nod_truth *truth)
{
	const struct sim_recorder *rec = &sim->recorder;
	const struct sim_story *story = &sim->story;
	bool blame = strcmp(story->role, "none") != 0 && strcmp(story->role, "disturbance") != 0;

	*truth = (struct nod_truth){
		.situation = sim->situation,
		.seed = sim->seed,
		.verdict = story->verdict,
		.verdict_determined = story->verdict_determined,
		.role = story->role,
		.network = blame ? sim->networks[story->network].name : "",
		.determined = story->determined,
		.why = story->why,
		.note = story->note,
		.lock = {sim_recorder_stamp(sim, sim->lock)},
		.lock_mark = rec->lock_in_journal  ? "journal"
			     : rec->lock_in_header ? "header"
						   : "none",
		.deadline = {sim_recorder_stamp(sim, sim->lock + sim->sleeps_within)},
		.start = {sim_recorder_stamp(sim, rec->start)},
		.end = {sim_recorder_stamp(sim, rec->stop)},
		.current_clock = {sim->clamp.clock_offset},
		.has_current = sim->clamp.on,
		.frames = rec->frames,
		.network_count = sim->network_count};
	tell_culprits(sim, truth);
	truth->isolated = story->isolated < 0 ? "" : sim->modules[story->isolated].name;
	if (story->isolated >= 0) {
		tell_ids(sim, &sim->modules[story->isolated], truth->isolated_ids,
			 &truth->isolated_id_count);
		tell_off(sim, truth);
	}
	tell_wakes(sim, truth);
	for (int i = 0; i < sim->network_count; i++)
		tell_network(sim, &sim->networks[i], &truth->networks[i]);
	tell_what_others_show(sim, truth);
	tell_tester(sim, truth);
}

static void write_time(FILE *out, const char *key, nod_time time)
{
	char text[NOD_TIME_TEXT];

	fprintf(out, "%s: %s\n", key,
		nod_time_is_set(time) ? nod_time_print(text, time, 6) : "never");
}

static void write_networks(const struct nod_truth *truth, FILE *out)
{
	char key[64];

	for (int i = 0; i < truth->network_count; i++) {
		const struct nod_truth_network *net = &truth->networks[i];
		fprintf(out, "network: %s, interface %s, management %s%s\n", net->name,
			net->interface, net->scheme, net->hidden ? ", cannot be heard" : "");
		snprintf(key, sizeof(key), "slept-at %s", net->name);
		write_time(out, key, net->slept_at);
		fprintf(out, "wakes %s: %u\n", net->name, net->wakes);
		fprintf(out, "awake-at-end %s: %s\n", net->name, net->awake_at_end ? "yes" : "no");
	}
}

static void write_ids(FILE *out, const char *key, const uint32_t *ids, int count)
{
	char text[NOD_ID_TEXT];

	fprintf(out, "%s:", key);
	for (int i = 0; i < count; i++)
		fprintf(out, " %s", nod_id_print(text, ids[i]));
	fputc('\n', out);
}

static void write_culprit(const struct nod_truth *truth, int i, FILE *out)
{
	fprintf(out, "culprit: %s\nculprit-in-map: %s\nfuse: %s\n", truth->culprits[i],
		truth->in_map[i] ? "yes" : "no", truth->fuses[i]);
	write_ids(out, "culprit-ids", truth->ids[i], truth->id_count[i]);
}

int sim_truth_write(const struct nod_truth *truth, FILE *out)
{
	char text[NOD_TIME_TEXT];

	fprintf(out, "# What is true of this invented session; made with it.\n");
	fprintf(out, "situation: %s\nseed: %" PRIu64 "\n", truth->situation, truth->seed);
	fprintf(out, "verdict: %s\nverdict-determined: %s\n", truth->verdict,
		truth->verdict_determined ? "yes" : "no");
	fprintf(out, "role: %s\nnetwork-concerned: %s\n", truth->role,
		*truth->network ? truth->network : "none");
	for (int i = 0; i < truth->culprit_count; i++)
		write_culprit(truth, i, out);
	fprintf(out, "determined: %s\nwhy: %s\n", truth->determined ? "yes" : "no", truth->why);
	if (*truth->note)
		fprintf(out, "note: %s\n", truth->note);
	if (*truth->isolated) {
		fprintf(out, "isolated: %s\n", truth->isolated);
		write_ids(out, "isolated-ids", truth->isolated_ids, truth->isolated_id_count);
	}
	write_time(out, "locked-at", truth->lock);
	fprintf(out, "lock-mark: %s\n", truth->lock_mark);
	write_time(out, "deadline", truth->deadline);
	write_time(out, "recording-start", truth->start);
	write_time(out, "recording-end", truth->end);
	if (truth->has_current)
		fprintf(out, "current-clock: %s s\n",
			nod_duration_print_seconds(text, truth->current_clock, 3));
	if (truth->wakes_heard && truth->culprit_count)
		fprintf(out, "first-in-wake-ups: %u of %u\n", truth->first_of, truth->wakes_heard);
	fprintf(out, "frames: %" PRIu64 "\n", truth->frames);
	write_networks(truth, out);
	return ferror(out) ? -EIO : 0;
}
