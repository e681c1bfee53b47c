/* SPDX-License-Identifier: MIT */
/* measure COMMAND ...: runs a command with its output thrown away and prints
 * "SECONDS PROCESSOR_SECONDS PEAK_KILOBYTES" as the kernel counts them.
 *
 * A small program of its own, because a process begins with the peak memory of
 * the one that started it. The output goes through a file in memory: grep, for
 * one, does not read its input when the output is /dev/null. */
#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double seconds(struct timeval t)
{
	return (double)t.tv_sec + (double)t.tv_usec / 1e6;
}

static double now(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static void run(char **command)
{
	int out = memfd_create("output", 0);
	if (out >= 0 && dup2(out, STDOUT_FILENO) >= 0 && dup2(out, STDERR_FILENO) >= 0)
		execvp(command[0], command);
	_exit(127);
}

int main(int argc, char **argv)
{
	struct rusage usage;
	int status;

	if (argc < 2)
		return 2;
	double start = now();
	pid_t child = fork();
	if (child == 0)
		run(argv + 1);
	if (child < 0 || wait4(child, &status, 0, &usage) != child || status)
		return 1;
	printf("%.6f %.6f %ld\n", now() - start, seconds(usage.ru_utime) + seconds(usage.ru_stime),
	       usage.ru_maxrss);
	return 0;
}
