/* SPDX-License-Identifier: MIT */
/* The networks of a vehicle file and their network management. */
#include <errno.h>
#include <stddef.h>
#include <string.h>

#include "nm-scheme.h"
#include "vehicle-reader.h"

/* Limits of what makes sense; chosen unless a source is named. */
#define SLEEPS_WITHIN_LEAST NOD_NS_PER_S
#define SLEEPS_WITHIN_MOST (7 * 24 * 3600 * NOD_NS_PER_S)
#define QUIET_TIME_LEAST (100 * NOD_NS_PER_MS) /* shorter than the pauses of a busy network */
#define QUIET_TIME_MOST (3600 * NOD_NS_PER_S)
#define BITRATE_LEAST 5000
#define BITRATE_MOST 1000000   /* ISO 11898-1: arbitration phase */
#define SAMPLE_POINT_LEAST 500 /* thousandths: in the second half of a bit (common practice) */
#define SAMPLE_POINT_MOST 950
#define DATA_BITRATE_MOST 20000000 /* above what CAN FD transceivers are sold for */

#define INTERFACE_NAME_MAX 15 /* linux/if.h: IFNAMSIZ is 16 with the zero */
#define INTERFACES_MAX 32

/* An AUTOSAR or OSEK NM PDU has 8 bytes. */
#define NM_LAST_BYTE 7

/* ---- network management ---- */

static enum nod_nm_scheme scheme_listed(int i)
{
	return (enum nod_nm_scheme)(NOD_NM_AUTOSAR + i < NOD_NM_SCHEMES ? NOD_NM_AUTOSAR + i
									: NOD_NM_SCHEMES - 1 - i);
}

static int read_scheme(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		       void *object)
{
	const char *words[NOD_NM_SCHEMES + 1] = {NULL};
	struct nod_nm_layout *nm = object;

	/* The schemes first, then the words for there being none. */
	for (int i = 0; i < NOD_NM_SCHEMES; i++)
		words[i] = nod_nm_scheme_row(scheme_listed(i))->word;
	int word = nod_read_word(r, value, key->what, words);
	if (word >= 0)
		nm->scheme = scheme_listed(word);
	return word < 0 ? word : 0;
}

static int read_nm_ids(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		       void *object)
{
	struct nod_nm_layout *nm = object;
	struct nod_id_rule rule = {0};
	int status = nod_read_rule(r, value, &rule);

	if (status)
		return status;
	if (rule.mask)
		return nod_yaml_error(&r->yaml, value,
				      "expected %s such as `500-53F`, found a mask", key->what);
	nm->first_id = rule.first;
	nm->last_id = rule.last;
	nm->ids_given = true;
	return 0;
}

static int read_byte_position(struct nod_reader *r, const struct nod_key *key,
			      const yaml_node_t *value, void *object)
{
	static const char *const words[] = {"0", "1", "2", "3", "4", "5", "6", "7", "none", NULL};
	int word = nod_read_word(r, value, key->what, words);

	if (word >= 0)
		*(int *)((char *)object + key->at) = word > NM_LAST_BYTE ? -1 : word;
	return word < 0 ? word : 0;
}

static bool is_position(char c)
{
	return c >= '0' && c <= '0' + NM_LAST_BYTE;
}

/* "4-5" or "4" */
static int read_partial(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			void *object)
{
	const char *text = nod_read_filled(r, value, key->what);
	struct nod_nm_layout *nm = object;

	if (!text)
		return -EINVAL;
	size_t length = strlen(text);
	bool range = length == 3 && text[1] == '-';
	char last = length ? text[length - 1] : 0;
	if ((length != 1 && !range) || !is_position(text[0]) || !is_position(last) ||
	    last < text[0])
		return nod_yaml_error(&r->yaml, value,
				      "expected %s such as `4-5`, from 0 to %d, found `%s`",
				      key->what, NM_LAST_BYTE, text);
	nm->partial_first = text[0] - '0';
	nm->partial_last = last - '0';
	return 0;
}

static int read_opcode(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		       void *object)
{
	int number, status = nod_read_hex(r, value, key->what, 1, 0xFF, &number);

	if (!status)
		*((uint8_t *)object + key->at) = (uint8_t)number;
	return status;
}

#define AT(member) offsetof(struct nod_nm_layout, member)
/* clang-format off */
static const struct nod_key management_keys[] = {
	{.name = "scheme", .what = "a scheme", .read = read_scheme},
	{.name = "ids", .what = "a range of IDs", .read = read_nm_ids},
	{.name = "node byte", .what = "the position of the node byte", .read = read_byte_position,
	 .at = AT(node_byte)},
	{.name = "control byte", .what = "the position of the control byte",
	 .read = read_byte_position, .at = AT(control_byte)},
	{.name = "partial network bytes", .what = "byte positions", .read = read_partial},
	{.name = "alive", .what = "opcode bits", .read = read_opcode, .at = AT(osek_alive)},
	{.name = "ring", .what = "opcode bits", .read = read_opcode, .at = AT(osek_ring)},
	{.name = "limp home", .what = "opcode bits", .read = read_opcode, .at = AT(osek_limp_home)},
	{.name = "sleep indication", .what = "opcode bits", .read = read_opcode,
	 .at = AT(osek_sleep_indication)},
	{.name = "sleep acknowledge", .what = "opcode bits", .read = read_opcode,
	 .at = AT(osek_sleep_acknowledge)},
	{.name = NULL},
};
/* clang-format on */
#undef AT

static bool is_partial(const struct nod_nm_layout *nm, int position)
{
	return position >= 0 && position >= nm->partial_first && position <= nm->partial_last;
}

/* What the bytes and bits of one layout must not share. */
static int check_layout(struct nod_reader *r, const yaml_node_t *value,
			const struct nod_nm_layout *nm)
{
	if (nm->node_byte >= 0 && nm->node_byte == nm->control_byte)
		return nod_yaml_error(&r->yaml, value,
				      "node byte and control byte are both %d; expected two "
				      "positions (without the keys they are 0 and 1)",
				      nm->node_byte);
	if (is_partial(nm, nm->node_byte) || is_partial(nm, nm->control_byte))
		return nod_yaml_error(
			&r->yaml, value,
			"partial network bytes %d-%d include the node or control byte",
			nm->partial_first, nm->partial_last);
	if (nm->osek_sleep_indication & nm->osek_sleep_acknowledge)
		return nod_yaml_error(&r->yaml, value,
				      "sleep indication %02X and sleep acknowledge %02X share bits",
				      (unsigned)nm->osek_sleep_indication,
				      (unsigned)nm->osek_sleep_acknowledge);
	return 0;
}

static int read_management(struct nod_reader *r, const struct nod_key *key,
			   const yaml_node_t *value, void *object)
{
	struct nod_network *network = object;
	int status = nod_read_object(r, value, key->what, management_keys, &network->nm);

	return status ? status : check_layout(r, value, &network->nm);
}

/* ---- networks ---- */

struct interfaces {
	struct nod_reader *reader;
	struct nod_network *network;
};

static int take_interface(void *context, const yaml_node_t *item)
{
	struct interfaces *c = context;
	struct nod_reader *r = c->reader;
	struct nod_network *network = c->network;
	struct nod_claim claim = {NOD_CLAIM_INTERFACE, (int)(network - r->vehicle->networks),
				  network->interface_count, nod_yaml_line(item),
				  nod_yaml_column(item)};
	const char *text = nod_read_filled(r, item, "the name of an interface");

	if (!text)
		return -EINVAL;
	if (strlen(text) > INTERFACE_NAME_MAX)
		return nod_yaml_error(&r->yaml, item,
				      "expected the name of an interface of at most %d "
				      "characters, found `%s`",
				      INTERFACE_NAME_MAX, text);
	if (network->interface_count >= INTERFACES_MAX)
		return nod_yaml_error(&r->yaml, item, "more than %d interfaces of one network",
				      INTERFACES_MAX);
	char **slot = nod_append(&network->interfaces, &network->interface_count, sizeof(char *));
	if (!slot || nod_claims_add(&r->claims, &claim))
		return nod_yaml_out_of_memory(&r->yaml);
	*slot = strdup(text);
	return *slot ? 0 : nod_yaml_out_of_memory(&r->yaml);
}

static int read_interfaces(struct nod_reader *r, const struct nod_key *key,
			   const yaml_node_t *value, void *object)
{
	struct interfaces context = {r, object};

	(void)key;
	return nod_yaml_each_item(&r->yaml, value, take_interface, &context);
}

static int read_layer(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object)
{
	static const char *const words[] = {
		[NOD_LAYER_HIGH_SPEED] = "high-speed",
		[NOD_LAYER_FAULT_TOLERANT] = "fault-tolerant",
		NULL,
	};
	struct nod_network *network = object;
	int word = nod_read_word(r, value, key->what, words);

	if (word >= 0)
		network->layer = (enum nod_physical_layer)word;
	return word < 0 ? word : 0;
}

#define AT(member) offsetof(struct nod_network, member)
/* clang-format off */
static const struct nod_key network_keys[] = {
	{.name = "interfaces", .read = read_interfaces},
	{.name = "bitrate", .what = "a bitrate", .read = nod_read_bitrate, .at = AT(bitrate),
	 .least = BITRATE_LEAST, .most = BITRATE_MOST},
	{.name = "data bitrate", .what = "a data bitrate", .read = nod_read_bitrate,
	 .at = AT(data_bitrate), .least = BITRATE_LEAST, .most = DATA_BITRATE_MOST},
	{.name = "sample point", .what = "a sample point", .read = nod_read_quantity,
	 .at = AT(sample_point), .least = SAMPLE_POINT_LEAST, .most = SAMPLE_POINT_MOST,
	 .unit = NOD_UNIT_PERCENT, .micro = 100000},
	{.name = "data sample point", .what = "a sample point", .read = nod_read_quantity,
	 .at = AT(data_sample_point), .least = SAMPLE_POINT_LEAST, .most = SAMPLE_POINT_MOST,
	 .unit = NOD_UNIT_PERCENT, .micro = 100000},
	{.name = "physical layer", .what = "a physical layer", .read = read_layer},
	{.name = "sleeps within", .what = "the time to sleep after lock",
	 .read = nod_read_duration, .at = AT(sleeps_within), .count = AT(sleeps_within_given),
	 .least = SLEEPS_WITHIN_LEAST, .most = SLEEPS_WITHIN_MOST},
	{.name = "quiet time", .what = "the quiet time", .read = nod_read_duration,
	 .at = AT(quiet_time), .count = AT(quiet_time_given), .least = QUIET_TIME_LEAST,
	 .most = QUIET_TIME_MOST},
	{.name = "management", .what = "network management", .read = read_management},
	{.name = NULL},
};
/* clang-format on */
#undef AT

int nod_read_network(void *reader, const char *name, const yaml_node_t *key,
		     const yaml_node_t *value)
{
	struct nod_reader *r = reader;

	if (r->vehicle->network_count >= NOD_VEHICLE_NETWORKS_MAX)
		return nod_yaml_error(&r->yaml, key, "more than %d networks",
				      NOD_VEHICLE_NETWORKS_MAX);
	int index = nod_vehicle_add_network(r->vehicle, name, NULL);
	if (index < 0 || nod_name_table_add(&r->network_names, name, index))
		return nod_yaml_out_of_memory(&r->yaml);
	struct nod_network *network = &r->vehicle->networks[index];
	network->line = nod_yaml_line(key);
	return nod_read_object(r, value, "a network", network_keys, network);
}
