# SPDX-License-Identifier: MIT
"""The Python module on the library as it was built: beside the command, and in pytest.

test-python.py NODOFF LIBRARY SOURCE_ROOT"""
import glob
import json
import os
import subprocess
import sys
import tempfile
import unittest

PROGRAM, LIBRARY, ROOT = sys.argv[1:4]
MODULE = os.path.join(ROOT, "lib", "python")
os.environ["NODOFF_LIBRARY"] = LIBRARY
os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
sys.dont_write_bytecode = True
sys.path.insert(0, MODULE)

import nodoff # noqa: E402

CAPTURES = os.path.join(ROOT, "captures")
SESSIONS = sorted(os.path.dirname(path) for path in glob.glob(f"{CAPTURES}/*/expect.txt"))


def command(*arguments):
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, check=True).stdout


def session(name):
    return os.path.join(CAPTURES, name)


def as_lines(session_or_capture, batches):
    """Frames as nodoff prints them."""
    for batch in batches:
        for record in nodoff.numpy.frombuffer(batch, nodoff.DTYPE):
            number, flags = int(record["id"]), int(record["flags"])
            name = session_or_capture.interfaces[record["interface"]]
            seconds, ns = divmod(int(record["time"]), 10**9)
            data = record["data"][:record["length"]].tobytes().hex().upper()
            wide = number & 0xA0000000
            yield (f"({seconds}.{ns // 1000:06d}) {name} " +
                   (f"{number & 0x3FFFFFFF:08X}#" if wide else f"{number & 0x7FF:03X}#") +
                   (f"#{flags & 3:X}" if flags & 4 else "") + data)


class Python(unittest.TestCase):
    def test_judges_as_the_command_does(self):
        for path in SESSIONS[::5]:
            with self.subTest(session=os.path.basename(path)):
                self.assertEqual(nodoff.judge(path), json.loads(command("analyse", "--json", path)))

    def test_judges_beside_others(self):
        here, good, earlier = map(session, ("holder-no-nm", "healthy", "isolation-right"))
        self.assertEqual(nodoff.judge(here, good=good, earlier=[earlier]),
                         json.loads(command("analyse", "--json", "-g", good, "-e", earlier, here)))
        start = int(1e9) * 1701030700
        answer = nodoff.judge(here + "/frames.log", vehicle=here + "/vehicle.yaml", locked=start)
        self.assertEqual(answer["lock"]["time"], "1701030700.000000000")
        self.assertEqual(answer["lock"]["source"], "option")

    def test_version(self):
        self.assertEqual("nodoff " + nodoff.version() + "\n", command("--version"))

    @unittest.skipUnless(nodoff.numpy, "numpy is missing")
    def test_frames_are_those_of_the_command(self):
        for name in ("tester-left", "frames-lost", "truck"):
            captures = sorted(glob.glob(f"{session(name)}/frames*"))
            there = [line for line in command("frames", *captures).splitlines() if line[0] == "("]
            with nodoff.Session(*captures) as opened:
                here = list(as_lines(opened, opened.frames()))
            self.assertEqual(here, there)

    @unittest.skipUnless(nodoff.numpy, "numpy is missing")
    def test_frames_are_not_copied_and_not_for_writing(self):
        with tempfile.NamedTemporaryFile("w", suffix=".log") as log:
            log.writelines(f"({1000 + i / 100:.6f}) can0 2A0#11\n" for i in range(5000))
            log.flush()
            with nodoff.Session(log.name) as opened:
                batches = 0
                for frames in opened.frames():
                    batches += 1
                    self.assertFalse(frames.flags.owndata)
                    with self.assertRaises(ValueError):
                        frames["id"] = 0
                self.assertLess(batches, 500) # hundreds at a time

    def test_without_numpy_there_are_views_of_memory(self):
        path, numpy = session("tester-left"), nodoff.numpy
        try:
            nodoff.numpy = None
            with nodoff.Session(path) as opened:
                views = [bytes(view) for view in opened.frames()]
        finally:
            nodoff.numpy = numpy
        frames = json.loads(command("session", "show", "--json", path))["frames"]
        self.assertEqual(sum(map(len, views)), frames * nodoff.RECORD)

    def test_a_session_has_more_than_frames(self):
        path = session("current-high-asleep")
        with nodoff.Session(path) as opened:
            events = list(opened.events())
            self.assertEqual(opened.vehicle, path + "/vehicle.yaml")
            locked = opened.lock
        shown = json.loads(command("session", "show", "--json", path))
        marks = [event for event in events if isinstance(event, nodoff.Mark)]
        samples = [event for event in events if isinstance(event, nodoff.Sample)]
        self.assertEqual([(mark.kind, mark.subject) for mark in marks],
                         [(mark["kind"], mark["subject"]) for mark in shown["journal"]])
        self.assertEqual(len(samples), shown["samples"])
        self.assertTrue(all(0 < sample.microamps < 10**8 for sample in samples))
        self.assertEqual(f"{locked // 10**9}.{locked % 10**9:09}", shown["lock"])

    def test_what_cannot_be_read_is_said(self):
        with self.assertRaisesRegex(nodoff.Unreadable, "nowhere.log"):
            nodoff.Session("nowhere.log")
        with self.assertRaisesRegex(nodoff.Unreadable, "no.yaml"):
            nodoff.judge(session("healthy"), vehicle="no.yaml")

    def test_sleeps_within(self):
        healthy = nodoff.judge(session("healthy"))
        self.assertEqual(healthy.awake_after(120), [])
        self.assertTrue(healthy.awake_after(0.5))
        self.assertIn("ends before", healthy.awake_after(10**6)[0])
        self.assertIn("still awake", nodoff.judge(session("holder-no-nm")).awake_after(120)[0])
        self.assertIn("woken again", nodoff.judge(session("rare-wake-ups")).awake_after(120)[0])

    def test_pytest_takes_it_as_a_fixture(self):
        try:
            import pytest # noqa: F401
        except ImportError:
            self.skipTest("pytest is missing")
        with tempfile.TemporaryDirectory() as folder:
            with open(os.path.join(folder, "test_cars.py"), "w", encoding="utf-8") as file:
                file.write("def test_sleeps(sleeps_within):\n"
                           f"    sleeps_within({session('healthy')!r}, 120)\n"
                           "def test_does_not(sleeps_within):\n"
                           f"    sleeps_within({session('holder-no-nm')!r}, 120)\n"
                           "def test_nobody(judged):\n"
                           f"    assert judged({session('healthy')!r}).culprits == []\n")
            done = subprocess.run([sys.executable, "-m", "pytest", "-q", "-p", "nodoff.fixtures",
                                   "-p", "no:cacheprovider", folder], capture_output=True, text=True,
                                  env={**os.environ, "PYTHONPATH": MODULE})
        self.assertIn("1 failed, 2 passed", done.stdout)
        self.assertIn("body: still awake 120 s after the lock", done.stdout)


unittest.main(argv=sys.argv[:1])
