/* SPDX-License-Identifier: MIT */
#include <qrencode.h>
#include <stdbool.h>

#include "page.h"

#define QUIET \
	2 /* light modules around it; ISO/IEC 18004 asks for 4, phones read 2 on a
		 * screen, and 4 would not fit 24 lines */

static bool is_dark(const QRcode *code, int x, int y)
{
	if (x < 0 || y < 0 || x >= code->width || y >= code->width)
		return false;
	return code->data[y * code->width + x] & 1;
}

/* Black on white whatever the terminal's colours are: phones expect that. */
int nod_page_code(FILE *out, const char *address)
{
	static const char *const blocks[] = {" ", "\u2584", "\u2580", "\u2588"};
	QRcode *code = QRcode_encodeString8bit(address, 0, QR_ECLEVEL_L);

	if (!code)
		return 0;
	for (int y = -QUIET; y < code->width + QUIET; y += 2) {
		fputs("\033[30;47m", out);
		for (int x = -QUIET; x < code->width + QUIET; x++)
			fputs(blocks[2 * is_dark(code, x, y) + is_dark(code, x, y + 1)], out);
		fputs("\033[0m\n", out);
	}
	QRcode_free(code);
	return 1;
}
