/* SPDX-License-Identifier: MIT */
/* What everybody comes with: no network management, all talk on, one input has a fault. */
#include "stage.h"

static struct sim_message *first_message(struct sim *sim, int module)
{
	return &sim->messages[sim->nodes[sim->modules[module].first_node].first_message];
}

static int hold_by_input(struct sim *sim, int network)
{
	int module = sim_stage_pick(sim, network);

	sim_stage_story(sim, "kept awake", "holder");
	sim_stage_hold(sim, module);
	struct sim_payload *payload = &first_message(sim, module)->payload;
	payload->toggle_bit = (int16_t)sim_payload_free_bit(payload, &sim->course);
	payload->toggle_every = 0;
	sim_stage_explain_holder(sim, network);
	return module;
}

/* Innocents on the network whose data show something like a switch. */
static int blinkers(const struct sim *sim, int network, int culprit)
{
	int count = 0;

	for (int i = 0; i < sim->message_count; i++) {
		const struct sim_message *m = &sim->messages[i];
		const struct sim_node *node = &sim->nodes[m->node];
		count += node->network == network && node->module != culprit &&
			 (m->payload.toggle_bit >= 0 || m->payload.flicker_percent ||
			  m->event_parked);
	}
	return count;
}

/* A contact that chatters: it flips, bounces, and the module tells it at once. */
void sim_lay_input_toggles(struct sim *sim, int network)
{
	int module = hold_by_input(sim, network);
	struct sim_message *message = first_message(sim, module);
	struct sim_fault *fault = &sim->faults[sim->fault_count++];

	*fault = (struct sim_fault){.kind = SIM_FAULT_INPUT,
				    .module = module,
				    .from = sim->lock + SIM_S,
				    .until = SIM_NEVER,
				    .interval = sim_stage_seconds(sim, 2, sim->small ? 5 : 60),
				    .sporadic = true,
				    .tells = sim_random_chance(&sim->course, 60)};
	int others = blinkers(sim, network, module);
	const char *input = sim->modules[module].inputs[0];
	sim_stage_note(sim,
		       "bit %d of its first message is a switch's (%s), %s; %d like it elsewhere",
		       message->payload.toggle_bit, input ? input : "an input",
		       fault->tells ? "sent at once" : "sent with the next frame", others);
	if (sim->story.determined || message->payload.toggle_bit < 0)
		return;
	sim->story.determined = fault->tells || others == 0;
	sim_stage_why(sim,
		      sim->story.determined
			      ? "only in its data a single bit comes and goes as a contact's does"
			      : "others have single bits that come and go, too");
}

/* It stands as in a car in use; who waits for it keeps its whole message set. */
void sim_lay_input_sticks(struct sim *sim, int network)
{
	struct sim_network *net = &sim->networks[network];

	if (!net->thins)
		net->thinner = (int)sim_random_range(&sim->course, 2, 8);
	net->thins = true;
	int module = hold_by_input(sim, network);
	struct sim_payload *payload = &first_message(sim, module)->payload;
	sim_payload_flip(payload);
	sim_stage_note(sim, "bit %d of its first message stands otherwise than in the sound car",
		       payload->toggle_bit);
}

/* Its frames start the others, which stop soon, but never for as long as a sleep takes. */
void sim_lay_pauses(struct sim *sim, int network)
{
	int module = sim_stage_pick(sim, network);
	struct sim_network *net = &sim->networks[network];

	sim_stage_story(sim, "kept awake", "holder");
	struct sim_fault *fault = sim_stage_wake(
		sim, module, sim_random_range(&sim->course, 1900, 2300) * SIM_MS, 100 * SIM_MS);
	fault->from = sim->lock;
	net->follow = SIM_FOLLOW_TIMER;
	net->rouse_after = 400 * SIM_MS;
	for (int i = 0; i < sim->node_count; i++) {
		struct sim_node *node = &sim->nodes[i];
		if (node->network != network)
			continue;
		node->run_time = sim_random_range(&sim->course, 300, 700) * SIM_MS;
		node->startup = sim_random_range(&sim->course, 20, 250) * SIM_MS;
		node->wake_on_bus = true;
	}
	sim_stage_why(sim, "after each pause of %s only it speaks first, and the others start up",
		      net->name);
}
