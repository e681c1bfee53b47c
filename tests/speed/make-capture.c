/* make-capture LINES: an invented capture of a busy car on standard output.
 * Two networks, 48 IDs, of which a third are extended; 8 bytes mostly; about
 * 2,500 frames a second. The same number of lines gives the same bytes. */
#include <inttypes.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#define IDS 48

struct message {
	char head[24]; /* "can0 123#" */
	unsigned length;
	uint64_t payload;
};

static uint64_t next_random(uint64_t *random)
{
	/* Knuth, MMIX */
	*random = *random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
	return *random >> 33;
}

static void invent(struct message *messages, uint64_t *random)
{
	static const unsigned lengths[] = {8, 8, 8, 8, 8, 8, 7, 6, 4, 2};

	for (unsigned i = 0; i < IDS; i++) {
		struct message *m = &messages[i];
		unsigned number = (unsigned)next_random(random);
		if (i % 3)
			snprintf(m->head, sizeof(m->head), "can%u %03X#", i % 2, number & 0x7FF);
		else
			snprintf(m->head, sizeof(m->head), "can%u %08X#", i % 2,
				 number & 0x1FFFFFFF);
		m->length = lengths[next_random(random) % 10];
		m->payload = next_random(random) << 31 ^ next_random(random);
	}
}

int main(int argc, char **argv)
{
	struct message messages[IDS];
	uint64_t random = 1, time = UINT64_C(1700000000000000);
	long lines = argc == 2 ? strtol(argv[1], NULL, 10) : 0;

	if (lines <= 0) {
		fprintf(stderr, "usage: make-capture LINES\n");
		return 2;
	}
	invent(messages, &random);
	for (long i = 0; i < lines; i++) {
		struct message *m = &messages[next_random(&random) % IDS];
		time += next_random(&random) % 800;
		m->payload += UINT64_C(0x0100000000000001);
		printf("(%" PRIu64 ".%06" PRIu64 ") %s%0*" PRIX64 "\n", time / 1000000,
		       time % 1000000, m->head, 2 * (int)m->length,
		       m->payload & (UINT64_MAX >> (64 - 8 * m->length)));
	}
	return fflush(stdout) || ferror(stdout);
}
