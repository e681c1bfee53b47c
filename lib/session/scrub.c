/* SPDX-License-Identifier: MIT */
#include "scrub.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "diagnostic.h"
#include "nm-detect.h"
#include "vin.h"

/* Transport (one or two bytes) and service of a diagnostic frame. */
#define DIAGNOSTIC_HEAD 3

/* Network management of one interface. */
struct watch {
	struct nod_nm_detect *detect; /* while it is looked for, and when it was found */
	struct nod_nm_detection found;
	bool known;
	uint32_t first, last;
};

struct nod_scrub {
	enum nod_scrub_kind kind;
	const struct nod_vehicle *vehicle;
	const struct nod_interfaces *interfaces;
	struct nod_vin_finder *finder;
	struct watch watches[255];
	uint64_t changed;
};

static const char *const names[] = {"nothing", "payload", "vin"};

int nod_scrub_kind_parse(enum nod_scrub_kind *kind, const char *word)
{
	for (int i = NOD_SCRUB_PAYLOAD; i <= NOD_SCRUB_VIN; i++)
		if (!strcmp(word, names[i])) {
			*kind = (enum nod_scrub_kind)i;
			return 0;
		}
	return -EINVAL;
}

const char *nod_scrub_kind_name(enum nod_scrub_kind kind)
{
	return names[kind];
}

struct nod_scrub *nod_scrub_new(enum nod_scrub_kind kind, const struct nod_vehicle *vehicle,
				const struct nod_interfaces *interfaces)
{
	struct nod_scrub *scrub = calloc(1, sizeof(*scrub));

	if (!scrub)
		return NULL;
	scrub->kind = kind;
	scrub->vehicle = vehicle;
	scrub->interfaces = interfaces;
	if (kind == NOD_SCRUB_VIN && !(scrub->finder = nod_vin_finder_new())) {
		free(scrub);
		return NULL;
	}
	return scrub;
}

void nod_scrub_free(struct nod_scrub *scrub)
{
	if (!scrub)
		return;
	for (size_t i = 0; i < 255; i++)
		nod_nm_detect_free(scrub->watches[i].detect);
	nod_vin_finder_free(scrub->finder);
	free(scrub);
}

/* What the vehicle file says about the network of an interface. */
static bool ask_vehicle(const struct nod_scrub *scrub, uint8_t interface, struct watch *watch)
{
	if (!scrub->vehicle)
		return false;
	int network = nod_vehicle_network_of_interface(scrub->vehicle,
						       scrub->interfaces->names[interface]);
	if (network == NOD_NONE || !scrub->vehicle->networks[network].nm.ids_given)
		return false;
	watch->first = scrub->vehicle->networks[network].nm.first_id;
	watch->last = scrub->vehicle->networks[network].nm.last_id;
	watch->known = true;
	return true;
}

static int look_for_management(struct nod_scrub *scrub, const struct nod_frame *frame)
{
	struct watch *watch = &scrub->watches[frame->interface];

	if (watch->known || nod_frame_is_error(frame))
		return 0;
	if (!watch->detect && ask_vehicle(scrub, frame->interface, watch))
		return 0;
	if (!watch->detect && !(watch->detect = nod_nm_detect_new()))
		return -ENOMEM;
	nod_nm_detect_feed(watch->detect, frame);
	return 0;
}

int nod_scrub_look(struct nod_scrub *scrub, const struct nod_frame *frame)
{
	if (scrub->kind == NOD_SCRUB_VIN)
		return nod_vin_finder_feed(scrub->finder, frame);
	return scrub->kind == NOD_SCRUB_PAYLOAD ? look_for_management(scrub, frame) : 0;
}

static void conclude(struct watch *watch)
{
	nod_nm_detect_result(watch->detect, &watch->found);
	if (watch->found.confidence >= NOD_NM_ADOPTED)
		return;
	nod_nm_detect_free(watch->detect);
	watch->detect = NULL;
}

void nod_scrub_ready(struct nod_scrub *scrub)
{
	if (scrub->finder)
		nod_vin_finder_finish(scrub->finder);
	for (size_t i = 0; i < 255; i++)
		if (scrub->watches[i].detect)
			conclude(&scrub->watches[i]);
}

/* Number of bytes at the front that stay. */
static unsigned kept_bytes(const struct nod_scrub *scrub, const struct nod_frame *frame)
{
	const struct watch *watch = &scrub->watches[frame->interface];
	uint32_t id = nod_frame_id(frame);

	if (frame->id & (NOD_ID_ERROR | NOD_ID_REMOTE))
		return frame->length;
	if (watch->known && id >= watch->first && id <= watch->last)
		return frame->length;
	/* The payload of J1939 is application data; who speaks is in its IDs. */
	if (watch->detect && nod_nm_detect_is_node(watch->detect, &watch->found, id))
		return frame->length;
	if (nod_diagnostic_classify(frame) == NOD_DIAGNOSTIC_NONE)
		return 0;
	return nod_isotp_decode(frame).kind == NOD_ISOTP_CONSECUTIVE ? 1 : DIAGNOSTIC_HEAD;
}

static bool zero_payload(const struct nod_scrub *scrub, struct nod_frame *frame)
{
	bool changed = false;

	for (unsigned i = kept_bytes(scrub, frame); i < frame->length; i++) {
		changed |= frame->data[i] != 0;
		frame->data[i] = 0;
	}
	return changed;
}

static bool mask_vin(struct nod_scrub *scrub, struct nod_frame *frame)
{
	struct nod_frame before = *frame;

	nod_vin_mask_frame(scrub->finder, frame);
	return memcmp(before.data, frame->data, frame->length) != 0;
}

void nod_scrub_frame(struct nod_scrub *scrub, struct nod_frame *frame)
{
	if (scrub->kind == NOD_SCRUB_PAYLOAD)
		scrub->changed += zero_payload(scrub, frame);
	else if (scrub->kind == NOD_SCRUB_VIN)
		scrub->changed += mask_vin(scrub, frame);
}

void nod_scrub_text(const struct nod_scrub *scrub, char *text)
{
	if (scrub->kind == NOD_SCRUB_VIN)
		nod_vin_mask_text(text);
}

uint64_t nod_scrub_changed(const struct nod_scrub *scrub)
{
	return scrub->changed;
}
