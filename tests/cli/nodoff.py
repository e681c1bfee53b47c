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


class Command(unittest.TestCase):
    maxDiff = None

    def run_command(self, *arguments, status=0, text=None):
        done = subprocess.run([*WRAPPER, PROGRAM, *arguments], input=text, capture_output=True,
                              text=True, timeout=PATIENCE, env={**os.environ, "LC_ALL": "C.UTF-8", "TZ": "UTC"})
        self.assertEqual(done.returncode, status, done.stdout + done.stderr)
        if status == 0:
            self.assertEqual(done.stderr, "")
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
