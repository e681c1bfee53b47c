/* SPDX-License-Identifier: MIT */
/* Recordings of loggers that do not say when they did not listen, and of cars in use. */
#include "stage.h"

/* Not our recorder: it writes frames and the end, nothing else. */
static void be_a_logger(struct sim *sim)
{
	sim->recorder.foreign = true;
	sim->recorder.start = sim->lock + sim_stage_seconds(sim, 1, 5);
	sim->clamp.on = false;
}

static void hold(struct sim *sim, int network)
{
	sim_stage_story(sim, "kept awake", "holder");
	sim_stage_hold(sim, sim_stage_pick(sim, network));
	sim_stage_explain_holder(sim, network);
}

/* What is known of the car in spite of its holes. */
static struct sim_window *hole(struct sim *sim, int64_t share, int64_t length)
{
	int64_t from = sim->lock + sim->sleeps_within * share / 100;

	return sim_stage_window(sim, SIM_WINDOW_HOLE, from, from + length);
}

/* The supply fails: everything stops at a torn line, and goes on much later. */
void sim_lay_power_lost(struct sim *sim, int network)
{
	hold(sim, network);
	be_a_logger(sim);
	int64_t length = sim_stage_seconds(sim, 20, sim->small ? 40 : 300);
	struct sim_window *w = hole(sim, sim_random_range(&sim->course, 20, 70), length);
	w->torn = sim_random_chance(&sim->course, 70);
	sim_stage_note(sim, "the logger has no power for %d s%s", (int)(length / SIM_S),
		       w->torn ? ", and its last line is torn" : "");
}

/* One adapter, of one network or of all, is away for seconds, again and again. */
void sim_lay_adapter_drops(struct sim *sim, int network)
{
	bool all = sim_random_chance(&sim->course, 50);
	int times = (int)sim_random_range(&sim->course, 1, 3);

	hold(sim, network);
	be_a_logger(sim);
	for (int i = 0; i < times; i++) {
		struct sim_window *w = hole(sim, 20 + 25 * i, sim_stage_seconds(sim, 8, 14));
		w->network = all ? -1 : network;
	}
	sim_stage_note(sim, "the adapter of %s drops out %d times",
		       all ? "all networks" : sim->networks[network].name, times);
}

/* A new file is begun, and that takes some seconds. */
void sim_lay_rotation(struct sim *sim, int network)
{
	hold(sim, network);
	be_a_logger(sim);
	for (int i = 0; i < 3; i++)
		hole(sim, 25 + 20 * i, sim_stage_seconds(sim, 6, 9));
	sim_stage_note(sim, "the logger begins a new file three times, for some seconds");
}

/* The USB port stalls; what was waiting comes all at once, with the time of then. */
void sim_lay_usb_stall(struct sim *sim, int network)
{
	hold(sim, network);
	be_a_logger(sim);
	hole(sim, sim_random_range(&sim->course, 30, 80), sim_stage_seconds(sim, 7, 15))->late =
		true;
	sim_stage_note(sim, "the adapter stalls, and its frames come late");
}

/* The plug is pulled at the car, and the logger runs on. */
void sim_lay_plug_pulled(struct sim *sim, int network)
{
	int64_t from = sim->lock +
		       sim->sleeps_within * sim_random_range(&sim->course, 15, 35) / 100;

	be_a_logger(sim);
	sim_stage_slow(sim, sim_stage_pick(sim, network), 60);
	sim_stage_window(sim, SIM_WINDOW_HOLE, from, sim->recorder.stop + SIM_S);
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "nothing is known of the time after the plug was pulled");
}

/* It is used up to the end. */
void sim_lay_in_use(struct sim *sim, int network)
{
	(void)network;
	be_a_logger(sim);
	sim->recorder.start = 2 * SIM_S;
	sim->recorder.stop = sim->lock - 2 * SIM_S;
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "the car is in use");
}

/* Switched on for longer than nodoff's own deadline, which is all there is. */
void sim_lay_never_parked(struct sim *sim, int network)
{
	(void)network;
	sim->sleeps_within_given = false;
	sim->lock = sim->actions[0].at = sim_random_range(&sim->course, 43, 55) * SIM_MIN;
	be_a_logger(sim);
	sim->recorder.lock_in_header = sim->recorder.lock_in_journal = false;
	sim->recorder.start = 2 * SIM_S;
	sim->recorder.stop = sim->lock - 2 * SIM_S;
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "the car is switched on, and no map says how long it may take to sleep");
}

/* Somebody is at the car again and again, and writes nothing down. */
void sim_lay_operator(struct sim *sim, int network)
{
	int64_t at = sim_stage_deadline(sim);
	int times = (int)sim_random_range(&sim->course, 3, 6);

	(void)network;
	be_a_logger(sim);
	for (int i = 0; i < times; i++) {
		at += sim_stage_seconds(sim, sim->small ? 30 : 120, sim->small ? 90 : 900);
		struct sim_action *action = sim_add_action(
			sim, sim_random_chance(&sim->course, 50) ? SIM_ACT_KEY : SIM_ACT_DOOR, at,
			-1);
		action->marked = false;
	}
	sim->recorder.stop = at + sim->sleeps_within;
	sim_stage_story(sim, "woken again", "disturbance");
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "who opens a door and writes nothing down looks like a fault");
}

/* One module on a bench, switched on twice: neither parked nor asleep in between. */
void sim_lay_bench(struct sim *sim, int network)
{
	int unit = sim_stage_pick(sim, network);
	int64_t at = 3 * SIM_S;
	static const enum sim_act acts[] = {SIM_ACT_REPLUG, SIM_ACT_UNPLUG, SIM_ACT_REPLUG};

	for (int m = 0; m < sim->module_count; m++)
		sim->modules[m].unplugged = true;
	sim_add_action(sim, SIM_ACT_UNPLUG, 0, unit)->marked = false;
	for (size_t i = 0; i < sizeof(acts) / sizeof(acts[0]); i++) {
		sim_add_action(sim, acts[i], at, unit)->marked = false;
		at += sim_stage_seconds(sim, 12, sim->small ? 40 : 200);
	}
	sim_stage_need(sim, unit);
	be_a_logger(sim);
	sim->recorder.lock_in_header = sim->recorder.lock_in_journal = false;
	sim->recorder.start = SIM_S;
	sim->recorder.stop = at;
	sim->actions[0].marked = false; /* nobody locks a bench */
	sim->lock = sim->actions[0].at = at + SIM_S;
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "a module on a bench, switched on twice");
}

/* Who tells the others of each key press, or passes on that somebody came. */
static int relay(struct sim *sim, int network)
{
	for (int i = 0; i < sim->node_count; i++)
		if (sim->nodes[i].network == network &&
		    sim->modules[sim->nodes[i].module].tags & SIM_TAG_BODY_MASTER)
			return sim->nodes[i].module;
	if (sim->networks[network].follow == SIM_FOLLOW_MASTER)
		return sim->nodes[sim->networks[network].master].module;
	return sim_stage_pick(sim, network);
}

/* A master announces each press of a button, and with it speaks first in every wake-up. */
void sim_lay_relay_master(struct sim *sim, int network)
{
	int64_t at = sim_stage_deadline(sim);
	int times = (int)sim_random_range(&sim->course, 3, 6);
	int master = relay(sim, network);
	struct sim_node *node = &sim->nodes[sim->modules[master].first_node];
	struct sim_payload *payload = &sim->messages[node->first_message].payload;

	be_a_logger(sim);
	sim_stage_let_ask(sim, master);
	payload->toggle_bit = (int16_t)sim_payload_free_bit(payload, &sim->course);
	payload->toggle_every = 0; /* the button moves it */
	for (int i = 0; i < times; i++) {
		at += sim_stage_seconds(sim, sim->small ? 30 : 120, sim->small ? 90 : 900);
		sim_add_action(sim, SIM_ACT_TOUCH, at, master)->marked = false;
	}
	sim->recorder.stop = at + sim->sleeps_within;
	sim_stage_story(sim, "woken again", "disturbance");
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "%s only tells the others what somebody at the car presses",
		      sim->modules[master].name);
}
