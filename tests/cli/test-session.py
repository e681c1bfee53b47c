# SPDX-License-Identifier: MIT
"""nodoff session, from outside."""
import hashlib
import os
import subprocess
import tempfile

from nodoff import PROGRAM, Command, main

CAPTURES = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "captures")

# Invented, the vehicle identification number too.
CAPTURE = """# origin: invented
(1700000000.000000) can0 123#1122
(1700000010.000000) can1 00000123#0102030405060708
(1700000020.000000) can0 7E8#10144902015A5A5A
(1700000020.010000) can0 7E8#2141423132433058
(1700000020.020000) can0 7E8#224B303034373131
(1700000600.000000) can0 123#3344
DROPCOUNT: dropped 2 CAN frames on 'can0' socket (total drops 2)
(1700001200.000000) can0 123#5566
"""
VEHICLE = "networks:\n  body: { interfaces: [can0] }\n"


class Session(Command):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.scratch = scratch.name
        here = os.getcwd()
        self.addCleanup(os.chdir, here)
        os.chdir(self.scratch)
        self.write("car.log", CAPTURE)
        self.write("car.yaml", VEHICLE)

    def write(self, name, text):
        with open(name, "wb") as out:
            out.write(text if isinstance(text, bytes) else text.encode())

    def read(self, name):
        with open(name, "rb") as file:
            return file.read().decode()

    def frames(self, directory):
        names = sorted(n for n in os.listdir(directory) if n.startswith("frames"))
        paths = [os.path.join(directory, n) for n in names]
        text = subprocess.run(["zstdcat", "-f", *paths], check=True, capture_output=True).stdout
        return [line for line in text.decode().splitlines() if line.startswith("(")]

    def make(self, name="one", *options):
        return self.output("session", "make", "car.log", "--into", name, *options)

    def test_made_of_a_bare_capture(self):
        self.make("one", "--vehicle", "car.yaml", "--title", "a car", "--locked-at-start")
        self.assertEqual(self.read("one/frames-000001.log"), CAPTURE)
        self.assertEqual(self.read("one/vehicle.yaml"), VEHICLE)
        self.assertEqual(self.read("one/journal.log"), "(1700000000.000000) locked\n")
        about = self.read("one/session.txt").splitlines()
        self.assertEqual(about[0], "nodoff session: 1")
        self.assertIn("title: a car", about)
        digest = hashlib.sha256(CAPTURE.encode()).hexdigest()
        self.assertIn(f"capture: car.log, {len(CAPTURE)} bytes, SHA-256 {digest}", about)
        self.assertEqual(sorted(os.listdir()), ["car.log", "car.yaml", "one"])

    def test_lock_times(self):
        for text, seconds in (("start+2min", "1700000120"), ("1700000060", "1700000060"),
                              ("2023-11-14T22:13:20Z", "1700000000"), ("end-10min", "1700000600")):
            self.make("t" + seconds, "--locked", text)
            self.assertEqual(self.read(f"t{seconds}/journal.log"), f"({seconds}.000000) locked\n")

    def test_several_captures_and_packed_ones(self):
        subprocess.run(["gzip", "-k", "car.log"], check=True)
        self.write("other.log", "(1700000005.000000) can2 456#\n")
        self.output("session", "make", "car.log.gz", "other.log", "--into", "two")
        names = sorted(n for n in os.listdir("two") if n.startswith("frames"))
        self.assertEqual(names, ["frames-source-001-000001.log.gz",
                                 "frames-source-002-000001.log"])
        shown = self.output("session", "show", "two")
        self.assertIn("8 frames", shown)
        self.assertIn("candump log, gzip, 7 frames", shown)

    def test_what_cannot_be_made_leaves_nothing(self):
        self.write("diary.txt", "dear diary\nwhat a day\n")
        before = sorted(os.listdir())
        cases = [("diary.txt", "--into", "x"), ("missing.log", "--into", "x"),
                 ("car.log", "--into", "nowhere/x"), ("car.log", "--into", "car.yaml"),
                 ("car.log", "--into", "x", "--vehicle", "diary.txt")]
        for case in cases:
            said = self.complaint("session", "make", *case, status=4)
            self.assertNotIn("unfinished", said)
            self.assertEqual(sorted(os.listdir()), before)
        said = self.complaint("session", "make", "car.log", "--into", "x", "--locked", "noon")
        self.assertIn("--locked: `noon` is no time", said)
        self.assertEqual(sorted(os.listdir()), before)

    def test_usage(self):
        for case in ([], ["eat"], ["make"], ["make", "car.log"], ["show"], ["show", "a", "b"],
                     ["make", "-", "-", "--into", "x"], ["mark", "one"], ["cut", "one"],
                     ["cut", "a", "b", "--from", "1", "--to", "2", "--into", "c"],
                     ["cut", "one", "--scrub", "all"], ["make", "--into"], ["show", "--loud"]):
            self.assertIn("Try `nodoff session", self.complaint("session", *case))
        for part in ([], ["make"], ["show"], ["mark"], ["cut"]):
            self.assertTrue(self.output("session", *part, "--help").startswith("usage: "))

    def test_shown(self):
        self.make("one", "--locked", "start+1min")
        shown = self.output("session", "show", "one")
        for text in ("recorded  2023-11-14 22:13:20Z to 2023-11-14 22:33:20Z",
                     "locked    2023-11-14 22:14:20Z; the journal says when",
                     "can0: 6 frames, from -1 min 00 s to +19 min 00 s",
                     "2 frames reported lost, in 1 report\n", "  +0 ms          locked"):
            self.assertIn(text, shown)
        shown = self.output("session", "show", "car.log")
        self.assertIn("nothing says when: the start of the recording\n", shown)

    def test_marked_afterwards(self):
        self.make("one", "--locked", "start")
        out = self.output("session", "mark", "one", "isolated", "F12", "--at", "+5 min")
        self.assertEqual(out, "(1700000300.000000) isolated F12\n")
        out = self.output("session", "mark", "one", "tester-on", "--at", "-1s")
        self.assertEqual(out, "(1699999999.000000) tester on\n")
        out = self.output("session", "mark", "one", "note", "went", "home")
        self.assertEqual(out, "(1700001200.000000) note went home\n")
        self.assertEqual(len(self.read("one/journal.log").splitlines()), 4)
        self.complaint("session", "mark", "one", "isoalted", "F12")
        self.complaint("session", "mark", "car.log", "door", status=4)
        self.complaint("session", "mark", "missing", "door", status=4)
        self.assertEqual(len(self.read("one/journal.log").splitlines()), 4)

    def test_mark_taken_back(self):
        self.make("one", "--locked", "start")
        self.output("session", "mark", "one", "isolated", "F12", "--at", "+5 min")
        self.output("session", "mark", "one", "reading", "F12", "-2.3", "mV")
        out = self.output("session", "mark", "one", "--undo")
        self.assertIn(" undone (1700001200.000000) reading F12 -2.3 mV\n", out)
        out = self.output("session", "mark", "one", "--undo")
        self.assertIn(" undone (1700000300.000000) isolated F12\n", out)
        self.assertEqual(len(self.read("one/journal.log").splitlines()), 5)
        self.assertNotIn("F12", self.output("analyse", "one"))
        self.output("session", "mark", "one", "--undo")  # locked
        self.assertIn("no mark to take back",
                      self.complaint("session", "mark", "one", "--undo", status=4))

    def test_marks_that_lack_something(self):
        self.make("one")
        for words, lack in ((["isolated"], "which fuse"), (["reading", "F12", "2.3"], "unit"),
                            (["note"], "text"), (["door", "--ago"], "lacks its value"),
                            (["isolated", "F12 --ago 2 min"], "--ago"),
                            (["isolated", "F12", "--ago", "2 min"], "not being recorded")):
            self.assertIn(lack, self.complaint("session", "mark", "one", *words))
        for words, lack in ((["isolated"], "which fuse"), (["isolated", "F12", "--ago", "2"], "unit"),
                            (["isolated", "F12", "--at", "27:10"], "is no time"),
                            (["--undo", "F12"], "stands alone"), (["--amend"], "what to change"),
                            (["gap", "all", "2 s"], "nothing that a person"),
                            (["door", "--ago", "2s", "--at", "12:00"], "either")):
            self.assertIn(lack, self.complaint("mark", *words))

    def cut(self, *arguments):
        return self.output("session", "cut", "one", "--into", "piece", *arguments)

    def test_cut(self):
        self.make("one", "--locked", "start", "--vehicle", "car.yaml")
        self.output("session", "mark", "one", "isolated", "F12", "--at", "+5 min")
        self.output("session", "mark", "one", "door", "--at", "+19 min")
        self.write("one/current.log", "(1700000300.000000) 0.5 A\n(1700001000.000000) 0.4 A\n")
        out = self.cut("--from", "+4 min", "--to", "+12 min")
        self.assertIn("the lock mark is kept although it lies outside", out)
        self.assertIn("1 marks lie outside", out)
        self.assertEqual(self.frames("piece"), ["(1700000600.000000) can0 123#3344"])
        self.assertEqual(self.read("piece/journal.log"),
                         "(1700000000.000000) locked\n(1700000240.000000) started\n"
                         "(1700000240.000000) gap all 240 s\n"
                         "(1700000300.000000) isolated F12\n(1700000720.000000) stopped\n")
        self.assertEqual(self.read("piece/current.log"), "(1700000300.000000) 0.500000 A\n")
        self.assertEqual(self.read("piece/vehicle.yaml"), VEHICLE)
        self.assertIn("cut from: 1700000240.000000\n", self.read("piece/session.txt"))
        self.assertIn("DROPCOUNT: dropped 2 CAN frames on 'can0'",
                      subprocess.run(["zstdcat", "piece/frames-000001.log.zst"], check=True,
                                     capture_output=True, text=True).stdout)
        shown = self.output("session", "show", "piece")
        self.assertIn("not listened to 1 time, 4 min 00 s in all", shown)

    def analyse(self, path):
        return self.run_command("analyse", path).stdout

    def test_a_piece_that_is_the_whole_says_the_same(self):
        for name in ("holder-autosar", "tester-left", "healthy", "frames-lost", "lost-adapter",
                     "isolation-right", "clock-step"):
            shipped = os.path.join(CAPTURES, name)
            self.output("session", "cut", shipped, "--from", "start", "--to", "end", "--into", name)
            self.assertEqual(self.analyse(name), self.analyse(shipped), name)

    def test_a_piece_still_shows_the_fault(self):
        shipped = os.path.join(CAPTURES, "holder-autosar")
        truth = self.analyse(shipped).splitlines()[:2]
        for name, options in (("late", ["--from", "+5 s"]),
                              ("scrubbed", ["--from", "start", "--scrub", "payload"])):
            self.output("session", "cut", shipped, *options, "--to", "end", "--into", name)
            self.assertEqual(self.analyse(name).splitlines()[:2], truth)

    def test_made_and_bare_say_the_same(self):
        shipped = os.path.join(CAPTURES, "holder-autosar", "frames.log")
        self.output("session", "make", shipped, "--into", "made")
        self.assertEqual(self.analyse("made"), self.analyse(shipped))

    def test_cut_without_a_lock_time(self):
        self.make("one")
        out = self.cut("--from", "start+9min", "--to", "end")
        self.assertIn("nothing says when the car was locked", out)
        self.assertIn("(1700000000.000000) locked (assumed: start of the recording)\n",
                      self.read("piece/journal.log"))
        self.assertEqual(len(self.frames("piece")), 2)

    def test_cut_refusals(self):
        self.make("one")
        before = sorted(os.listdir())
        for first, last, status in (("+2 min", "+1 min", 2), ("noon", "end", 2),
                                    ("end+1h", "end+2h", 4), ("1", "2", 4)):
            self.complaint("session", "cut", "one", "--from", first, "--to", last, "--into",
                           "piece", status=status)
        self.complaint("session", "cut", "one", "--from", "start", "--to", "end", "--into", "one",
                       status=4)
        self.assertEqual(sorted(os.listdir()), before)

    def test_scrubbed_payload(self):
        self.make("one")
        self.cut("--from", "start", "--to", "end", "--scrub", "payload")
        self.assertEqual([line.split()[2] for line in self.frames("piece")],
                         ["123#0000", "00000123#0000000000000000", "7E8#1014490000000000",
                          "7E8#2100000000000000", "7E8#2200000000000000", "123#0000", "123#0000"])
        self.assertIn("scrubbed: payload\n", self.read("piece/session.txt"))

    def test_scrubbed_vin(self):
        number = "ZZZAB12C0XK004711"
        self.make("one", "--title", f"car {number}")
        self.output("session", "mark", "one", "note", "it is", number)
        self.write("one/vehicle.yaml", f"vehicle: {number}\n{VEHICLE}")
        self.cut("--from", "start", "--to", "end", "--scrub", "vin")
        self.assertEqual([line.split()[2] for line in self.frames("piece")][:6],
                         ["123#1122", "00000123#0102030405060708", "7E8#1014490201585858",
                          "7E8#2158585858585858", "7E8#2258585858585858", "123#3344"])
        for name in ("session.txt", "journal.log", "vehicle.yaml"):
            self.assertNotIn("4711", self.read("piece/" + name))
            self.assertIn("XXXXXXXXXXXXXXXXX", self.read("piece/" + name))

    def test_cut_off_anywhere(self):
        """Whatever is cut off, it opens and says so, or says why not."""
        self.make("one", "--locked", "start", "--title", "a car")
        self.write("one/current.log", "(1700000300.000000) 0.5 A\n(1700001000.000000) 0.4 A\n")
        for name in os.listdir("one"):
            whole = self.read("one/" + name).encode()
            for cut in range(0, len(whole) + 1, 5):
                self.write("one/" + name, whole[:cut])
                done = subprocess.run([PROGRAM, "session", "show", "one"], capture_output=True,
                                      text=True, check=False)
                self.assertEqual(done.returncode, 0, done.stderr)
                lines = whole[:cut].count(b"\n")
                if name.startswith("frames"):
                    frames = whole[:cut].count(b"\n(") - (whole[:cut].rfind(b"\n(") > 0)
                    counted = int(done.stdout.split("log, ")[1].split()[0])
                    self.assertGreaterEqual(counted, frames)
                elif name == "current.log":
                    self.assertIn(f"{lines} sample", done.stdout)
            self.write("one/" + name, whole)

    def test_nothing_there(self):
        os.mkdir("empty")
        self.assertIn("is no session", self.complaint("session", "show", "empty", status=4))
        os.mkdir(".one.unfinished-000")
        self.assertIn("not whole", self.complaint("session", "show", ".one.unfinished-000",
                                                  status=4))


main()
