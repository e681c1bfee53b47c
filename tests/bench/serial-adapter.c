/* SPDX-License-Identifier: MIT */
/* Plays a serial-line adapter at the other end of a pseudo terminal: the kernel's slcan is put
 * on its line, and the interface's name printed. It is plugged in on a bus of that bitrate.
 *
 * usage: serial-adapter BITRATE [no-listen-only]
 *
 * Prints what the kernel tells it ("told L"). Orders come as lines on standard input:
 *	t1232AABB	a frame is on the bus (or T, r, R): passed on when the adapter is open at the bus's bitrate, else a stuff error is
 *	say TEXT	passes TEXT on as it is
 *	noise N		passes N bytes on that mean nothing
 *	stall		takes nothing from the line any more
 *	unplug		is gone
 *
 * The language is that of the kernel's drivers/net/can/slcan/slcan-core.c (6.1). */
#include <fcntl.h>
#include <linux/sockios.h>
#include <linux/tty.h>
#include <net/if.h>
#include <poll.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

static struct {
	int line, other_end; /* the other end stays open: the kernel's slcan is on it */
	unsigned bus;        /* bit/s */
	unsigned rate;       /* as set */
	bool knows_listen_only, open, stalled;
	char told[64];
	size_t told_length;
} adapter;

static void pass_on(const char *bytes, size_t size)
{
	if (write(adapter.line, bytes, size) != (ssize_t)size)
		perror("serial-adapter: write");
}

static void say(const char *text)
{
	char line[128];
	int length = snprintf(line, sizeof(line), "%s\r", text);

	pass_on(line, (size_t)length);
}

/* Returns whether the adapter understands it. */
static bool obey(const char *command)
{
	/* S0 to S8, as in slcan_bitrate_const[] */
	static const unsigned rates[] = {10000,  20000,  50000,  100000, 125000,
					 250000, 500000, 800000, 1000000};
	size_t index = (size_t)(command[1] - '0');

	switch (command[0]) {
	case 'C':
		adapter.open = false;
		return true;
	case 'S':
		adapter.rate = index < sizeof(rates) / sizeof(rates[0]) ? rates[index] : 0;
		return adapter.rate;
	case 'L':
	case 'O':
		adapter.open = command[0] == 'O' || adapter.knows_listen_only;
		return adapter.open;
	default:
		return false;
	}
}

static void take_command(void)
{
	adapter.told[adapter.told_length] = 0;
	printf("told %s\n", adapter.told);
	pass_on(obey(adapter.told) ? "\r" : "\a", 1);
	adapter.told_length = 0;
}

static void listen_to_line(void)
{
	char bytes[64];
	ssize_t size = read(adapter.line, bytes, sizeof(bytes));

	for (ssize_t i = 0; i < size; i++) {
		if (bytes[i] == '\r')
			take_command();
		else if (adapter.told_length + 1 < sizeof(adapter.told))
			adapter.told[adapter.told_length++] = bytes[i];
	}
}

static void make_noise(size_t count)
{
	static unsigned state = 1;

	for (size_t i = 0; i < count; i++) {
		state = state * 1664525 + 1013904223;
		pass_on(&(char){(char)(state >> 24)}, 1);
	}
}

/* Returns false when it is unplugged. */
static bool take_order(char *order)
{
	order[strcspn(order, "\n")] = 0;
	if (!strcmp(order, "unplug"))
		return false;
	if (!strcmp(order, "stall"))
		adapter.stalled = true;
	else if (!strncmp(order, "say ", 4))
		say(order + 4);
	else if (!strncmp(order, "noise ", 6))
		make_noise(strtoul(order + 6, NULL, 10));
	else if (adapter.open)
		say(adapter.rate == adapter.bus ? order : "e1s");
	return true;
}

static int plug_in(void)
{
	int discipline = N_SLCAN;
	char name[IFNAMSIZ];
	struct termios raw;

	adapter.line = posix_openpt(O_RDWR | O_NOCTTY);
	if (adapter.line < 0 || grantpt(adapter.line) || unlockpt(adapter.line))
		return -1;
	adapter.other_end = open(ptsname(adapter.line), O_RDWR | O_NOCTTY);
	if (adapter.other_end < 0 || tcgetattr(adapter.other_end, &raw))
		return -1;
	cfmakeraw(&raw);
	if (tcsetattr(adapter.other_end, TCSANOW, &raw) ||
	    ioctl(adapter.other_end, TIOCSETD, &discipline) ||
	    ioctl(adapter.other_end, SIOCGIFNAME, name))
		return -1;
	puts(name);
	return 0;
}

int main(int argc, char **argv)
{
	struct pollfd sources[2];
	char order[128];

	if (argc < 2)
		return 2;
	setlinebuf(stdout);
	setvbuf(stdin, NULL, _IONBF, 0); /* poll() sees what is left */
	adapter.bus = (unsigned)strtoul(argv[1], NULL, 10);
	adapter.knows_listen_only = argc == 2;
	if (plug_in()) {
		perror("serial-adapter");
		return 1;
	}
	for (;;) {
		sources[0] = (struct pollfd){STDIN_FILENO, POLLIN, 0};
		sources[1] = (struct pollfd){adapter.stalled ? -1 : adapter.line, POLLIN, 0};
		if (poll(sources, 2, -1) < 0)
			return 1;
		if (sources[1].revents)
			listen_to_line();
		if (sources[0].revents &&
		    (!fgets(order, sizeof(order), stdin) || !take_order(order)))
			return 0;
	}
}
