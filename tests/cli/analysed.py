# SPDX-License-Identifier: MIT
"""The shipped sessions, and what `nodoff analyse` says of them and of files that a test writes."""
import os
import subprocess
import tempfile

import nodoff

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
CAPTURES = os.path.join(ROOT, "captures")


def session(name):
    return os.path.join(CAPTURES, name)


def frames(name):
    with open(os.path.join(session(name), "frames.log"), encoding="utf-8") as file:
        return file.read()


def shipped():
    return sorted(name for name in os.listdir(CAPTURES)
                  if os.path.exists(os.path.join(session(name), "frames.log")))


class Analyse(nodoff.Command):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.addCleanup(self.directory.cleanup)

    def write(self, name, content):
        path = os.path.join(self.directory.name, name)
        with open(path, "wb") as file:
            file.write(content if isinstance(content, bytes) else content.encode())
        return path

    def raw(self, *arguments, data=b""):
        done = subprocess.run([nodoff.PROGRAM, "analyse", *arguments], input=data, timeout=nodoff.PATIENCE,
                              capture_output=True, check=True)
        self.assertEqual(done.stderr, b"")
        return done.stdout
