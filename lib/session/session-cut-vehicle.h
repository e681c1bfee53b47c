/* SPDX-License-Identifier: MIT */
/* The vehicle file of a piece that is cut out of a session. */
#ifndef NOD_SESSION_CUT_VEHICLE_H
#define NOD_SESSION_CUT_VEHICLE_H

#include "scrub.h"
#include "session-create.h"
#include "session.h"

/* Copies the vehicle file of the session, if it has one, into what is made; with
 * NOD_SCRUB_VIN without the VINs in it. 0 or a negative errno with err set. */
int nod_session_cut_vehicle(const struct nod_session *from, struct nod_session_maker *maker,
			    struct nod_scrub *scrub, enum nod_scrub_kind kind,
			    struct nod_error *err);

#endif
