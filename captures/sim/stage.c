#include "stage.h"

#include <stdarg.h>
#include <stdio.h>

/* 2023-11-14 22:13:20 UTC: a round number, and nobody's recording. */
#define EPOCH (INT64_C(1700000000) * SIM_S)

int64_t sim_stage_seconds(struct sim *sim, int64_t first, int64_t last)
{
	return sim_random_range(&sim->course, first * 1000, last * 1000) * SIM_MS;
}

static void stage_lock_mark(struct sim *sim)
{
	struct sim_recorder *rec = &sim->recorder;
	int64_t draw = sim_random_range(&sim->course, 0, 99);
	struct sim_action *lock = sim_add_action(sim, SIM_ACT_LOCK, sim->lock, -1);

	rec->lock_in_journal = draw < 70;
	rec->lock_in_header = draw >= 70 && draw < 82;
	lock->marked = rec->lock_in_journal;
	if (lock->at + lock->mark_delay < rec->start)
		lock->mark_delay = rec->start - lock->at + SIM_MS;
	if (draw >= 82) /* nothing says when: then people start at the lock */
		rec->start = sim->lock + sim_stage_seconds(sim, -3, 5);
}

static void stage_clamp(struct sim *sim)
{
	struct sim_clamp *clamp = &sim->clamp;
	struct sim_random *random = &sim->course;

	clamp->on = sim_random_chance(random, 60);
	clamp->interval = sim->small ? 2 * SIM_S : sim_random_range(random, 1, 4) * 500 * SIM_MS;
	clamp->noise_ua = sim_random_range(random, 1000, 8000);
	clamp->drift_ua = sim_random_range(random, 5000, 10000);
	clamp->drift_period = sim_random_range(random, 20, 90) * SIM_MIN;
	clamp->offset_ua = sim_random_range(random, -6000, 6000);
	if (sim_random_chance(random, 50))
		clamp->clock_offset = sim_stage_seconds(sim, -40, 90);
}

void sim_stage_clock(struct sim *sim)
{
	struct sim_recorder *rec = &sim->recorder;

	sim->lock = sim->small ? sim_stage_seconds(sim, 12, 20) : sim_stage_seconds(sim, 30, 150);
	rec->epoch = EPOCH + sim_stage_seconds(sim, 0, 3000000);
	if (sim->session) /* later than any first one */
		rec->epoch += (40 + (int64_t)sim->session * 37) * 86400 * SIM_S;
	rec->start = sim->lock - sim_stage_seconds(sim, 2, sim->small ? 8 : 28);
	if (sim_random_chance(&sim->course, 15))
		rec->start = sim->lock + sim_stage_seconds(sim, 1, 15);
	stage_lock_mark(sim);
	stage_clamp(sim);
	sim_stage_end_after_deadline(sim, sim->small ? sim_stage_seconds(sim, 20, 60)
						     : sim_stage_seconds(sim, 90, 900));
	sim->story = (struct sim_story){.verdict = "sleeps in time",
					.role = "none",
					.isolated = -1,
					.verdict_determined = true,
					.determined = true};
	sim->map.wrong_from = sim->map.wrong_to = -1;
	sim->map.nm_ids = sim_random_chance(&sim->course, 25);
}

int64_t sim_stage_deadline(const struct sim *sim)
{
	return sim->lock + sim->sleeps_within;
}

void sim_stage_end_after_deadline(struct sim *sim, int64_t after)
{
	sim->recorder.stop = sim_stage_deadline(sim) + after;
}

static bool is_culprit(const struct sim *sim, int module)
{
	for (int i = 0; i < sim->story.culprit_count; i++)
		if (sim->story.culprits[i] == module)
			return true;
	return false;
}

int sim_stage_pick(struct sim *sim, int network)
{
	if (sim->blamed_used < sim->blamed_count)
		return sim->blamed[sim->blamed_used++];

	int start = (int)sim_random_range(&sim->course, 0, sim->node_count - 1);

	for (int k = 0; k < sim->node_count; k++) {
		const struct sim_node *node = &sim->nodes[(start + k) % sim->node_count];
		unsigned tags = sim->modules[node->module].tags;
		if (node->network == network && !is_culprit(sim, node->module) &&
		    !(tags & (SIM_TAG_GATEWAY | SIM_TAG_AIRBAG | SIM_TAG_HIGH_VOLTAGE)))
			return node->module;
	}
	return -1;
}

/* Who is passive cannot ask for the network. */
void sim_stage_let_ask(struct sim *sim, int module)
{
	for (int i = 0; i < sim->modules[module].node_count; i++)
		sim->nodes[sim->modules[module].first_node + i].passive = false;
}

void sim_stage_slow(struct sim *sim, int module, int64_t percent)
{
	sim_stage_let_ask(sim, module);
	sim->modules[module].ready_after = sim->sleeps_within * percent / 100;
}

static struct sim_fault *put_fault(struct sim *sim, enum sim_fault_kind kind, int module)
{
	struct sim_fault *fault = &sim->faults[sim->fault_count++];

	*fault = (struct sim_fault){.kind = kind, .module = module, .until = SIM_NEVER};
	sim_stage_let_ask(sim, module);
	return fault;
}

/* ... and its module is to blame. */
static struct sim_fault *add_fault(struct sim *sim, enum sim_fault_kind kind, int module)
{
	struct sim_fault *fault = put_fault(sim, kind, module);

	if (!is_culprit(sim, module) && sim->story.culprit_count < 2)
		sim->story.culprits[sim->story.culprit_count++] = module;
	return fault;
}

void sim_stage_need(struct sim *sim, int module)
{
	put_fault(sim, SIM_FAULT_HOLDER, module);
}

struct sim_fault *sim_stage_hold(struct sim *sim, int module)
{
	return add_fault(sim, SIM_FAULT_HOLDER, module);
}

struct sim_fault *sim_stage_wake(struct sim *sim, int module, int64_t interval, int64_t hold)
{
	struct sim_fault *fault = add_fault(sim, SIM_FAULT_WAKER, module);

	fault->interval = interval;
	fault->hold = hold;
	fault->from = sim_stage_deadline(sim) - sim->sleeps_within * 3 / 10 + interval / 2;
	return fault;
}

void sim_stage_users(struct sim *sim)
{
	struct sim_random random; /* of its own: whoever it is, all else stays as it is */

	sim_random_seed(&random, sim->seed, 7);
	if (!sim->story.culprit_count || sim->small || !sim_random_chance(&random, 25) ||
	    sim->fault_count == SIM_FAULTS)
		return;
	int m = (int)sim_random_range(&random, 0, sim->module_count - 1);
	if (m == sim->gateway || is_culprit(sim, m))
		return;
	sim->faults[sim->fault_count++] =
		(struct sim_fault){.kind = SIM_FAULT_USER,
				   .module = m,
				   .from = sim->lock + sim->sleeps_within * 7 / 10,
				   .until = SIM_NEVER,
				   .interval = sim_random_range(&random, 120, 500) * SIM_S,
				   .hold = sim_random_range(&random, 3, 25) * SIM_S};
}

struct sim_window *sim_stage_window(struct sim *sim, enum sim_window_kind kind, int64_t from,
				    int64_t until)
{
	struct sim_window *window = &sim->recorder.windows[sim->recorder.window_count++];

	*window = (struct sim_window){.kind = kind, .network = -1, .from = from, .until = until};
	return window;
}

void sim_stage_why(struct sim *sim, const char *format, ...)
{
	va_list args;

	va_start(args, format);
	vsnprintf(sim->story.why, sizeof(sim->story.why), format, args);
	va_end(args);
}

void sim_stage_note(struct sim *sim, const char *format, ...)
{
	va_list args;

	va_start(args, format);
	vsnprintf(sim->story.note, sizeof(sim->story.note), format, args);
	va_end(args);
}

void sim_stage_story(struct sim *sim, const char *verdict, const char *role)
{
	sim->story.verdict = verdict;
	sim->story.role = role;
}

bool sim_stage_stands_out(const struct sim *sim, int n)
{
	for (int i = 0; i < sim->node_count; i++) {
		const struct sim_node *node = &sim->nodes[i];
		int cyclic = 0;
		for (int k = 0; k < node->message_count; k++)
			cyclic += sim->messages[node->first_message + k].rhythm != SIM_ON_EVENT;
		if (node->network == n && is_culprit(sim, node->module) && cyclic >= 2)
			return sim->networks[n].thins;
	}
	return false;
}

void sim_stage_explain_holder(struct sim *sim, int n)
{
	const struct sim_network *net = &sim->networks[n];

	sim->story.determined = true;
	if (net->scheme == NOD_NM_AUTOSAR) {
		sim_stage_why(sim,
			      "after the others are ready to sleep only it sends NM PDUs on %s",
			      net->name);
	} else if (net->scheme == NOD_NM_OSEK) {
		sim_stage_why(sim, "only its ring messages on %s lack the sleep indication",
			      net->name);
	} else if (net->follow == SIM_FOLLOW_TIMER) {
		sim_stage_why(sim, "the others on %s stop by themselves, it talks on alone",
			      net->name);
	} else if (sim_stage_stands_out(sim, n)) {
		sim_stage_why(sim, "once the others on %s have thinned out, only it keeps its messages",
			      net->name);
	} else {
		sim->story.determined = false;
		sim_stage_why(sim, "no network management on %s: followers talk on as it does",
			      net->name);
	}
}
