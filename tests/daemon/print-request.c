/* SPDX-License-Identifier: MIT */
/* Prints the request that nodoffd makes of an adapter, in hex.
 * usage: print-request INDEX BITRATE SAMPLE-POINT DATA-BITRATE DATA-SAMPLE-POINT */
#include <stdio.h>
#include <stdlib.h>

#include "link-request.h"

int main(int argc, char **argv)
{
	struct nod_link_request request;
	uint32_t numbers[5] = {0};

	for (int i = 0; i < 5 && i + 1 < argc; i++)
		numbers[i] = (uint32_t)strtoul(argv[i + 1], NULL, 10);
	nod_link_request_listen(
		&request, (int)numbers[0],
		&(struct nod_interface_settings){numbers[1], numbers[2], numbers[3], numbers[4]},
		NOD_LINK_RESTART);
	for (size_t i = 0; i < request.header.nlmsg_len; i++)
		printf("%02x", ((unsigned char *)&request)[i]);
	putchar('\n');
	return 0;
}
