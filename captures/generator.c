/* SPDX-License-Identifier: MIT */
#include "generator.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "sim/habits.h"
#include "sim/map.h"
#include "sim/recorder.h"
#include "sim/stage.h"
#include "sim/truth.h"
#include "sim/world.h"

struct nod_generator {
	struct sim sim;
	char *map;
	struct nod_event event;
	struct nod_truth truth;
};

const char *nod_generator_situation(size_t index)
{
	return index < sim_situation_count ? sim_situations[index].name : NULL;
}

const char *nod_generator_help(size_t index)
{
	return index < sim_situation_count ? sim_situations[index].help : NULL;
}

const char *nod_generator_world(unsigned world)
{
	return world >= 1 && world <= SIM_WORLDS ? sim_worlds[world - 1].help : NULL;
}

static const struct sim_situation *find(const char *name)
{
	for (size_t i = 0; i < sim_situation_count; i++)
		if (!strcmp(sim_situations[i].name, name))
			return &sim_situations[i];
	return NULL;
}

/* The car is the same in all sessions, what happens to it is not. */
static void seed_all(struct sim *sim, uint64_t seed, unsigned session)
{
	sim_random_seed(&sim->invent, seed, 1);
	sim_random_seed(&sim->course, seed, 2 + 16 * (uint64_t)session);
	sim_random_seed(&sim->detail, seed, 3 + 16 * (uint64_t)session);
	sim_random_seed(&sim->faulty, seed, 4 + 16 * (uint64_t)session);
}

static void name_interfaces(struct sim *sim)
{
	sim->interfaces.count = (unsigned)sim->network_count;
	for (int i = 0; i < sim->network_count; i++)
		strcpy(sim->interfaces.names[i], sim->networks[i].interface);
}

static void drop_interventions(struct sim *sim)
{
	bool any = false;

	for (int i = 0; i < sim->action_count; i++) {
		if (!sim_intervenes(sim->actions[i].act))
			continue;
		sim->actions[i].act = SIM_ACT_NOTE;
		sim->actions[i].marked = false;
		any = true;
	}
	if (!any)
		return;
	sim->story.isolated = -1;
	sim->story.note[0] = '\0';
	sim_stage_explain_holder(sim, sim->story.network);
}

static void lay_out(struct sim *sim, const struct sim_situation *situation,
		    const struct nod_generator_options *options)
{
	seed_all(sim, sim->seed, sim->session);
	int network = sim_invent(sim, &situation->wish);

	sim_world_shape(sim, situation->wish.gateway);

	name_interfaces(sim);
	sim_stage_clock(sim);
	sim->story.network = network;
	if (options->good)
		sim_lay_healthy(sim, network);
	else
		situation->lay_out(sim, network);
	if (!strcmp(sim->story.verdict, "kept awake"))
		sim_stage_users(sim);
	if (options->no_interventions)
		drop_interventions(sim);
	if (options->habit != NOD_HABIT_USUAL)
		sim_keep_journal(sim, options->habit, options->late.ns);
	sim_world_disturb(sim);
	sim_invent_thin(sim);
}

static void set_up(struct sim *sim, const struct sim_situation *situation, uint64_t seed,
		   const struct nod_generator_options *options)
{
	sim->situation = situation->name;
	sim->seed = seed;
	sim->world = &sim_worlds[options->world ? options->world - 1 : 0];
	sim->small = options->small;
	sim->frame_target = options->frames;
}

/* Who is to blame and what the map says is settled by the first session of a
 * car; a later one takes it over. Returns the map's text, NULL when memory ran out. */
static char *take_over(struct sim *sim, const struct sim_situation *situation,
		       const struct nod_generator_options *options)
{
	struct sim *first = calloc(1, sizeof(*first));

	if (!first)
		return NULL;
	set_up(first, situation, sim->seed, options);
	lay_out(first, situation, options);
	char *map = sim_map_write(first);
	sim->blamed_count = options->another ? 0 : first->story.culprit_count;
	for (int i = 0; i < sim->blamed_count; i++)
		sim->blamed[i] = first->story.culprits[i];
	lay_out(sim, situation, options);
	for (int m = 0; m < sim->module_count; m++)
		sim->modules[m].in_map = first->modules[m].in_map;
	sim_free(first);
	free(first);
	return map;
}

struct nod_generator *nod_generator_open(const char *name, uint64_t seed,
					 const struct nod_generator_options *options,
					 struct nod_error *err)
{
	static const struct nod_generator_options usual = {.frames = NOD_GENERATOR_FRAMES};
	const struct sim_situation *situation = find(name);

	if (!situation) {
		errno = -nod_error_set(err, EINVAL, "no situation is called \"%s\"", name);
		return NULL;
	}
	if (options && options->world > SIM_WORLDS) {
		errno = -nod_error_set(err, EINVAL, "there is no world %u", options->world);
		return NULL;
	}
	struct nod_generator *generator = calloc(1, sizeof(*generator));
	if (!generator) {
		errno = -nod_error_set(err, ENOMEM, "out of memory");
		return NULL;
	}
	if (!options)
		options = &usual;
	set_up(&generator->sim, situation, seed, options);
	generator->sim.session = options->session;
	if (options->session) {
		generator->map = take_over(&generator->sim, situation, options);
	} else {
		lay_out(&generator->sim, situation, options);
		generator->map = sim_map_write(&generator->sim);
	}
	if (generator->map)
		sim_begin(&generator->sim);
	if (!generator->map) {
		nod_generator_close(generator);
		errno = -nod_error_set(err, ENOMEM, "out of memory");
		return NULL;
	}
	return generator;
}

void nod_generator_close(struct nod_generator *generator)
{
	if (!generator)
		return;
	sim_free(&generator->sim);
	free(generator->map);
	free(generator);
}

const char *nod_generator_map(const struct nod_generator *generator)
{
	return generator->map;
}

const struct nod_interfaces *nod_generator_interfaces(const struct nod_generator *generator)
{
	return &generator->sim.interfaces;
}

bool nod_generator_next(struct nod_generator *generator, const struct nod_event **event)
{
	struct sim *sim = &generator->sim;
	bool running = true;

	*event = &generator->event;
	while (!sim_recorder_deliver(sim, running ? sim->now - 1 : SIM_NEVER, &generator->event)) {
		if (!running)
			return false;
		running = sim_step(sim);
	}
	return true;
}

bool nod_generator_failed(const struct nod_generator *generator)
{
	return generator->sim.timers.failed || generator->sim.recorder.failed;
}

nod_time nod_generator_now(const struct nod_generator *generator)
{
	return (nod_time){sim_recorder_stamp(&generator->sim, generator->sim.now)};
}

nod_time nod_generator_end(const struct nod_generator *generator)
{
	return (nod_time){sim_recorder_stamp(&generator->sim, generator->sim.recorder.stop)};
}

static int subject_of(const struct sim *sim, const char *name, bool *fuse)
{
	*fuse = true;
	for (int i = 0; i < sim->fuse_count; i++)
		if (!strcasecmp(sim->fuses[i].name, name))
			return i;
	*fuse = false;
	for (int i = 0; i < sim->module_count; i++)
		if (!strcasecmp(sim->modules[i].name, name))
			return i;
	return -EINVAL;
}

int nod_generator_act(struct nod_generator *generator, enum nod_mark_kind kind, const char *name,
		      nod_duration after)
{
	struct sim *sim = &generator->sim;
	enum sim_act act = SIM_ACT_NOTE;
	int subject = -1;

	if (kind == NOD_MARK_ISOLATED || kind == NOD_MARK_REFITTED) {
		bool fuse, off = kind == NOD_MARK_ISOLATED;
		subject = subject_of(sim, name, &fuse);
		act = fuse ? (off ? SIM_ACT_ISOLATE : SIM_ACT_REFIT)
			   : (off ? SIM_ACT_UNPLUG : SIM_ACT_REPLUG);
		if (subject < 0)
			return subject;
	} else if (kind == NOD_MARK_TESTER_OFF) {
		act = SIM_ACT_TESTER_OFF;
	} else if (kind != NOD_MARK_NOTE) {
		return -EINVAL;
	}
	struct sim_action *action = sim_add_action(sim, act, sim->now + after.ns, subject);
	if (!action)
		return -ENOSPC;
	if (action->mark_delay < 0)
		action->mark_delay = 0;
	if (kind == NOD_MARK_NOTE)
		strncpy(action->text, name, sizeof(action->text) - 1);
	sim_schedule_action(sim, sim->action_count - 1);
	return 0;
}

void nod_generator_extend(struct nod_generator *generator, nod_duration by)
{
	struct sim *sim = &generator->sim;

	if (sim->recorder.stopped)
		return;
	sim->recorder.stop += by.ns;
	sim_timers_push(&sim->timers, sim->recorder.stop, SIM_TIMER_STOP, 0, 0);
}

const struct nod_truth *nod_generator_truth(struct nod_generator *generator)
{
	sim_truth_tell(&generator->sim, &generator->truth);
	return &generator->truth;
}

bool nod_generator_act_done(const struct nod_generator *generator, size_t index,
			    struct nod_generator_act *act)
{
	const struct sim *sim = &generator->sim;

	for (int i = 0; i < sim->action_count; i++) {
		const struct sim_action *a = &sim->actions[i];
		if (!sim_intervenes(a->act) || a->at >= sim->recorder.stop || index--)
			continue;
		bool fuse = a->act == SIM_ACT_ISOLATE || a->act == SIM_ACT_REFIT;
		act->off = a->act == SIM_ACT_ISOLATE || a->act == SIM_ACT_UNPLUG;
		act->time.ns = sim_recorder_stamp(sim, a->at);
		act->subject = fuse ? sim->fuses[a->subject].name : sim->modules[a->subject].name;
		return true;
	}
	return false;
}
