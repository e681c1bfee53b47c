# SPDX-License-Identifier: MIT
import os
import pty
import resource
import subprocess
import tempfile
import xml.etree.ElementTree as xml

import nodoff

# Two networks would add nothing: one node falls silent at 20 s, nothing follows.
CAPTURE = "# locked: 1000.0\n" + "".join(
    f"({1000 + i / 2:.6f}) can0 2A0#1122{i % 16:02X}\n" for i in range(40)) + "# ended: 2900.0\n"
ASLEEP = "verdict: sleeps in time\nculprit: none named\nslept-at can0: 19.5 s after lock\n"


class Gate(nodoff.Command):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.addCleanup(self.directory.cleanup)
        self.folder = os.path.join(self.directory.name, "cases")
        os.mkdir(self.folder)

    def write(self, name, text):
        path = os.path.join(self.folder, name)
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        return path

    def session(self, name, expectation=None):
        self.write(name + "/frames.log", CAPTURE)
        if expectation is not None:
            self.write(name + "/expect.txt", expectation)
        return os.path.join(self.folder, name)

    def gate(self, *arguments, status=0, **more):
        return self.run_command("gate", *arguments, self.folder, status=status, **more).stdout

    def test_the_shipped_sessions(self):
        shipped = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "captures")
        self.assertIn(" as expected", self.output("gate", shipped).splitlines()[-1])

    def test_all_as_expected(self):
        self.session("b/one", ASLEEP)
        self.session("a", ASLEEP)
        self.write("c.log", CAPTURE)
        self.write("c.log.expect.txt", ASLEEP)
        self.write("notes.txt", "nothing to see here\n")
        out = self.output("gate", self.folder)
        self.assertEqual(out, "ok              a\nok              b/one\nok              c.log\n\n"
                              "3 sessions: 3 as expected.\n")

    def test_each_kind_of_failure(self):
        self.session("different", ASLEEP.replace("none named", "radio").replace("19.5", "18"))
        self.session("fine", ASLEEP)
        self.session("known", ASLEEP.replace("19.5", "18") +
                     "known-miss slept-at can0: the clock #1 was off\n")
        self.session("missing")
        out = self.gate(status=1)
        self.assertIn("DIFFERS         different\n"
                      "    - culprit: expected radio, found nobody named", out)
        self.assertIn("    - slept-at can0: expected 18 s after lock, found 19.500 s after lock\n",
                      out)
        self.assertIn("NO EXPECTATION  missing\n    - it has no expectation; a first one: nodoff", out)
        self.assertIn("      known: the clock #1 was off\n", out)
        self.assertTrue(out.endswith("4 sessions: 1 as expected, 1 known to miss, 1 different, "
                                     "1 without\nexpectation.\n") or
                        out.endswith("1 known to miss, 1 different, 1 without expectation.\n"), out)

        tap = self.gate("--tap", status=1).splitlines()
        self.assertEqual(tap[:3], ["TAP version 13", "1..4", "not ok 1 - different"])
        self.assertIn("ok 2 - fine", tap)
        self.assertIn("not ok 3 - known # TODO the clock  1 was off", tap)
        self.assertIn("not ok 4 - missing", tap)

        suite = xml.fromstring(self.gate("--junit", "-", status=1))
        self.assertEqual([suite.get(key) for key in ("tests", "failures", "errors", "skipped")],
                         ["4", "2", "0", "1"])
        cases = {case.get("name"): case for case in suite}
        self.assertIn("expected radio", cases["different"].find("failure").get("message"))
        self.assertIsNotNone(cases["known"].find("skipped"))
        self.assertEqual(len(cases["fine"]), 0)

    def test_a_known_miss_alone_passes_and_a_healed_one_is_told(self):
        self.session("a", ASLEEP.replace("19.5", "18") + "known-miss slept-at can0: off\n")
        self.session("b", ASLEEP + "known-miss culprit: off\n")
        out = self.output("gate", self.folder)
        self.assertIn('"known-miss culprit" can be taken out: it is met now.', out)
        self.assertIn("1 as expected, 1 known to miss", out)

    def test_unreadable_is_4(self):
        self.session("bad", "verdict: kept awake\nfoo: bar\n")
        self.session("fine", ASLEEP)
        self.write("empty/expect.txt", ASLEEP)
        self.write("gone.log.expect.txt", ASLEEP)
        out = self.gate(status=4)
        self.assertIn("bad/expect.txt:2: there is no key", out.replace("\n      ", " "))
        self.assertIn("UNREADABLE      empty\n    - ", out)
        self.assertIn("UNREADABLE      gone.log\n    - ", out)
        self.assertIn("1 as expected, 3 unreadable.", out)
        suite = xml.fromstring(self.gate("--junit", "-", status=4))
        self.assertEqual(suite.get("errors"), "3")

    def test_an_analysis_that_breaks_off_is_no_pass(self):
        self.session("a", ASLEEP.replace("19.5", "18") + "known-miss slept-at can0: off\n")
        self.session("b", ASLEEP)
        # Writing its outcome kills the process of `a`; that of `b` writes nothing.
        done = subprocess.run([nodoff.PROGRAM, "gate", self.folder], capture_output=True, text=True,
                              preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0)),
                              timeout=nodoff.PATIENCE)
        self.assertEqual(done.returncode, 4, done.stdout + done.stderr)
        self.assertIn("UNREADABLE      a\n    - the analysis broke off (", done.stdout)
        self.assertIn("ok              b\n", done.stdout)

    def test_jobs_do_not_change_the_outcome(self):
        for i in range(7):
            self.session(f"s{i}", ASLEEP if i % 2 else ASLEEP.replace("19.5", str(i)))
        outs = {self.gate("--jobs", str(n), status=1) for n in (1, 2, 7, 50)}
        self.assertEqual(len(outs), 1)

    def test_junit_goes_into_a_file_beside_the_text(self):
        self.session("a & b", ASLEEP)
        file = os.path.join(self.directory.name, "out.xml")
        self.assertIn("1 session: 1 as expected.", self.gate("--junit", file))
        self.assertEqual(xml.parse(file).getroot()[0].get("name"), "a & b")

    def test_the_command_line(self):
        self.assertIn("no session in it", self.complaint("gate", self.folder, status=4))
        self.assertIn("No such file", self.complaint("gate", self.folder + "x", status=4))
        for arguments, said in (((), "no folder given"), (("a", "b"), "one folder"),
                                (("--jobs", "0", "a"), "--jobs"), (("--yes", "a"), "--update"),
                                (("--update", "a", "b"), "one session"),
                                (("--update", "a", "--update", "b"), "one session at a time"),
                                (("--tap", "--junit", "-", "a"), "standard output")):
            self.assertIn(said, self.complaint("gate", *arguments))
        self.assertIn("usage: nodoff gate", self.output("gate", "--help"))

    def test_update_shows_first_and_writes_only_when_told(self):
        path = self.session("a")
        file = os.path.join(path, "expect.txt")
        out = self.run_command("gate", "--update", path, status=1).stdout
        self.assertIn("+ verdict: sleeps in time\n", out)
        self.assertIn("Nothing was written; with --yes it is.", out)
        self.assertFalse(os.path.exists(file))
        self.assertIn("Written.", self.output("gate", "--update", path, "--yes"))
        self.gate()
        self.assertIn("nothing to write", self.output("gate", "--update", path))
        with open(file, "w", encoding="utf-8") as f:
            f.write("# mine\nverdict: kept awake\nslept-at can0: <= 18 s after lock\n")
        out = self.output("gate", "--update", path, "--yes")
        self.assertIn("  # mine\n- verdict: kept awake\n- slept-at can0: <= 18 s after lock\n"
                      "+ verdict: sleeps in time\n+ slept-at can0: <= 19.500 s after lock\n", out)
        self.gate()

    def test_a_terminal_is_asked(self):
        path = self.session("a")
        for answer, written in (("n\n", False), ("y\n", True)):
            pid, terminal = pty.fork()
            if pid == 0:
                os.execv(nodoff.PROGRAM, [nodoff.PROGRAM, "gate", "--update", path])
            os.write(terminal, answer.encode())
            said = b""
            try:
                while more := os.read(terminal, 4096):
                    said += more
            except OSError:  # the other side has closed
                pass
            os.waitpid(pid, 0)
            os.close(terminal)
            self.assertIn(b"Write it? [y/N]", said)
            self.assertEqual(os.path.exists(path + "/expect.txt"), written)

    def test_lock_and_vehicle_come_from_the_expectation(self):
        self.write("car.yaml", "networks:\n  comfort: { interfaces: [can0] }\n")
        self.write("c.log", CAPTURE)
        self.write("c.log.expect.txt", "verdict: sleeps in time\nlocked: +10 s\nvehicle: car.yaml\n"
                                       "slept-at comfort: 9.5 s after lock\n")
        self.gate()


nodoff.main()
