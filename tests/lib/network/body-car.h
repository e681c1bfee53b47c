/* SPDX-License-Identifier: MIT */
/* One network with three modules, and what happens on it. */
#ifndef BODY_CAR_H
#define BODY_CAR_H

#include "scene.h"

#define MIN (60 * 1000)

static const char body[] = "networks:\n"
			   "  body:\n"
			   "    interfaces: [can0]\n"
			   "    bitrate: 500000\n"
			   "    sleeps within: 10 min\n"
			   "    quiet time: 3 s\n"
			   "    management: { scheme: none }\n"
			   "modules:\n"
			   "  roof unit: { ids: [100], fuses: [F1] }\n"
			   "  seat unit: { ids: [200], fuses: [F2] }\n"
			   "  door unit: { ids: [300], fuses: [F3] }\n"
			   "fuses:\n"
			   "  F1: { rating: 10 A }\n"
			   "  F2: { rating: 15 A, box: cabin }\n"
			   "  F3: { rating: 5 A }\n";

#endif
