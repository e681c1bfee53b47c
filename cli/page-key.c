/* SPDX-License-Identifier: MIT */
#include "page-key.h"

#include <errno.h>
#include <sys/random.h>
#include <sys/types.h>

int nod_page_key_make(char key[NOD_PAGE_KEY])
{
	static const char digits[] = "abcdefghijkmnpqrstuvwxyz23456789";
	unsigned char random[NOD_PAGE_KEY - 1];

	if (getrandom(random, sizeof(random), 0) != (ssize_t)sizeof(random))
		return -EIO;
	for (size_t i = 0; i < sizeof(random); i++)
		key[i] = digits[random[i] % 32];
	key[NOD_PAGE_KEY - 1] = 0;
	return 0;
}

bool nod_page_key_fits(const char key[NOD_PAGE_KEY], const char *text, size_t length)
{
	unsigned char different = length != NOD_PAGE_KEY - 1;

	for (size_t i = 0; i < NOD_PAGE_KEY - 1; i++)
		different |= (unsigned char)(key[i] ^ (i < length ? text[i] : 0));
	return !different;
}
