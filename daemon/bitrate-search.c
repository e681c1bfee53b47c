/* SPDX-License-Identifier: MIT */
#include "bitrate-search.h"

/* Enough to stop early. Chosen: a frame that is whole by accident is one in 32768 (15 bits of
 * checksum), and a burst of twenty error reports is no single disturbance. */
#define SURE_FRAMES 3
#define SURE_ERRORS 20

const uint32_t nod_bitrate_usual[NOD_BITRATE_USUAL_COUNT] = {500000, 250000, 125000, 1000000,
							     100000, 83333,  50000,  33333};

enum nod_bitrate_step nod_bitrate_judge(struct nod_bitrate_heard heard, bool over)
{
	bool whole = heard.frames && heard.frames >= heard.errors;

	if (whole && (over || heard.frames >= SURE_FRAMES))
		return NOD_BITRATE_FOUND;
	return over || (!heard.frames && heard.errors >= SURE_ERRORS) ? NOD_BITRATE_NEXT
								      : NOD_BITRATE_LISTEN;
}

uint32_t nod_bitrate_search_next(struct nod_bitrate_search *search)
{
	search->at = (search->at + 1) % NOD_BITRATE_USUAL_COUNT;
	search->rounds += !search->at;
	return nod_bitrate_usual[search->at];
}

bool nod_bitrate_is(uint32_t rate, uint32_t wanted)
{
	uint32_t apart = rate > wanted ? rate - wanted : wanted - rate;

	return UINT64_C(10000) * apart <= UINT64_C(158) * wanted;
}
