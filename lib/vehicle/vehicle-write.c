/* SPDX-License-Identifier: MIT */
/* A vehicle file from struct nod_vehicle. */
#include <errno.h>
#include <inttypes.h>
#include <string.h>

#include "id-rule.h"
#include "message-write.h"
#include "nm-scheme.h"
#include "vehicle-write.h"
#include "yaml-text.h"

/* "12.345 A" from 12345 mA: as many fraction digits as it takes. */
static void write_thousandths(FILE *out, int64_t value, const char *unit)
{
	int64_t whole = value / 1000, part = value % 1000;

	fprintf(out, "%" PRId64, whole);
	if (part) {
		char digits[24];
		snprintf(digits, sizeof(digits), "%03d", (int)part);
		for (int i = 2; digits[i] == '0'; i--)
			digits[i] = 0;
		fprintf(out, ".%s", digits);
	}
	fprintf(out, " %s", unit);
}

static void write_texts(FILE *out, const char *key, char *const *items, size_t count)
{
	if (!count)
		return;
	fprintf(out, "    %s: [", key);
	for (size_t i = 0; i < count; i++) {
		fputs(i ? ", " : "", out);
		nod_yaml_write(out, items[i]);
	}
	fputs("]\n", out);
}

static void write_hex(FILE *out, const char *key, const int *items, size_t count)
{
	if (!count)
		return;
	fprintf(out, "    %s: [", key);
	for (size_t i = 0; i < count; i++)
		fprintf(out, "%s%02X", i ? ", " : "", (unsigned)items[i]);
	fputs("]\n", out);
}

static void write_ids(FILE *out, const struct nod_module *module)
{
	char text[NOD_ID_RULE_TEXT];

	if (!module->id_count)
		return;
	fputs("    ids: [", out);
	for (size_t i = 0; i < module->id_count; i++)
		fprintf(out, "%s%s", i ? ", " : "", nod_id_rule_print(text, &module->ids[i]));
	fputs("]\n", out);
}

/* ---- network management ---- */

static void write_byte(FILE *out, const char *key, int position)
{
	if (position < 0)
		fprintf(out, "      %s: none\n", key);
	else
		fprintf(out, "      %s: %d\n", key, position);
}

static void write_layout(FILE *out, const struct nod_nm_layout *nm,
			 const struct nod_nm_layout *usual)
{
	if (nm->node_byte != usual->node_byte || nm->control_byte != usual->control_byte) {
		write_byte(out, "node byte", nm->node_byte);
		write_byte(out, "control byte", nm->control_byte);
	}
	if (nm->partial_first >= 0)
		fprintf(out, "      partial network bytes: %d-%d\n", nm->partial_first,
			nm->partial_last);
	const struct {
		const char *key;
		uint8_t bits, usual;
	} opcodes[] = {
		{"alive", nm->osek_alive, usual->osek_alive},
		{"ring", nm->osek_ring, usual->osek_ring},
		{"limp home", nm->osek_limp_home, usual->osek_limp_home},
		{"sleep indication", nm->osek_sleep_indication, usual->osek_sleep_indication},
		{"sleep acknowledge", nm->osek_sleep_acknowledge, usual->osek_sleep_acknowledge},
	};
	for (size_t i = 0; i < sizeof(opcodes) / sizeof(opcodes[0]); i++)
		if (opcodes[i].bits != opcodes[i].usual)
			fprintf(out, "      %s: %02X\n", opcodes[i].key, (unsigned)opcodes[i].bits);
}

static void write_management(FILE *out, const struct nod_nm_layout *nm)
{
	const struct nod_nm_layout usual = nod_nm_layout_default();
	struct nod_id_rule ids = {.first = nm->first_id, .last = nm->last_id};
	char text[NOD_ID_RULE_TEXT];

	fprintf(out, "    management:\n      scheme: %s\n", nod_nm_scheme_row(nm->scheme)->word);
	if (nm->ids_given)
		fprintf(out, "      ids: %s\n", nod_id_rule_print(text, &ids));
	write_layout(out, nm, &usual);
}

/* ---- objects ---- */

static void write_name(FILE *out, const char *name)
{
	fputs("  ", out);
	nod_yaml_write(out, name);
	fputs(":\n", out);
}

static void write_sample_point(FILE *out, const char *key, int64_t thousandths)
{
	if (thousandths)
		fprintf(out, "    %s: %" PRId64 ".%" PRId64 " %%\n", key, thousandths / 10,
			thousandths % 10);
}

void nod_vehicle_write_network(FILE *out, const struct nod_network *n)
{
	char time[NOD_TIME_TEXT];

	write_name(out, n->name);
	write_texts(out, "interfaces", n->interfaces, n->interface_count);
	if (n->bitrate)
		fprintf(out, "    bitrate: %" PRIu32 "\n", n->bitrate);
	if (n->data_bitrate)
		fprintf(out, "    data bitrate: %" PRIu32 "\n", n->data_bitrate);
	write_sample_point(out, "sample point", n->sample_point);
	write_sample_point(out, "data sample point", n->data_sample_point);
	if (n->layer == NOD_LAYER_FAULT_TOLERANT)
		fputs("    physical layer: fault-tolerant\n", out);
	if (n->sleeps_within_given)
		fprintf(out, "    sleeps within: %s\n",
			nod_duration_print_exact(time, n->sleeps_within));
	if (n->quiet_time_given)
		fprintf(out, "    quiet time: %s\n", nod_duration_print_exact(time, n->quiet_time));
	write_management(out, &n->nm);
}

static void write_line(FILE *out, const char *key, const char *text)
{
	if (!text)
		return;
	fprintf(out, "%s: ", key);
	nod_yaml_write(out, text);
	fputc('\n', out);
}

static void write_fuse(FILE *out, const struct nod_fuse *f)
{
	write_name(out, f->name);
	write_line(out, "    family", f->family);
	if (f->rating_ma) {
		fputs("    rating: ", out);
		write_thousandths(out, f->rating_ma, "A\n");
	}
	write_line(out, "    box", f->box);
	write_texts(out, "feeds", f->feeds, f->feed_count);
	if (f->resistance_uohm) {
		fputs("    resistance: ", out);
		write_thousandths(out, f->resistance_uohm, "mOhm\n");
	}
	write_texts(out, "cautions", f->cautions, f->caution_count);
}

/* A list of names that an array of indices stands for. */
static void write_references(FILE *out, const struct nod_vehicle *v, const char *key,
			     const int *items, size_t count, bool fuses)
{
	if (!count)
		return;
	fprintf(out, "    %s: [", key);
	for (size_t i = 0; i < count; i++) {
		fputs(i ? ", " : "", out);
		nod_yaml_write(out, fuses ? v->fuses[items[i]].name : v->networks[items[i]].name);
	}
	fputs("]\n", out);
}

static void write_time(FILE *out, const char *key, nod_duration d)
{
	char text[NOD_TIME_TEXT];

	if (d.ns)
		fprintf(out, "    %s: %s\n", key, nod_duration_print_exact(text, d));
}

static void write_wakes(FILE *out, const struct nod_module *m)
{
	char text[NOD_TIME_TEXT];

	for (size_t i = 0; i < m->wakes_after_count; i++)
		fprintf(out, "%s%s", i ? ", " : "    wakes after: [",
			nod_duration_print_exact(text, m->wakes_after[i]));
	if (m->wakes_after_count)
		fputs("]\n", out);
	write_time(out, "wakes every", m->wakes_every);
	write_time(out, "wakes for", m->wakes_for);
}

void nod_vehicle_write_module(FILE *out, const struct nod_vehicle *v, const struct nod_module *m)
{
	write_name(out, m->name);
	write_references(out, v, "networks", m->networks, m->network_count, false);
	write_ids(out, m);
	write_hex(out, "node", m->nodes, m->node_count);
	write_hex(out, "source address", m->source_addresses, m->source_address_count);
	write_references(out, v, "fuses", m->fuses, m->fuse_count, true);
	write_line(out, "    place", m->place);
	write_line(out, "    comment", m->comment);
	write_texts(out, "inputs", m->inputs, m->input_count);
	write_texts(out, "cautions", m->cautions, m->caution_count);
	if (m->gateway)
		fputs("    gateway: yes\n", out);
	write_wakes(out, m);
}

static void write_battery(FILE *out, const struct nod_battery_data *b)
{
	if (!b->type && !b->capacity_mah && !b->reserve_minutes)
		return;
	fputs("battery:\n", out);
	write_line(out, "  type", b->type);
	if (b->capacity_mah) {
		fputs("  capacity: ", out);
		write_thousandths(out, b->capacity_mah, "Ah\n");
	}
	if (b->reserve_minutes)
		fprintf(out, "  reserve: %" PRId64 " min\n", b->reserve_minutes);
}

int nod_vehicle_write(const struct nod_vehicle *v, FILE *out)
{
	write_line(out, "vehicle", v->title);
	if (v->key_off_current_given) {
		fputs("limits:\n  key-off current: ", out);
		write_thousandths(out, v->key_off_current_ua, "mA\n");
	}
	write_battery(out, &v->battery);
	if (v->network_count)
		fputs("networks:\n", out);
	for (size_t i = 0; i < v->network_count; i++)
		nod_vehicle_write_network(out, &v->networks[i]);
	if (v->fuse_count)
		fputs("fuses:\n", out);
	for (size_t i = 0; i < v->fuse_count; i++)
		write_fuse(out, &v->fuses[i]);
	if (v->module_count)
		fputs("modules:\n", out);
	for (size_t i = 0; i < v->module_count; i++)
		nod_vehicle_write_module(out, v, &v->modules[i]);
	if (v->message_count)
		fputs("messages:\n", out);
	for (size_t i = 0; i < v->message_count; i++)
		nod_message_write(&v->messages[i], v, out);
	return ferror(out) ? -EIO : 0;
}
