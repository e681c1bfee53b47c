#include "option.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "command.h"

bool nod_option_quantity(struct nod_quantity *q, const char *command, const char *option,
			 const char *text, enum nod_unit unit)
{
	struct nod_error err = {""};

	if (!nod_quantity_parse_as(q, text, unit, option, &err))
		return true;
	nod_usage(command, "%s", err.text);
	return false;
}

bool nod_option_share(int64_t *ppm, const char *command, const char *option, const char *text)
{
	struct nod_quantity q;

	if (!nod_option_quantity(&q, command, option, text, NOD_UNIT_PERCENT))
		return false;
	if (q.micro < 0 || q.micro > 100000000) {
		nod_usage(command, "%s: `%s` is not between 0 %% and 100 %%", option, text);
		return false;
	}
	*ppm = q.micro / 100;
	return true;
}

int nod_option_print_json(json_t *object)
{
	if (!object)
		return nod_unreadable("out of memory");
	errno = 0;
	int failed = json_dumpf(object, stdout,
				JSON_INDENT(2) | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(6));
	int code = errno;
	putchar('\n');
	json_decref(object);
	return failed ? nod_unreadable("cannot write the output: %s",
				       strerror(code ? code : ENOMEM))
		      : nod_option_finish();
}

int nod_option_finish(void)
{
	if (!fflush(stdout) && !ferror(stdout))
		return NOD_EXIT_OK;
	return nod_unreadable("cannot write the output: %s", strerror(errno));
}
