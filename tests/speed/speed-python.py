# SPDX-License-Identifier: MIT
"""The Python module beside the command on the same capture, in processor time.

speed-python.py PROGRAM LIBRARY MAKE_CAPTURE DIRECTORY MODULE

Prints the best of five; the module is meant to stay within twice the command. Never fails."""
import os
import resource
import subprocess
import sys
import time

from captures import Captures

PROGRAM, LIBRARY, MAKE_CAPTURE, DIRECTORY, MODULE = sys.argv[1:]
os.environ["NODOFF_LIBRARY"] = LIBRARY
sys.path.insert(0, MODULE)

import nodoff # noqa: E402

LINES = 2000000
capture = Captures(MAKE_CAPTURE, DIRECTORY).get(LINES)


def frames():
    with nodoff.Session(capture) as session:
        return sum(len(batch) for batch in session.frames())


def command(*arguments):
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([PROGRAM, *arguments, capture], stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def here(function):
    before = time.process_time()
    function()
    return time.process_time() - before


print(f"{LINES:,} frames{'command':>20}{'module':>10}{'ratio':>8}")
for name, theirs, ours in (("read", lambda: command("frames", "--count"), frames),
                           ("judge", lambda: command("analyse", "--json"),
                            lambda: nodoff.judge(capture))):
    by_command, by_module = (min(f() for _ in range(5)) for f in (theirs, lambda: here(ours)))
    print(f"{name:<16}{by_command:>18.3f}{by_module:>10.3f}{by_module / by_command:>8.2f}")
