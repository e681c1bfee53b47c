/* SPDX-License-Identifier: MIT */
/* Prints the files of the page as C, at build time: embed NAME TYPE PATH ... */
#include <stdio.h>

static int print_bytes(const char *path, int number)
{
	FILE *in = fopen(path, "rb");
	int byte, count = 0;

	if (!in)
		return perror(path), 1;
	printf("static const unsigned char page_bytes_%d[] = {", number);
	while ((byte = getc(in)) != EOF)
		printf("%s%d,", count++ % 24 ? "" : "\n", byte);
	printf("\n};\n");
	fclose(in);
	return 0;
}

int main(int argc, char **argv)
{
	for (int i = 1; i + 2 < argc; i += 3)
		if (print_bytes(argv[i + 2], i))
			return 1;
	printf("static const struct {\n\tconst char *name, *type;\n\tconst unsigned char *bytes;\n"
	       "\tsize_t length;\n} page_files[] = {\n");
	for (int i = 1; i + 2 < argc; i += 3)
		printf("\t{\"%s\", \"%s\", page_bytes_%d, sizeof(page_bytes_%d)},\n", argv[i],
		       argv[i + 1], i, i);
	printf("};\n");
	return ferror(stdout);
}
