/* SPDX-License-Identifier: MIT */
/* What the person in front of the car does, and what it stirs up. */
#include <stdio.h>
#include <string.h>

#include "node.h"
#include "recorder.h"
#include "run.h"

enum nod_mark_kind sim_action_mark(enum sim_act act)
{
	static const enum nod_mark_kind kinds[] = {
		[SIM_ACT_LOCK] = NOD_MARK_LOCKED,
		[SIM_ACT_UNLOCK] = NOD_MARK_UNLOCKED,
		[SIM_ACT_DOOR] = NOD_MARK_DOOR,
		[SIM_ACT_KEY] = NOD_MARK_KEY,
		[SIM_ACT_TESTER_ON] = NOD_MARK_TESTER_ON,
		[SIM_ACT_TESTER_OFF] = NOD_MARK_TESTER_OFF,
		[SIM_ACT_ISOLATE] = NOD_MARK_ISOLATED,
		[SIM_ACT_REFIT] = NOD_MARK_REFITTED,
		[SIM_ACT_UNPLUG] = NOD_MARK_ISOLATED,
		[SIM_ACT_REPLUG] = NOD_MARK_REFITTED,
		[SIM_ACT_TOUCH] = NOD_MARK_TOUCHED,
		[SIM_ACT_NOTE] = NOD_MARK_NOTE,
	};
	return kinds[act];
}

static const char *subject_text(const struct sim *sim, enum sim_act act, int subject)
{
	if (subject < 0)
		return "";
	if (act == SIM_ACT_ISOLATE || act == SIM_ACT_REFIT)
		return sim->fuses[subject].name;
	if (act == SIM_ACT_TOUCH && sim->modules[subject].inputs[0])
		return sim->modules[subject].inputs[0];
	return sim->modules[subject].name;
}

struct sim_action *sim_add_action(struct sim *sim, enum sim_act act, int64_t at, int subject)
{
	if (sim->action_count == SIM_ACTIONS)
		return NULL;
	struct sim_action *action = &sim->actions[sim->action_count++];
	*action = (struct sim_action){.act = act, .at = at, .subject = subject, .marked = true};
	/* Nobody enters a mark in the very second in which the thing is done. */
	action->mark_delay = sim_random_range(&sim->faulty, -1000, 4000) * SIM_MS;
	snprintf(action->text, sizeof(action->text), "%s", subject_text(sim, act, subject));
	return action;
}

void sim_schedule_action(struct sim *sim, int index)
{
	const struct sim_action *action = &sim->actions[index];

	sim_timers_push(&sim->timers, action->at, SIM_TIMER_ACTION, index, 0);
	if (action->marked)
		sim_timers_push(&sim->timers, action->at + action->mark_delay, SIM_TIMER_MARK,
				index, 0);
}

static void need_tagged(struct sim *sim, unsigned tags, int64_t from_s, int64_t to_s)
{
	for (int m = 0; m < sim->module_count; m++)
		if (sim->modules[m].tags & tags)
			sim_module_need(sim, m,
					sim->now + sim_random_range(&sim->course, from_s, to_s) *
							   SIM_S);
}

/* After an opened door the car begins its way to sleep anew. */
static void settle_again(struct sim *sim, int64_t percent)
{
	for (int m = 0; m < sim->module_count; m++)
		sim_module_need(sim, m, sim->now + sim->modules[m].ready_after * percent / 100);
}

static void power(struct sim *sim)
{
	for (int m = 0; m < sim->module_count; m++)
		sim_module_power(sim, m);
	need_tagged(sim, SIM_TAG_BODY_MASTER, 10, 40); /* the bonnet, the cabin door */
}

/* An input moves a bit in its module's data, and the module says so. */
static void touch(struct sim *sim, int m)
{
	struct sim_node *node = &sim->nodes[sim->modules[m].first_node];
	struct sim_payload *payload = &sim->messages[node->first_message].payload;
	int bit = sim_payload_free_bit(payload, &sim->course);

	if (payload->toggle_bit >= 0)
		bit = payload->toggle_bit;
	if (bit >= 0)
		payload->data[bit / 8] ^= (uint8_t)(1 << bit % 8);
	sim_module_need(sim, m, sim->now + sim_random_range(&sim->course, 5, 25) * SIM_S);
}

static void tester(struct sim *sim, bool on)
{
	sim->tester.on = on;
	if (on)
		sim_set_timer(sim, 0, SIM_TIMER_TESTER, 0, 0);
}

void sim_action_timer(struct sim *sim, const struct sim_timer *timer)
{
	const struct sim_action *action = &sim->actions[timer->index];
	int subject = action->subject;

	switch (action->act) {
	case SIM_ACT_LOCK:
		sim->parked = true;
		break;
	case SIM_ACT_UNLOCK:
		sim->parked = false;
		settle_again(sim, 100);
		break;
	case SIM_ACT_DOOR:
		need_tagged(sim, SIM_TAG_ENTRY, 20, 120);
		settle_again(sim, sim_random_range(&sim->course, 20, 100));
		break;
	case SIM_ACT_KEY:
		need_tagged(sim, SIM_TAG_ENTRY, 8, 30);
		break;
	case SIM_ACT_TESTER_ON:
	case SIM_ACT_TESTER_OFF:
		tester(sim, action->act == SIM_ACT_TESTER_ON);
		break;
	case SIM_ACT_ISOLATE:
	case SIM_ACT_REFIT:
		sim->fuses[subject].fitted = action->act == SIM_ACT_REFIT;
		power(sim);
		break;
	case SIM_ACT_UNPLUG:
	case SIM_ACT_REPLUG:
		sim->modules[subject].unplugged = action->act == SIM_ACT_UNPLUG;
		power(sim);
		break;
	case SIM_ACT_TOUCH:
		touch(sim, subject);
		break;
	case SIM_ACT_NOTE:
		break;
	}
}
