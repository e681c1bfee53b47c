/* SPDX-License-Identifier: MIT */
/* Reading a vehicle file: one table of keys per kind of object, one reading
 * function per kind of value. Internal to the loader (vehicle-*.c). */
#ifndef NOD_VEHICLE_READER_H
#define NOD_VEHICLE_READER_H

#include "name-table.h"
#include "quantity.h"
#include "vehicle-check.h"
#include "vehicle.h"
#include "yaml-doc.h"

/* Chosen: far above any car; a file over them is a mistake or an attack. */
#define NOD_VEHICLE_NETWORKS_MAX 32
#define NOD_VEHICLE_MODULES_MAX 10000
#define NOD_VEHICLE_FUSES_MAX 10000
#define NOD_VEHICLE_MESSAGES_MAX 10000
#define NOD_VEHICLE_RULES_MAX 100000 /* IDs, ranges and masks of all modules */
#define NOD_VEHICLE_LIST_MAX 1000    /* items of any other list */

struct nod_reader {
	struct nod_yaml yaml;
	struct nod_vehicle *vehicle;
	struct nod_name_table network_names, fuse_names;
	struct nod_claims claims;
	size_t rules; /* read so far */
};

/* One key that an object may have, and where its value goes. */
struct nod_key {
	const char *name;
	const char *what; /* the value, for messages: "a place" */
	int (*read)(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		    void *object);
	size_t at;    /* offset of the value in the object */
	size_t count; /* offset of the number of items (lists), of the "given" flag (durations) */
	int64_t least, most; /* limits in the unit of the field, both allowed */
	enum nod_unit unit;  /* quantities: unit as written ... */
	int64_t micro;       /* ... and millionths of it in one unit of the field */
};

/* No "given" flag. */
#define NOD_NO_FLAG SIZE_MAX

/* Reads a mapping; `keys` ends with a NULL name. An unknown key is an error
 * that proposes the nearest one and lists all. */
int nod_read_object(struct nod_reader *r, const yaml_node_t *node, const char *what,
		    const struct nod_key *keys, void *object);

/* Values, all as struct nod_key.read: */
int nod_read_text(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		  void *object); /* char * */
int nod_read_texts(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		   void *object); /* char ** and size_t */
int nod_read_quantity(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object); /* int64_t */
int nod_read_duration(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object); /* nod_duration, and bool unless NOD_NO_FLAG */
int nod_read_bitrate(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		     void *object); /* uint32_t */
int nod_read_yes_no(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		    void *object); /* bool */

/* A word of a list (NULL at its end), without case: its index, or -EINVAL
 * with a message that names them all. */
int nod_read_word(struct nod_reader *r, const yaml_node_t *value, const char *what,
		  const char *const *words);

/* A hex number of one byte as technicians write it: 21, 0x21, 21h. */
int nod_read_hex(struct nod_reader *r, const yaml_node_t *value, const char *what, int least,
		 int most, int *number);

/* A text that may not be empty; NULL with a message. */
const char *nod_read_filled(struct nod_reader *r, const yaml_node_t *value, const char *what);

/* A whole number without a sign. */
int nod_read_count(struct nod_reader *r, const yaml_node_t *value, const char *what, unsigned least,
		   unsigned most, unsigned *number);

/* An ID, range or mask with its line. */
int nod_read_rule(struct nod_reader *r, const yaml_node_t *value, struct nod_id_rule *rule);

/* Grows an array by one zeroed item and returns it, or NULL. */
void *nod_append(void *items, size_t *count, size_t size);

/* The objects of the file, as nod_yaml_pair with the reader as context. */
int nod_read_network(void *reader, const char *name, const yaml_node_t *key,
		     const yaml_node_t *value);
int nod_read_fuse(void *reader, const char *name, const yaml_node_t *key, const yaml_node_t *value);
int nod_read_module(void *reader, const char *name, const yaml_node_t *key,
		    const yaml_node_t *value);
int nod_read_message(void *reader, const char *name, const yaml_node_t *key,
		     const yaml_node_t *value);

/* The signals of the message that is being read, the last one. */
int nod_read_signals(struct nod_reader *r, const yaml_node_t *value, const char *what,
		     struct nod_message *message);

/* Names of networks of the file into int * and size_t. */
int nod_read_network_names(struct nod_reader *r, const struct nod_key *key,
			   const yaml_node_t *value, void *object);

#endif
