/* SPDX-License-Identifier: MIT */
/* nodoff current import: argv[0] is "import". Returns an exit status. */
#ifndef NOD_CURRENT_IMPORT_H
#define NOD_CURRENT_IMPORT_H

int nod_current_import(int argc, char **argv);

#endif
