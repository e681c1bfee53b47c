/* SPDX-License-Identifier: MIT */
#include "plain-text.h"

#include <string.h>

size_t nod_control_length(const char *text)
{
	unsigned char c = (unsigned char)text[0], next = c ? (unsigned char)text[1] : 0;

	if (c == 0xC2 && next >= 0x80 && next < 0xA0)
		return 2;
	return c && (c < 0x20 || c == 0x7F);
}

void nod_text_make_plain(char *text, char with)
{
	while (*text) {
		size_t length = nod_control_length(text);
		memset(text, with, length);
		text += length ? length : 1;
	}
}
