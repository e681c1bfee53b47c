/* SPDX-License-Identifier: MIT */
#include "map.h"

#include <stdio.h>

#include "world.h"

static const char *id_text(char buf[NOD_ID_TEXT], uint32_t id)
{
	return nod_id_print(buf, id);
}

static void write_management(FILE *out, const struct sim_network *net)
{
	static const char *const words[] = {[NOD_NM_NONE] = "none",
					    [NOD_NM_AUTOSAR] = "autosar",
					    [NOD_NM_OSEK] = "osek",
					    [NOD_NM_J1939] = "j1939"};
	char first[NOD_ID_TEXT], last[NOD_ID_TEXT];

	if (!net->management_given)
		return;
	fprintf(out, "    management: { scheme: %s", words[net->scheme]);
	if (net->scheme == NOD_NM_AUTOSAR || net->scheme == NOD_NM_OSEK)
		fprintf(out, ", ids: %s-%s", id_text(first, net->nm_base),
			id_text(last, net->nm_base + (uint32_t)net->nm_span - 1));
	if (net->scheme == NOD_NM_AUTOSAR)
		fprintf(out, ", node byte: %d, control byte: %d", net->node_byte,
			net->control_byte);
	if (net->partial_first >= 0)
		fprintf(out, ", partial network bytes: %d-%d", net->partial_first,
			net->partial_first + 1);
	fputs(" }\n", out);
}

static void write_networks(FILE *out, const struct sim *sim)
{
	fputs("networks:\n", out);
	for (int i = 0; i < sim->network_count; i++) {
		const struct sim_network *net = &sim->networks[i];
		fprintf(out, "  %s:\n    interfaces: [%s]\n    bitrate: %u\n", net->name,
			net->interface, net->bitrate);
		if (net->fd)
			fputs("    data bitrate: 2000000\n", out);
		if (sim->sleeps_within_given)
			fprintf(out, "    sleeps within: %d min\n",
				(int)(sim->sleeps_within / SIM_MIN));
		if (net->quiet_time_given)
			fprintf(out, "    quiet time: %d s\n", (int)(net->quiet_time / SIM_S));
		write_management(out, net);
	}
}

static void write_fuses(FILE *out, const struct sim *sim)
{
	fputs("fuses:\n", out);
	for (int i = 0; i < sim->fuse_count; i++) {
		const struct sim_fuse *fuse = &sim->fuses[i];
		fprintf(out, "  %s: { family: %s, rating: %u", fuse->name, fuse->family,
			fuse->rating_a10 / 10);
		if (fuse->rating_a10 % 10)
			fprintf(out, ".%u", fuse->rating_a10 % 10);
		fprintf(out, " A, box: %s", fuse->box);
		if (fuse->feed)
			fprintf(out, ", feeds: [%s]", fuse->feed);
		fputs(" }\n", out);
	}
}

static void write_list(FILE *out, const char *key, const char *const *items, int count)
{
	const char *between = "";

	if (!count)
		return;
	fprintf(out, "    %s: [", key);
	for (int i = 0; i < count; i++) {
		fprintf(out, "%s%s", between, items[i]);
		between = ", ";
	}
	fputs("]\n", out);
}

static void write_id(FILE *out, const char **between, uint32_t id)
{
	char text[NOD_ID_TEXT];

	fprintf(out, "%s%s", *between, id_text(text, id));
	*between = ", ";
}

/* The ID of a module that the map lists elsewhere: its first one; UINT32_MAX: none. */
static uint32_t misplaced_id(const struct sim *sim)
{
	if (sim->map.wrong_from < 0)
		return UINT32_MAX;
	const struct sim_module *module = &sim->modules[sim->map.wrong_from];

	return sim->messages[sim->nodes[module->first_node].first_message].id;
}

static bool has_nm(const struct sim *sim, int node)
{
	enum nod_nm_scheme scheme = sim->networks[sim->nodes[node].network].scheme;

	return scheme == NOD_NM_AUTOSAR || scheme == NOD_NM_OSEK;
}

static void write_node_ids(FILE *out, const struct sim *sim, int n, const char **between)
{
	const struct sim_node *node = &sim->nodes[n];
	uint32_t wrong = misplaced_id(sim);

	for (int i = 0; i < node->message_count; i++) {
		int m = node->first_message + i;
		if (sim->messages[m].id != wrong && sim_world_mapped(sim, m) == node->module)
			write_id(out, between, sim->messages[m].id);
	}
	if (sim->map.nm_ids && has_nm(sim, n))
		write_id(out, between, sim->networks[node->network].nm_base + node->address);
}

static void write_ids(FILE *out, const struct sim *sim, int m)
{
	const struct sim_module *module = &sim->modules[m];
	uint32_t wrong = misplaced_id(sim);
	const char *between = "";

	fputs("    ids: [", out);
	for (int i = 0; i < module->node_count; i++)
		write_node_ids(out, sim, module->first_node + i, &between);
	for (int i = 0; i < sim->message_count; i++)
		if (sim->messages[i].id != wrong && sim->nodes[sim->messages[i].node].module != m &&
		    sim_world_mapped(sim, i) == m)
			write_id(out, &between, sim->messages[i].id);
	if (sim->map.wrong_to == m)
		write_id(out, &between, misplaced_id(sim));
	int answering = sim->tester.answering;
	if (sim->tester.interval && answering >= 0 && sim->nodes[answering].module == m)
		write_id(out, &between,
			 sim->tester.extended ? NOD_ID_EXTENDED | 0x18DAF110 : 0x7E8);
	fputs("]\n", out);
	bool nm = false;
	for (int i = 0; i < module->node_count; i++)
		nm |= has_nm(sim, module->first_node + i);
	if (nm && !sim->map.nm_ids && sim_world_node_mapped(sim, m))
		fprintf(out, "    node: %02X\n", sim->nodes[module->first_node].address);
	if (module->source_address >= 0)
		fprintf(out, "    source address: %02X\n", (unsigned)module->source_address);
}

static void write_module(FILE *out, const struct sim *sim, int m)
{
	static const struct {
		unsigned tag;
		const char *word;
	} words[] = {{SIM_TAG_AIRBAG, "airbag"},
		     {SIM_TAG_HIGH_VOLTAGE, "high-voltage"},
		     {SIM_TAG_ALARM, "alarm"},
		     {SIM_TAG_MEMORY, "memory"}};
	const struct sim_module *module = &sim->modules[m];
	const char *items[SIM_NETWORKS + 4];
	int count = 0;

	fprintf(out, "  %s:\n", module->name);
	for (; count < module->node_count; count++)
		items[count] = sim->networks[sim->nodes[module->first_node + count].network].name;
	write_list(out, "networks", items, count);
	write_ids(out, sim, m);
	for (count = 0; module->fuse_in_map && count < 2 && module->fuses[count] >= 0; count++)
		items[count] = sim->fuses[module->fuses[count]].name;
	write_list(out, "fuses", items, count);
	fprintf(out, "    place: %s\n", module->place);
	for (count = 0; count < 3 && module->inputs[count]; count++)
		;
	write_list(out, "inputs", module->inputs, count);
	count = 0;
	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++)
		if (module->tags & words[i].tag)
			items[count++] = words[i].word;
	write_list(out, "cautions", items, count);
	if (module->tags & SIM_TAG_GATEWAY)
		fputs("    gateway: yes\n", out);
}

char *sim_map_write(const struct sim *sim)
{
	char *text = NULL;
	size_t size = 0;
	FILE *out = open_memstream(&text, &size);

	if (!out)
		return NULL;
	fprintf(out, "# Invented: %s, seed %llu of the session generator.\n", sim->situation,
		(unsigned long long)sim->seed);
	fprintf(out, "vehicle: %s, invented\nlimits:\n  key-off current: 50 mA\n", sim->title);
	write_networks(out, sim);
	write_fuses(out, sim);
	fputs("modules:\n", out);
	for (int m = 0; m < sim->module_count; m++)
		if (sim->modules[m].in_map)
			write_module(out, sim, m);
	return fclose(out) ? NULL : text;
}
