# SPDX-License-Identifier: MIT
"""nodoff-tour(7): every command in it is run, and must print what the page shows.

usage: test-tour.py SOURCE BUILD [--update]    writes the outputs into the page instead
"""
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest

SOURCE, BUILD = (pathlib.Path(argument) for argument in sys.argv[1:3])
PAGE = SOURCE / "cli/man/nodoff-tour.7"
BLOCK = re.compile(r"^(\.Bd -literal\n\$ (.*)\n)((?:(?!\.Ed\n).*\n)*)(?=\.Ed\n)", re.M)


def as_mdoc(line):
    line = line.replace("\\", "\\e")
    return "\\&" + line if line[:1] in (".", "'") else line


def run_all(page):
    """The page with what its commands print now."""
    with tempfile.TemporaryDirectory() as folder:
        for name, session in (("before", "holder-osek"), ("after", "holder-osek-repaired")):
            os.symlink(SOURCE / "captures" / session, pathlib.Path(folder, name))
        environment = {"PATH": f"{BUILD / 'cli'}:/usr/bin:/bin", "TZ": "UTC", "LC_ALL": "C.UTF-8"}

        def run(block):
            done = subprocess.run(block[2], shell=True, cwd=folder, env=environment, text=True,
                                  capture_output=True)
            if done.returncode or done.stderr:
                raise AssertionError(f"{block[2]}: {done.stderr}")
            return block[1] + "".join(as_mdoc(line) + "\n" for line in done.stdout.splitlines())

        return BLOCK.sub(run, page)


class Tour(unittest.TestCase):
    maxDiff = None

    def test_the_page_shows_what_the_commands_print(self):
        page = PAGE.read_text()
        self.assertGreaterEqual(len(BLOCK.findall(page)), 6)
        self.assertEqual(page, run_all(page), "run tests/install/test-tour.py SOURCE BUILD --update, "
                                              "and read what changed")


if __name__ == "__main__":
    if "--update" in sys.argv:
        PAGE.write_text(run_all(PAGE.read_text()))
    else:
        unittest.main(argv=sys.argv[:1])
