# SPDX-License-Identifier: MIT
"""usage: test-sum-up.py PROGRAM: what a program skipped inside is named, and wrong without an excuse."""
import json
import pathlib
import subprocess
import sys
import tempfile
import unittest

PROGRAM = sys.argv.pop(1)


class SumUp(unittest.TestCase):
    @staticmethod
    def log_in(folder):
        """As meson lays it: BUILD/meson-logs/testlog.json."""
        logs = pathlib.Path(folder, "gcc", "meson-logs")
        logs.mkdir(parents=True)
        return open(logs / "testlog.json", "w", encoding="utf-8")

    def sum_up(self, *results):
        with tempfile.TemporaryDirectory() as folder, self.log_in(folder) as log:
            for name, result, text in results:
                log.write(json.dumps({"name": name, "result": result, "stdout": text, "duration": 1.4}) + "\n")
            log.flush()
            return subprocess.run([sys.executable, PROGRAM, log.name], capture_output=True, text=True, check=False)

    def test_a_skip_is_seen_once_and_wrong(self):
        text = ("[  SKIPPED ] test_nobody_knows\n[==========] 2 test(s) run.\n[  SKIPPED ] 1 test(s), listed below:\n"
                "[  SKIPPED ] test_nobody_knows\n")
        done = self.sum_up(("nodoff:lib / when", "OK", text), ("nodoff:cli / page", "SKIP", ""))
        self.assertEqual(done.returncode, 1)
        self.assertEqual(done.stdout, "skipped inside when: test_nobody_knows: what it needs is there\n"
                                      "longest: nodoff:lib / when (gcc) 1 s, nodoff:cli / page (gcc) 1 s\n"
                                      "1 skipped inside programs that passed\n"
                                      "1 passed, 0 failed, 1 skipped\n")

    def test_python_counts_them(self):
        done = self.sum_up(("nodoff:cli / cli-session", "OK", "...\nOK (skipped=2)\n"))
        self.assertEqual(done.returncode, 1)
        self.assertIn("skipped inside cli-session: skipped=2", done.stdout)

    def test_nothing_skipped(self):
        done = self.sum_up(("nodoff:lib / when", "OK", "[       OK ] test_a\n"), ("x / y", "FAIL", "[  SKIPPED ] test_b\n"))
        self.assertEqual(done.returncode, 0)
        self.assertTrue(done.stdout.endswith("0 skipped inside programs that passed\n"
                                             "1 passed, 1 failed, 0 skipped\n"), done.stdout)


unittest.main()
