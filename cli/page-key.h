/* SPDX-License-Identifier: MIT */
/* The key in the page's link. */
#ifndef NOD_PAGE_KEY_H
#define NOD_PAGE_KEY_H

#include <stdbool.h>
#include <stddef.h>

#define NOD_PAGE_KEY 27 /* bytes with the end: 130 random bits in base 32 */

/* 0, or -EIO when the kernel gives no random bytes. */
int nod_page_key_make(char key[NOD_PAGE_KEY]);

/* Takes as long for a wrong key as for the right one. */
bool nod_page_key_fits(const char key[NOD_PAGE_KEY], const char *text, size_t length);

#endif
