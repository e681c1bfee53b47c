/* SPDX-License-Identifier: MIT */
#include "nearest-word.h"

#include <stdint.h>
#include <string.h>

static char lower(char c)
{
	return (char)(c >= 'A' && c <= 'Z' ? c + 32 : c);
}

static size_t least(size_t a, size_t b, size_t c)
{
	size_t ab = a < b ? a : b;

	return ab < c ? ab : c;
}

/* One row of the table of distances: from the first i bytes of a to each
 * beginning of b. */
static void next_row(size_t *row, char c, const char *b, size_t n)
{
	size_t diagonal = row[0];

	row[0]++;
	for (size_t j = 1; j <= n; j++) {
		size_t above = row[j];
		row[j] = least(above + 1, row[j - 1] + 1, diagonal + (lower(c) != lower(b[j - 1])));
		diagonal = above;
	}
}

size_t nod_edit_distance(const char *a, const char *b)
{
	size_t row[NOD_NEAREST_LENGTH_MAX + 1], n = strlen(b);

	if (n > NOD_NEAREST_LENGTH_MAX || strlen(a) > NOD_NEAREST_LENGTH_MAX)
		return SIZE_MAX;
	for (size_t j = 0; j <= n; j++)
		row[j] = j;
	for (; *a; a++)
		next_row(row, *a, b, n);
	return row[n];
}

void nod_nearest_offer(struct nod_nearest *nearest, const char *known)
{
	size_t distance = nod_edit_distance(nearest->word, known);
	size_t m = strlen(nearest->word), n = strlen(known);

	if (distance > (m > n ? m : n) / 3 || (nearest->best && distance >= nearest->distance))
		return;
	nearest->best = known;
	nearest->distance = distance;
}
