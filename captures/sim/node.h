/* SPDX-License-Identifier: MIT */
/* A module's node on one network: what all kinds have in common (power, own
 * reasons to want the network, application frames), and the three kinds of
 * going to sleep. */
#ifndef SIM_NODE_H
#define SIM_NODE_H

#include "sim.h"

/* How a kind of network manages its nodes' sleep. `node` is an index. */
struct sim_scheme {
	void (*started)(struct sim *sim, int node); /* it has booted or woken up */
	void (*wants)(struct sim *sim, int node);   /* node->wants has changed, it is up */
	void (*timer)(struct sim *sim, const struct sim_timer *timer);
};

extern const struct sim_scheme sim_managed, sim_plain;

/* Joins the machines of network management with the nodes. */
void sim_managed_begin(struct sim *sim);

/* Its controller leaves the bus (OSEK). */
void sim_managed_bus_off(struct sim *sim, int node);

void sim_node_set_state(struct sim *sim, int node, enum sim_state state);

/* Starts or stops its application frames. */
void sim_node_application(struct sim *sim, int node, bool on);

/* Asks for the network until then at least. */
void sim_node_need(struct sim *sim, int node, int64_t until);

/* Works out anew whether it wants its network, and says so to its scheme. */
void sim_node_review(struct sim *sim, int node);

/* Begins its start-up; active: on its own account. */
void sim_node_wake(struct sim *sim, int node, bool active);

/* Gives it power (it boots) or takes it away. */
void sim_node_power(struct sim *sim, int node, bool on);

/* Any timer whose index is a node. */
void sim_node_timer(struct sim *sim, const struct sim_timer *timer);

/* A message's turn has come. */
void sim_message_timer(struct sim *sim, const struct sim_timer *timer);

/* Sends it once more, out of turn, when its node is up. */
void sim_message_send(struct sim *sim, int message);

/* The same for all nodes of a module. */
void sim_module_need(struct sim *sim, int module, int64_t until);
void sim_module_hold(struct sim *sim, int module, bool held);
void sim_module_power(struct sim *sim, int module);
void sim_module_load(struct sim *sim, int module);

#endif
