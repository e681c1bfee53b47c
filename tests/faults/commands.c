/* SPDX-License-Identifier: MIT */
/* The commands, called as a function. */
int nodoff_main(int argc, char **argv);

#define main nodoff_main
#include "../../cli/main.c"
