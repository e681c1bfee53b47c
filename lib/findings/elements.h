/* SPDX-License-Identifier: MIT */
/* The elements of the findings' lists and of a vehicle's, for programs that are built apart from
 * the library: NULL beyond the end of the list.
 *
 * The structs of findings.h and vehicle.h that the library allocates grow at their end, without
 * another soversion; members never move. So a program reads members that it knows, and reaches
 * elements with these functions, never with []: only the library knows how far apart they are.
 * The test install-library builds a program against headers that lack the last members. */
#ifndef NOD_ELEMENTS_H
#define NOD_ELEMENTS_H

#include <stddef.h>

#include "findings.h"
#include "vehicle.h"

const struct nod_network_finding *nod_findings_network(const struct nod_findings *findings,
						       size_t i);
const struct nod_sender_finding *nod_findings_sender(const struct nod_findings *findings, size_t i);
const struct nod_ident_finding *nod_findings_ident(const struct nod_findings *findings, size_t i);
const struct nod_wake_finding *nod_findings_wake(const struct nod_findings *findings, size_t i);
const struct nod_suspect *nod_findings_suspect(const struct nod_findings *findings, size_t i);
const struct nod_test_proposal *nod_findings_proposal(const struct nod_findings *findings,
						      size_t i);
const struct nod_isolation_finding *nod_findings_isolation(const struct nod_findings *findings,
							   size_t i);
const struct nod_mark_finding *nod_findings_mark(const struct nod_findings *findings, size_t i);
const struct nod_question_finding *nod_findings_question(const struct nod_findings *findings,
							 size_t i);
const struct nod_hole_finding *nod_findings_hole(const struct nod_findings *findings, size_t i);

const struct nod_span_finding *nod_network_span(const struct nod_network_finding *network,
						size_t i);

/* Evidence for or against a suspect, strongest first; of which `evidence_count` there is. */
const struct nod_evidence_finding *nod_suspect_evidence(const struct nod_suspect *suspect,
							size_t i);

/* What a fact (enum nod_fact) or a doubt (enum nod_doubt) is about. */
const struct nod_about *nod_findings_fact_about(const struct nod_findings *findings, size_t i);
const struct nod_about *nod_findings_doubt_about(const struct nod_findings *findings, size_t i);

const struct nod_network *nod_vehicle_network(const struct nod_vehicle *vehicle, size_t i);
const struct nod_module *nod_vehicle_module(const struct nod_vehicle *vehicle, size_t i);
const struct nod_fuse *nod_vehicle_fuse(const struct nod_vehicle *vehicle, size_t i);
const struct nod_message *nod_vehicle_message(const struct nod_vehicle *vehicle, size_t i);

#endif
