/* SPDX-License-Identifier: MIT */
/* generate: writes a simulated session with known truth into a directory.
 * For the developers of nodoff; it is not installed. */
#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "generator.h"
#include "sim/write.h"

struct request {
	const char *situation, *out;
	uint64_t seed;
	struct nod_generator_options options;
	bool frames_given;
};

static void print_help(FILE *out)
{
	fputs("Usage: generate --situation NAME [--seed N] --out DIR\n"
	      "       generate --list\n"
	      "\n"
	      "Writes an invented session with known truth: frames.log, journal.log,\n"
	      "current.log, vehicle.yaml (the user's map) and truth.txt.\n"
	      "\n"
	      "  --list            name the situations\n"
	      "  --situation NAME  what happens\n"
	      "  --seed N          which car, and all that varies (default 1)\n"
	      "  --out DIR         where to; older files there are replaced\n"
	      "  --small           few modules, a few minutes\n"
	      "  --world N         1 to 4: worlds differ in how cars are built (default 1)\n"
	      "  --good            the same car without its fault\n"
	      "  --session N       a later recording of the same car (default 0, the first)\n"
	      "  --frames N        stretch periods until about N frames remain;\n"
	      "                    0: realistic periods, up to some million frames\n",
	      out);
}

static void print_list(void)
{
	for (size_t i = 0; nod_generator_situation(i); i++)
		printf("%-25s %s\n", nod_generator_situation(i), nod_generator_help(i));
}

static int parse_number(const char *text, uint64_t *number)
{
	char *end;

	errno = 0;
	*number = strtoull(text, &end, 10);
	if (errno || *end || end == text || *text == '-') {
		fprintf(stderr, "generate: \"%s\" is not a whole number\n", text);
		return 2;
	}
	return 0;
}

/* 0: go on; 1: done; 2: wrong use. */
static int parse_options(int argc, char **argv, struct request *request)
{
	static const struct option options[] = {{"list", no_argument, NULL, 'l'},
						{"situation", required_argument, NULL, 's'},
						{"seed", required_argument, NULL, 'n'},
						{"out", required_argument, NULL, 'o'},
						{"small", no_argument, NULL, 'm'},
						{"good", no_argument, NULL, 'g'},
						{"frames", required_argument, NULL, 'f'},
						{"world", required_argument, NULL, 'w'},
						{"session", required_argument, NULL, 'k'},
						{"help", no_argument, NULL, 'h'},
						{0}};
	uint64_t number;
	int c;

	while ((c = getopt_long(argc, argv, "h", options, NULL)) != -1) {
		switch (c) {
		case 'l':
			print_list();
			return 1;
		case 'h':
			print_help(stdout);
			return 1;
		case 's':
			request->situation = optarg;
			break;
		case 'o':
			request->out = optarg;
			break;
		case 'm':
			request->options.small = true;
			break;
		case 'g':
			request->options.good = true;
			break;
		case 'n':
			if (parse_number(optarg, &request->seed))
				return 2;
			break;
		case 'k':
			if (parse_number(optarg, &number))
				return 2;
			request->options.session = (unsigned)number;
			break;
		case 'w':
			if (parse_number(optarg, &number))
				return 2;
			request->options.world = (unsigned)number;
			break;
		case 'f':
			if (parse_number(optarg, &number))
				return 2;
			request->options.frames = (int64_t)number;
			request->frames_given = true;
			break;
		default:
			return 2;
		}
	}
	return 0;
}

int main(int argc, char **argv)
{
	struct request request = {.seed = 1};
	struct nod_error err = {""};
	int done = parse_options(argc, argv, &request);

	if (done)
		return done == 1 ? 0 : 2;
	if (!request.situation || !request.out) {
		print_help(stderr);
		return 2;
	}
	if (!request.frames_given)
		request.options.frames = request.options.small ? NOD_GENERATOR_SMALL_FRAMES
							       : NOD_GENERATOR_FRAMES;
	struct nod_generator *generator = nod_generator_open(request.situation, request.seed,
							     &request.options, &err);
	if (!generator) {
		fprintf(stderr, "generate: %s\n", err.text);
		return 2;
	}
	int result = sim_session_write(generator, request.out, &err);
	if (result)
		fprintf(stderr, "generate: %s\n", err.text);
	nod_generator_close(generator);
	return result ? 1 : 0;
}
