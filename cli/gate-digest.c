/* SPDX-License-Identifier: MIT */
#include "gate-digest.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command.h"
#include "expectation.h"
#include "gate-judge.h"
#include "text-stream.h"

int nod_gate_digest_program(char text[NOD_DIGEST_TEXT])
{
	struct nod_error err = {""};

	return nod_digest_file(text, "/proc/self/exe", &err) ? nod_unreadable("%s", err.text)
							     : NOD_EXIT_OK;
}

/* A line of the list whose digest is the result; one that is not there is said to be so. */
static int add_file(FILE *list, const char *name, const char *path)
{
	char digest[NOD_DIGEST_TEXT];
	struct stat st;

	if (stat(path, &st) || !S_ISREG(st.st_mode))
		return fprintf(list, "%s -\n", name) < 0;
	return nod_digest_file(digest, path, NULL) || fprintf(list, "%s %s\n", name, digest) < 0;
}

static int visible(const struct dirent *entry)
{
	return entry->d_name[0] != '.';
}

static int add_folder(FILE *list, const char *path)
{
	struct dirent **names;
	int count = scandir(path, &names, visible, alphasort), status = count < 0;

	for (int i = 0; i < count; i++) {
		char *file;
		if (!status && asprintf(&file, "%s/%s", path, names[i]->d_name) >= 0) {
			status = add_file(list, names[i]->d_name, file);
			free(file);
		}
		free(names[i]);
	}
	if (count >= 0)
		free(names);
	return status;
}

/* The vehicle file that the expectation names, if there is one. */
static int add_map(FILE *list, const struct nod_gate_session *session)
{
	struct nod_expectation *x = nod_expectation_load(session->expectation, NULL);
	char *map = NULL;
	int status = x && nod_gate_map(session, x, &map);

	if (!status && map)
		status = add_file(list, "map", map);
	free(map);
	nod_expectation_free(x);
	return status;
}

int nod_gate_digest(char text[NOD_DIGEST_TEXT], const struct nod_gate_session *session,
		    const char *program)
{
	struct nod_text_stream list;
	struct stat st;

	if (stat(session->path, &st) || nod_text_stream_open(&list))
		return -1;
	int status = fprintf(list.out, "program %s\n", program) < 0;
	if (!status)
		status = S_ISDIR(st.st_mode) ? add_folder(list.out, session->path)
					     : add_file(list.out, "capture", session->path);
	if (!status)
		status = add_file(list.out, "expectation", session->expectation);
	if (!status)
		status = add_map(list.out, session);
	if (nod_text_stream_close(&list))
		status = -1;
	if (!status)
		nod_digest_bytes(text, list.text, list.size);
	free(list.text);
	return status ? -1 : 0;
}
