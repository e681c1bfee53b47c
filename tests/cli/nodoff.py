# SPDX-License-Identifier: MIT
"""What the black-box tests share: running the command and looking at it."""
import json
import os
import subprocess
import sys
import unittest

PROGRAM = os.path.abspath(sys.argv[1])
WRAPPER = os.environ.get("NODOFF_WRAPPER", "").split()  # valgrind and its options, or nothing
PATIENCE = (200 if WRAPPER else 20) * int(os.environ.get("NODOFF_PATIENCE", "1"))  # seconds


_seen = set()


def wrapper(arguments, *ends):
    """What stands before the program. Starting under valgrind takes a second, and what it looks at is
    code: once in a test program for each command, with the same options and the same end. The
    sanitizers see every run, and `gate` runs every shipped session under valgrind in one go."""
    words = arguments[:1] if "help" in arguments[:1] else tuple(word for word in arguments[:2] if word.isalpha())
    options = frozenset(word.split("=")[0] for word in arguments if word[:1] == "-" and not word[1:2].isdigit())
    form = (words, options, *ends)
    if form in _seen:
        return []
    _seen.add(form)
    return WRAPPER


def torn_lines(arguments):
    """How many lines of these sessions lost their end with the logger's power, by their truth."""
    count = 0
    for argument in arguments:
        truth = os.path.join(argument, "truth.txt")
        if os.path.isdir(argument) and os.path.exists(truth):
            with open(truth, encoding="utf-8") as file:
                count += file.read().count("its last line is torn")
    return count


class Command(unittest.TestCase):
    maxDiff = None

    def run_command(self, *arguments, status=0, text=None, environment=None):
        done = subprocess.run([*wrapper(arguments, status, text is None), PROGRAM, *arguments], input=text,
                              capture_output=True, text=True, timeout=PATIENCE,
                              env={**os.environ, "LC_ALL": "C.UTF-8", "TZ": "UTC",
                                   "COLUMNS": "80", "XDG_CONFIG_HOME": "/nonexistent",
                                   **(environment or {})})
        self.assertEqual(done.returncode, status, done.stdout + done.stderr)
        if status == 0:
            torn = torn_lines(arguments)
            self.assertRegex(done.stderr, rf"\A(\S+frames\.log:\d+:\d+: expected .*\n){{{torn}}}\Z")
        return done

    def output(self, *arguments, **more):
        """Standard output of a run that succeeds, checked to fit 80 columns."""
        out = self.run_command(*arguments, **more).stdout
        for line in out.splitlines():
            self.assertLessEqual(len(line), 80, line)
            self.assertEqual(line, line.rstrip(), "blanks at the end of a line")
        return out

    def object(self, *arguments, **more):
        return json.loads(self.run_command(*arguments, "--json", **more).stdout)

    def complaint(self, *arguments, status=2, **more):
        """Standard error of a run that must fail."""
        done = self.run_command(*arguments, status=status, **more)
        self.assertEqual(done.stdout, "")
        return done.stderr


def main():
    unittest.main(argv=sys.argv[:1])
