/* SPDX-License-Identifier: MIT */
#include "elements.h"

/* Element i of a list with `list_count` elements. */
#define ELEMENT(owner, list, i) ((i) < (owner)->list##_count ? &(owner)->list##s[i] : NULL)

const struct nod_network_finding *nod_findings_network(const struct nod_findings *findings,
						       size_t i)
{
	return ELEMENT(findings, network, i);
}

const struct nod_sender_finding *nod_findings_sender(const struct nod_findings *findings, size_t i)
{
	return ELEMENT(findings, sender, i);
}

const struct nod_ident_finding *nod_findings_ident(const struct nod_findings *findings, size_t i)
{
	return ELEMENT(findings, ident, i);
}

const struct nod_wake_finding *nod_findings_wake(const struct nod_findings *findings, size_t i)
{
	return ELEMENT(findings, wake, i);
}

const struct nod_suspect *nod_findings_suspect(const struct nod_findings *findings, size_t i)
{
	return ELEMENT(findings, suspect, i);
}

const struct nod_test_proposal *nod_findings_proposal(const struct nod_findings *findings, size_t i)
{
	return ELEMENT(findings, proposal, i);
}

const struct nod_isolation_finding *nod_findings_isolation(const struct nod_findings *findings,
							   size_t i)
{
	return ELEMENT(findings, isolation, i);
}

const struct nod_mark_finding *nod_findings_mark(const struct nod_findings *findings, size_t i)
{
	return ELEMENT(findings, mark, i);
}

const struct nod_question_finding *nod_findings_question(const struct nod_findings *findings,
							 size_t i)
{
	return ELEMENT(findings, question, i);
}

const struct nod_hole_finding *nod_findings_hole(const struct nod_findings *findings, size_t i)
{
	return ELEMENT(findings, hole, i);
}

const struct nod_span_finding *nod_network_span(const struct nod_network_finding *network, size_t i)
{
	return ELEMENT(network, span, i);
}

const struct nod_evidence_finding *nod_suspect_evidence(const struct nod_suspect *suspect, size_t i)
{
	return i < suspect->evidence_count ? &suspect->evidence[i] : NULL;
}

const struct nod_about *nod_findings_fact_about(const struct nod_findings *findings, size_t i)
{
	return i < findings->fact_count ? &findings->facts_about[i] : NULL;
}

const struct nod_about *nod_findings_doubt_about(const struct nod_findings *findings, size_t i)
{
	return i < findings->doubt_count ? &findings->doubts_about[i] : NULL;
}

const struct nod_network *nod_vehicle_network(const struct nod_vehicle *vehicle, size_t i)
{
	return ELEMENT(vehicle, network, i);
}

const struct nod_module *nod_vehicle_module(const struct nod_vehicle *vehicle, size_t i)
{
	return ELEMENT(vehicle, module, i);
}

const struct nod_fuse *nod_vehicle_fuse(const struct nod_vehicle *vehicle, size_t i)
{
	return ELEMENT(vehicle, fuse, i);
}

const struct nod_message *nod_vehicle_message(const struct nod_vehicle *vehicle, size_t i)
{
	return ELEMENT(vehicle, message, i);
}
