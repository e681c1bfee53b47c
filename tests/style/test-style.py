#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Every source file is laid out as clang-format 14 does it by .clang-format, and says its licence."""
import pathlib
import re
import shutil
import subprocess
import sys
import unittest

ROOT = pathlib.Path(sys.argv.pop(1))
FOLDERS = ("lib", "cli", "daemon", "captures", "tests")
LICENCE = "SPDX-License-Identifier: MIT"
FORMATTER_VERSION = 14  # Debian bookworm's: another one lays out differently


def sources(*suffixes):
    found = [p for folder in FOLDERS for p in (ROOT / folder).rglob("*") if p.suffix in suffixes]
    return sorted(found)


def formatter_version():
    if not shutil.which("clang-format"):
        return None
    said = subprocess.run(["clang-format", "--version"], capture_output=True, text=True, check=True)
    return int(re.search(r"version (\d+)", said.stdout).group(1))


class Style(unittest.TestCase):
    def test_layout(self):
        if formatter_version() != FORMATTER_VERSION:
            self.skipTest(f"clang-format {FORMATTER_VERSION} is not installed")
        files = sources(".c", ".h")
        self.assertGreater(len(files), 500)
        done = subprocess.run(["clang-format", "--dry-run", "-Werror", *map(str, files)],
                              cwd=ROOT, capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, done.stderr[:4000])

    def test_licence(self):
        files = sources(".c", ".h", ".py", ".sh", ".build")
        self.assertGreater(len(files), 600)
        bare = [str(p) for p in files
                if LICENCE not in "".join(p.read_text(errors="replace").splitlines(True)[:2])]
        self.assertEqual(bare, [])


if __name__ == "__main__":
    unittest.main(verbosity=0)
