/* The culprit: what makes a module hold or wake its network. */
#include "node.h"
#include "run.h"

static int64_t next_interval(struct sim *sim, const struct sim_fault *fault)
{
	if (fault->sporadic)
		return sim_random_spread(&sim->course, fault->interval / 4, fault->interval * 2);
	return fault->interval +
	       sim_random_range(&sim->course, -fault->interval, fault->interval) / 12;
}

void sim_fault_begin(struct sim *sim)
{
	for (int i = 0; i < sim->fault_count; i++) {
		sim_timers_push(&sim->timers, sim->faults[i].from, SIM_TIMER_FAULT, i, 0);
		if (sim->faults[i].kind == SIM_FAULT_HOLDER && sim->faults[i].until != SIM_NEVER)
			sim_timers_push(&sim->timers, sim->faults[i].until, SIM_TIMER_FAULT, i, 0);
	}
}

void sim_fault_timer(struct sim *sim, const struct sim_timer *timer)
{
	const struct sim_fault *fault = &sim->faults[timer->index];

	if (fault->kind == SIM_FAULT_HOLDER) {
		sim_module_hold(sim, fault->module, sim->now < fault->until);
		return;
	}
	if (sim->now >= fault->until)
		return;
	sim_module_need(sim, fault->module, sim->now + fault->hold);
	sim_set_timer(sim, next_interval(sim, fault), SIM_TIMER_FAULT, timer->index, 0);
}
