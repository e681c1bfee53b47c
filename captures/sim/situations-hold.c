/* SPDX-License-Identifier: MIT */
/* Networks that are kept awake. */
#include "stage.h"

static void hold_on(struct sim *sim, int network)
{
	int module = sim_stage_pick(sim, network);

	sim_stage_story(sim, "kept awake", "holder");
	sim_stage_hold(sim, module);
	sim_stage_explain_holder(sim, network);
}

void sim_lay_holder(struct sim *sim, int network)
{
	hold_on(sim, network);
}

void sim_lay_spread(struct sim *sim, int network)
{
	hold_on(sim, network);
	sim_stage_note(sim, "the gateway keeps the other networks awake on behalf of %s",
		       sim->networks[network].name);
}

void sim_lay_two_holders(struct sim *sim, int network)
{
	hold_on(sim, network);
	int second = sim_stage_pick(sim, network);
	if (second >= 0)
		sim_stage_hold(sim, second);
	const struct sim_network *net = &sim->networks[network];
	if (net->scheme == NOD_NM_AUTOSAR)
		sim_stage_why(sim, "two nodes go on sending NM PDUs on %s", net->name);
	else if (net->scheme == NOD_NM_OSEK)
		sim_stage_why(sim, "two nodes of the ring on %s lack the sleep indication",
			      net->name);
	else if (net->follow == SIM_FOLLOW_TIMER)
		sim_stage_why(sim, "the others on %s stop by themselves, two talk on", net->name);
}

void sim_lay_two_networks(struct sim *sim, int network)
{
	int other = (network + 1) % sim->network_count;

	hold_on(sim, network);
	bool first = sim->story.determined;
	sim_stage_hold(sim, sim_stage_pick(sim, other));
	sim_stage_explain_holder(sim, other);
	sim->story.determined &= first;
	sim_stage_why(sim, "each is to be found on its own network (%s, %s)%s",
		      sim->networks[network].name, sim->networks[other].name,
		      sim->story.determined ? "" : ", but followers hide one of them");
}

/* Everybody stops one after the other; the last one does so far too late. */
void sim_lay_staggered(struct sim *sim, int network)
{
	int64_t late = sim->small ? 15 : sim_random_range(&sim->course, 60, 500);

	hold_on(sim, network);
	sim->faults[0].until = sim_stage_deadline(sim) + late * SIM_S;
	sim_stage_end_after_deadline(sim, (late + (sim->small ? 30 : 240)) * SIM_S);
	for (int m = 0; m < sim->module_count; m++)
		sim->modules[m].ready_after = sim->sleeps_within *
					      sim_random_range(&sim->course, 3, 60) / 100;
	sim_stage_note(sim, "it stops %d s after the deadline", (int)late);
}

/* Nothing in it moves in a parked car. */
static void rest(struct sim_message *message)
{
	message->event_parked = false;
	message->payload.value_parked = false;
	message->payload.flicker_percent = 0;
	message->payload.page_count = 0;
	message->payload.toggle_bit = -1;
}

/* Its data and its events give it away, if nobody else's data move. */
static void move_alone(struct sim *sim, int module, bool alone)
{
	const struct sim_node *own = &sim->nodes[sim->modules[module].first_node];

	for (int i = 0; i < sim->message_count; i++) {
		struct sim_message *message = &sim->messages[i];
		const struct sim_node *node = &sim->nodes[message->node];
		if (node->module != module && node->network == own->network && alone)
			rest(message);
	}
	struct sim_message *message = &sim->messages[own->first_message];
	message->rhythm = SIM_MIXED;
	message->event_parked = true;
	int bit = sim_payload_free_bit(&message->payload, &sim->course);
	message->payload.toggle_bit = (int16_t)bit;
	message->payload.toggle_every = (uint8_t)sim_random_range(&sim->course, 2, 40);
}

void sim_lay_payload(struct sim *sim, int network)
{
	bool alone = sim_random_chance(&sim->course, 60);

	hold_on(sim, network);
	move_alone(sim, sim->story.culprits[0], alone);
	sim->story.determined = alone;
	sim_stage_why(sim, alone ? "while parked only its data change and only it sends on event"
				 : "its data change and it sends on event, but others' data change "
				   "slowly, too");
}

/* A node whose NM sending was disabled and never enabled again: its NM-Timeout
 * stands still, it hangs in ready sleep and goes on with its application frames
 * (an open CanNm manual). They wake whoever has fallen asleep, again and again. */
void sim_lay_hangs(struct sim *sim, int network)
{
	hold_on(sim, network);
	struct sim_node *node = &sim->nodes[sim->modules[sim->story.culprits[0]].first_node];
	sim->fault_count = 0;
	node->nm.mute_from = sim->lock;
	sim_stage_why(sim, "it alone goes on talking while the others on %s have fallen silent",
		      sim->networks[network].name);
	sim_stage_note(sim, "it hangs in ready sleep without NM PDUs; its frames wake the others");
}

/* Everybody slows down once the car is parked, but for the culprit. */
void sim_lay_unusual_period(struct sim *sim, int network)
{
	hold_on(sim, network);
	int64_t slower = sim_random_range(&sim->course, 2, 10);
	sim->networks[network].slower = (int)slower;
	for (int i = 0; i < sim->message_count; i++) {
		struct sim_message *message = &sim->messages[i];
		const struct sim_node *node = &sim->nodes[message->node];
		if (node->network != network || message->rhythm == SIM_ON_EVENT)
			continue;
		message->period_parked = message->period;
		if (node->module != sim->story.culprits[0])
			message->period_parked *= slower;
	}
	sim->story.determined = sim->recorder.start + 5 * SIM_S < sim->lock;
	sim_stage_why(sim, "it alone keeps the pace of the car in use");
	sim_stage_note(sim, "the others' periods grow %d times when parked, its own do not",
		       (int)slower);
}

void sim_lay_stuck_input(struct sim *sim, int network)
{
	hold_on(sim, network);
	int module = sim->story.culprits[0];
	for (int tries = 0; tries < 40 && !sim->modules[module].inputs[0]; tries++)
		module = sim_stage_pick(sim, network);
	sim->story.culprits[0] = sim->faults[0].module = module;
	struct sim_message *message =
		&sim->messages[sim->nodes[sim->modules[module].first_node].first_message];
	message->payload.toggle_bit = (int16_t)sim_payload_free_bit(&message->payload,
								    &sim->course);
	message->payload.toggle_every = (uint8_t)sim_random_range(&sim->course, 1, 25);
	const char *input = sim->modules[module].inputs[0];
	sim_stage_note(sim, "bit %d of its first message goes to and fro (%s)",
		       message->payload.toggle_bit, input ? input : "an input");
	if (input && sim_random_chance(&sim->course, 50))
		sim_add_action(sim, SIM_ACT_TOUCH,
			       sim_stage_deadline(sim) + sim_stage_seconds(sim, 5, 20), module);
}

void sim_lay_limp_home(struct sim *sim, int network)
{
	hold_on(sim, network);
	int n = sim->modules[sim->story.culprits[0]].first_node;
	sim->nodes[n].nm.deaf_from = sim->lock;
	sim_stage_why(sim, "it is in limp home on %s and never gives the sleep indication",
		      sim->networks[network].name);
}

void sim_lay_gateway_holder(struct sim *sim, int network)
{
	bool silent = false;

	sim_stage_story(sim, "kept awake", "holder");
	sim_stage_hold(sim, sim->gateway);
	sim_stage_explain_holder(sim, network);
	for (int n = 0; n < sim->network_count; n++)
		silent |= sim->networks[n].scheme == NOD_NM_NONE &&
			  sim->networks[n].follow != SIM_FOLLOW_TIMER;
	sim_stage_note(sim, "it holds all its networks");
	if (!silent)
		return;
	sim->story.determined = false;
	sim_stage_why(sim, "on a network without NM followers could be what the gateway passes on");
}

/* The adapter hangs behind a gateway that passes nothing on from the network
 * that is awake. */
void sim_lay_hidden(struct sim *sim, int network)
{
	struct sim_node *gateway = &sim->nodes[sim->modules[sim->gateway].first_node];

	hold_on(sim, network);
	sim->networks[network].hidden = true;
	for (int i = 0; i < sim->modules[sim->gateway].node_count; i++)
		gateway[i].wake_on_bus = true;
	sim->gateway = -1; /* it does not pass on wakefulness either */
	sim->clamp.on = true;
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "nothing of %s can be heard; only the current tells of it",
		      sim->networks[network].name);
}
