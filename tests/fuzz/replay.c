/* SPDX-License-Identifier: MIT */
/* A main for the fuzz targets where no fuzzer drives them: hands every file of
 * the directories and files named to the target. */
#include <dirent.h>
#include <errno.h>
#include <sys/stat.h>

#include "fuzz.h"

int LLVMFuzzerInitialize(int *argc, char ***argv) __attribute__((weak));

static int replay_file(const char *path)
{
	FILE *file = fopen(path, "re");
	uint8_t *bytes = NULL;
	long size = -1;

	if (file && !fseek(file, 0, SEEK_END) && (size = ftell(file)) >= 0)
		rewind(file);
	if (size >= 0 && (bytes = malloc(size ? (size_t)size : 1)))
		if (fread(bytes, 1, (size_t)size, file) != (size_t)size)
			size = -1;
	if (file)
		fclose(file);
	if (!bytes || size < 0) {
		fprintf(stderr, "%s: cannot be read\n", path);
		free(bytes);
		return -1;
	}
	LLVMFuzzerTestOneInput(bytes, (size_t)size);
	free(bytes);
	return 1;
}

static int is_shown(const struct dirent *entry)
{
	return entry->d_name[0] != '.';
}

/* Returns how many files there were, -1 when one cannot be read. */
static int replay(const char *path)
{
	struct dirent **names;
	struct stat st;
	int count, done = 0;

	if (stat(path, &st) || !S_ISDIR(st.st_mode))
		return replay_file(path);
	count = scandir(path, &names, is_shown, alphasort);
	for (int i = 0; i < count; i++) {
		char *name;

		if (done >= 0 && asprintf(&name, "%s/%s", path, names[i]->d_name) > 0) {
			int result = replay(name);
			done = result < 0 ? result : done + result;
			free(name);
		}
		free(names[i]);
	}
	if (count >= 0)
		free(names);
	return count < 0 ? -1 : done;
}

int main(int argc, char **argv)
{
	int files = 0;

	if (LLVMFuzzerInitialize)
		LLVMFuzzerInitialize(&argc, &argv);
	for (int i = 1; i < argc; i++) {
		int count = replay(argv[i]);
		if (count <= 0) {
			fprintf(stderr, "%s: %s\n", argv[i], count ? strerror(errno) : "no files");
			return 1;
		}
		files += count;
	}
	printf("%d inputs replayed\n", files);
	return files ? 0 : 1;
}
