# SPDX-License-Identifier: MIT
"""Nothing that a terminal acts on leaves nodoff, whatever stands in journals, names of files
and interfaces, vehicle files and arguments: every command, its two outputs, every form."""
import os
import re
import shutil
import subprocess
import tempfile
import unittest

import nodoff

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
CAPTURES = os.path.join(ROOT, "captures")

# A title, a cleared screen, red, C1 as UTF-8 and as a byte, a bell, a carriage return, and a
# line of TAP.
HOSTILE = b"A\x1b]0;x\x07\x1b[2J\x1b[31m\xc2\x9b2J\x9b2J\x85\r\nnot ok 1 - B\x7f"
IN_A_LINE = HOSTILE.replace(b"\n", b"")
ALLOWED = re.compile(rb"[\x20-\x7e\n\t]|[\xc3-\xf4][\x80-\xbf]+|\xc2[\xa0-\xbf]")


def commands():
    """One command line of each kind; PART marks what is hostile."""
    s, j, v = b"SESSION", b"JUNK", b"MAP"
    return [
        [b"analyse", s], [b"analyse", s, b"--ids"], [b"analyse", s, b"--json"],
        [b"analyse", s, b"--colour", b"always"], [b"analyse", j], [b"analyse", HOSTILE],
        [b"analyse", s, b"--vehicle", v], [b"analyse", s, b"--lock", HOSTILE],
        [b"report", s, b"--output", b"/dev/stdout"], [b"report", j], [b"timeline", s],
        [b"timeline", s, b"--json"], [b"history", s, b"2A0"], [b"history", s, HOSTILE],
        [b"wakeups", s], [b"wakeups", s, b"--network", HOSTILE], [b"compare", s, s],
        [b"compare", s, s, b"--json"], [b"compare", s, j], [b"frames", s], [b"frames", s, b"--count"],
        [b"frames", j], [b"gate", b"TREE"], [b"gate", b"TREE", b"--tap"], [b"gate", j],
        [b"session", b"show", s], [b"session", b"show", j], [b"session", b"cut", s, b"--from", HOSTILE],
        [b"session", b"mark", s, HOSTILE], [b"session", b"make", j, b"--into", b"NEW"],
        [b"vehicle", b"check", v], [b"vehicle", b"check", j], [b"vehicle", b"draft", s],
        [b"vehicle", b"learn", s], [b"current", b"show", s], [b"current", b"import", j],
        [b"fuses", j], [b"pins", HOSTILE], [b"battery", HOSTILE], [b"mark", HOSTILE],
        [b"record", b"start", HOSTILE, b"--socket", HOSTILE], [b"wait", b"--socket", HOSTILE],
        [b"live", b"--socket", HOSTILE], [b"page", b"--socket", HOSTILE], [b"bitrate", HOSTILE],
        [b"help", HOSTILE], [HOSTILE], [b"analyse", b"--" + HOSTILE],
    ]


class Plain(nodoff.Command):
    def setUp(self):
        self.directory = tempfile.mkdtemp().encode()
        self.addCleanup(shutil.rmtree, self.directory)
        tree = os.path.join(self.directory, b"tree")
        self.session = os.path.join(tree, HOSTILE.replace(b"/", b""))
        shutil.copytree(os.path.join(CAPTURES, "truck").encode(), self.session)
        self.spoil(b"journal.log", lambda t: t + b"(1700000001.0) note " + IN_A_LINE + b"\n(1700000002.0) " +
                   IN_A_LINE + b"\n(1700000003.0) isolated " + IN_A_LINE + b"\n")
        self.spoil(b"frames.log", lambda t: t.replace(b"can0", b"c\x1b[2J0") + IN_A_LINE + b"\n# title: " +
                   IN_A_LINE + b"\n")
        self.spoil(b"current.log", lambda t: t + IN_A_LINE + b"\n")
        self.spoil(b"expect.txt", lambda t: t + b"network " + IN_A_LINE + b": asleep\n")
        self.junk = os.path.join(self.directory, b"junk" + HOSTILE)
        with open(self.junk, "wb") as file:
            file.write(HOSTILE * 3)
        self.map = os.path.join(self.directory, b"map" + HOSTILE + b".yaml")
        with open(self.map, "wb") as file:
            file.write(b"networks:\n  \"b\\e[2J\\n\": { interfaces: [\"c\\e[2J\"] }\n")
        self.words = {b"SESSION": self.session, b"JUNK": self.junk, b"MAP": self.map, b"TREE": tree,
                      b"NEW": os.path.join(self.directory, b"new")}

    def spoil(self, name, change):
        path = os.path.join(self.session, name)
        with open(path, "rb") as file:
            text = file.read()
        with open(path, "wb") as file:
            file.write(change(text))

    def test_every_command(self):
        for line in commands():
            arguments = [self.words.get(word, word) for word in line]
            with self.subTest(line=line):
                done = subprocess.run([*nodoff.WRAPPER, nodoff.PROGRAM, *arguments], timeout=nodoff.PATIENCE,
                                      capture_output=True, stdin=subprocess.DEVNULL)
                self.assertIn(done.returncode, (0, 1, 2, 3, 4), done.stderr)
                self.assertTrue(done.stdout or done.stderr)
                for out in (done.stdout, done.stderr):
                    if b"always" in line:
                        out = re.sub(rb"\x1b\[(0|1|1;3[123])m", b"", out)
                    left = ALLOWED.sub(b"", out)
                    self.assertEqual(left, b"", out)
                    self.assertNotRegex(out, rb"(?m)^not ok 1 - B")

    def test_what_was_meant_is_left(self):
        """German umlauts, the degree sign, ohms: nothing of that is lost."""
        os.rename(self.junk, os.path.join(self.directory, "Tür 5° Ω".encode()))
        done = self.run_command("frames", os.path.join(self.directory, "Tür 5° Ω".encode()).decode(), status=4)
        self.assertIn("Tür 5° Ω", done.stderr)


nodoff.main()
