/* SPDX-License-Identifier: MIT */
#include "session-cut-vehicle.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A vehicle file is a few screens; a larger one is not gone through for VINs. */
#define VEHICLE_MAX ((size_t)4 * 1024 * 1024)

static int write_text(const char *path, const char *text, size_t length)
{
	FILE *out = path ? fopen(path, "w") : NULL;

	if (!out)
		return path ? -errno : -ENOMEM;
	bool failed = fwrite(text, 1, length, out) != length;
	failed |= fclose(out) != 0;
	return failed ? -EIO : 0;
}

static int copy_scrubbed_vehicle(struct nod_session_maker *maker, struct nod_scrub *scrub,
				 const char *path)
{
	FILE *in = fopen(path, "r");
	char *text = in ? malloc(VEHICLE_MAX + 1) : NULL;
	int result = in ? -ENOMEM : -errno;

	if (text) {
		size_t length = fread(text, 1, VEHICLE_MAX + 1, in);
		result = ferror(in) ? -EIO : length > VEHICLE_MAX ? -EFBIG : 0;
		if (!result) {
			text[length] = '\0';
			nod_scrub_text(scrub, text);
			result = write_text(nod_session_maker_path(maker, "vehicle.yaml"), text,
					    length);
		}
	}
	if (in)
		fclose(in);
	free(text);
	return result;
}

int nod_session_cut_vehicle(const struct nod_session *from, struct nod_session_maker *maker,
			    struct nod_scrub *scrub, enum nod_scrub_kind kind,
			    struct nod_error *err)
{
	const char *path = nod_session_vehicle(from);

	if (!path)
		return 0;
	if (kind != NOD_SCRUB_VIN)
		return nod_session_maker_copy(maker, path, "vehicle.yaml", err);
	int result = copy_scrubbed_vehicle(maker, scrub, path);
	if (result)
		nod_error_set(err, -result, "%s: cannot be copied: %s", path, strerror(-result));
	return result;
}
