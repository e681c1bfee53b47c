# SPDX-License-Identifier: MIT
"""An installation of the build tree into a directory of its own."""
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

SOURCE, BUILD = (pathlib.Path(path).resolve() for path in sys.argv[1:3])
CAPTURE = SOURCE / "captures" / "holder-autosar"
CULPRIT = "seat heater unit"


def run(*command, env=None, status=0, **more):
    """Runs a command and returns what it printed; fails with its messages."""
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True,
                          env=os.environ | (env or {}), **more)
    if done.returncode != status:
        raise AssertionError(f"{command}: exit status {done.returncode}, not {status}\n"
                             f"{done.stdout}{done.stderr}")
    return done.stdout


class Installed(unittest.TestCase):
    """Sets up cls.root (DESTDIR) and cls.prefix (where the files are in it)."""

    @classmethod
    def setUpClass(cls):
        cls.temporary = tempfile.TemporaryDirectory()
        cls.root = pathlib.Path(cls.temporary.name)
        run("meson", "install", "-C", BUILD, "--no-rebuild", "--destdir", cls.root)
        cls.files = sorted(path.relative_to(cls.root).as_posix() for path in cls.root.rglob("*")
                           if not path.is_dir() or path.is_symlink())
        cls.prefix = cls.find("bin/nodoff").parent.parent

    @classmethod
    def tearDownClass(cls):
        cls.temporary.cleanup()

    @classmethod
    def find(cls, ending):
        """The one installed file whose path ends so."""
        found = [name for name in cls.files if ("/" + name).endswith("/" + ending)]
        if len(found) != 1:
            raise AssertionError(f"{ending}: {found or 'not installed'}")
        return cls.root / found[0]


def main():
    unittest.main(argv=sys.argv[:1])
