# SPDX-License-Identifier: MIT
"""nodoff frames, from outside."""
import gzip
import os
import subprocess
import tempfile

from nodoff import PATIENCE, PROGRAM, Command, main

CAPTURE = """# locked: 1700000000.5
(1700000000.000000)   can0 123#1122
(1700000001.000000001) can1 00000123#R4 T
DROPCOUNT: dropped 2 CAN frames on 'can1' socket (total drops 2)
(1700000002.000000) can0 123##711.22
(1700000003.000000) can0 123#1122334455667788_e
"""

LISTED = """# locked: 1700000000.5
(1700000000.000000) can0 123#1122
(1700000001.000000001) can1 00000123#R4 T
DROPCOUNT: dropped 2 CAN frames on 'can1' socket (total drops 2)
(1700000002.000000) can0 123##31122
(1700000003.000000) can0 123#1122334455667788_E
"""


class Unreadable(Command):
    def test_what_cannot_be_read_is_said_first(self):
        bad = "(%d.5) can0 12#\n"
        done = subprocess.run([PROGRAM, "analyse", "-"], capture_output=True, text=True, timeout=60,
                              input="(1.0) can0 123#11\n" + "".join(bad % n for n in range(500)))
        text = " ".join(done.stdout.split())
        self.assertEqual(done.returncode, 0)
        self.assertTrue(text.startswith("CANNOT TELL Most of the recording could not be read (500 lines, "
                                        "against 1 frame that could)."), text)
        self.assertIn("See first why it cannot be read", text)

    def test_nothing_readable_is_no_empty_network(self):
        complaint = self.complaint("analyse", "-", status=4,
                                   text="".join(f"({n}.5) can0 12#\n" for n in range(500)))
        self.assertIn("could be read: 500 lines, none of them a frame", complaint)


class Frames(Command):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.scratch = scratch.name

    def file(self, name, content):
        path = os.path.join(self.scratch, name)
        with open(path, "wb") as out:
            out.write(content if isinstance(content, bytes) else content.encode())
        return path

    def test_a_capture_comes_out_in_one_form(self):
        self.assertEqual(self.output("frames", "-", text=CAPTURE), LISTED)
        self.assertEqual(self.output("frames", self.file("a.log", CAPTURE)), LISTED)
        self.assertEqual(self.output("frames", "-", text=LISTED), LISTED)

    def test_packed(self):
        packed = self.file("a.log.gz", gzip.compress(CAPTURE.encode()))
        self.assertEqual(self.output("frames", packed), LISTED)

    def test_several_are_merged_by_time(self):
        a = self.file("a.log", "(1.000000) can0 001#\n(3.000000) can0 003#\n")
        b = self.file("b.log", "(1.000000) can1 002#\n(4.000000) can1 004#\n")
        self.assertEqual(self.output("frames", b, a),
                         "(0000000001.000000) can1 002#\n(0000000001.000000) can0 001#\n"
                         "(0000000003.000000) can0 003#\n(0000000004.000000) can1 004#\n")

    def test_figures(self):
        self.assertEqual(self.output("frames", "--count", "-", text=CAPTURE), """\
form               candump log
lines or packets   6
frames             4
error reports      0
not readable       0
reported lost      2
steps back in time 0
largest step back  0.000000 s
end cut off        no
""")

    def run_raw(self, *arguments, text):
        return subprocess.run([PROGRAM, "frames", *arguments], input=text, capture_output=True,
                              text=True, timeout=PATIENCE)

    def test_bad_lines_are_named_and_left_out(self):
        done = self.run_raw("-", text="(1.000000) can0 123#11\n(2.000000) can0 12#\nwhat\n")
        self.assertEqual(done.returncode, 0)
        self.assertEqual(done.stdout, "(0000000001.000000) can0 123#11\n")
        self.assertEqual(done.stderr,
                         "-:2:19: expected an ID of 3 or 8 hexadecimal digits\n"
                         "-:3:1: expected a time in parentheses\n")

    def test_many_bad_lines_are_summed_up(self):
        done = self.run_raw("-", text="(1.000000) can0 123#11\n" + "what\n" * 1000)
        self.assertEqual(len(done.stderr.splitlines()), 11)
        self.assertEqual(done.stderr.splitlines()[-1],
                         "... and 990 more; 1000 lines could not be read")

    def test_nothing_readable_is_no_empty_capture(self):
        done = self.run_raw("-", text="(1.000000) can0 12#\n" * 20)
        self.assertEqual((done.returncode, done.stdout), (4, ""))
        self.assertIn("nothing could be read: 20 lines, none of them a frame", done.stderr)

    def test_other_logs_are_read(self):
        self.assertEqual(self.output("frames", "-", text="base hex  timestamps absolute\n"
                                                         "   1.500000 2  1A5  Rx  d 2 11 FF\n"),
                         "(0000000001.500000) can1 1A5#11FF R\n")

    def test_strict_stops_at_the_first(self):
        done = self.run_raw("--strict", "-",
                            text="(1.000000) can0 123#11\nwhat\n(2.000000) can0 123#11\n")
        self.assertEqual(done.returncode, 4)
        self.assertEqual(done.stdout, "(0000000001.000000) can0 123#11\n")
        self.assertEqual(done.stderr, "-:2:1: expected a time in parentheses\n")

    def test_what_cannot_be_read(self):
        self.assertIn("No such file", self.complaint("frames", "/does/not/exist", status=4))
        self.assertIn("without any time",
                      self.complaint("frames", "-", status=4, text="  can0  123   [1]  11\n"))
        self.assertIn("once only", self.complaint("frames", "-", "-", status=4, text=""))
        cut = self.file("cut.gz", gzip.compress(CAPTURE.encode())[:-20])
        done = self.run_raw("--count", cut, text="")
        self.assertIn("end cut off        yes\n", done.stdout)
        self.assertIn("the end of a capture is cut off\n", done.stderr)

    def test_usage(self):
        self.assertIn("at least one capture", self.complaint("frames"))
        self.assertIn("no option `--wrong`", self.complaint("frames", "--wrong", "x"))
        self.assertIn("usage: nodoff frames", self.output("frames", "--help"))

    def test_a_full_disk_is_told(self):
        with open("/dev/full", "w") as full:
            done = subprocess.run([PROGRAM, "frames", "-"], input=CAPTURE, stdout=full,
                                  stderr=subprocess.PIPE, text=True, timeout=PATIENCE)
        self.assertEqual(done.returncode, 4)
        self.assertIn("cannot be written", done.stderr)


main()
