# SPDX-License-Identifier: MIT
import fcntl
import json
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


def lines(path):
    """The whole lines of a file of results."""
    with open(path, encoding="utf-8") as file:
        return [json.loads(line) for line in file if line.endswith("\n")]


def opened(pipe):
    """An end to write to, once somebody reads."""
    try:
        return os.open(pipe, os.O_WRONLY | os.O_NONBLOCK)
    except OSError:
        return None


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

    def fleet(self, count=24):
        for i in range(count):
            self.session(f"car-{i:03}", ASLEEP if i % 5 else ASLEEP.replace("19.5", "18"))
        return [os.path.join(self.directory.name, f"{k}.jsonl") for k in (1, 2, 3)]

    def shards(self, files, **more):
        return [self.gate("--shard", f"{k}/{len(files)}", "--results", file, **more)
                for k, file in enumerate(files, 1)]

    def test_shards_put_together_are_the_whole(self):
        files = self.fleet()
        whole = self.gate(status=1)
        self.shards(files, status=1)
        counts = [len(lines(file)) - 1 for file in files]
        self.assertEqual(sum(counts), 24)
        self.assertGreater(min(counts), 2)
        for options in ([], ["--tap"], ["--junit", "-"], ["--json"]):
            merged = self.run_command("gate", "--merge", *options, *reversed(files), status=1).stdout
            self.assertEqual(merged, self.gate(*options, status=1), options)
        self.assertEqual(self.run_command("gate", "--merge", *files, status=1).stdout, whole)

    def test_what_is_unchanged_is_not_judged_again(self):
        file = self.fleet()[0]
        self.gate("--results", file, status=1)
        first = lines(file)
        out = self.gate("--results", file, status=1)
        self.assertIn("24 not judged again: unchanged since the run before.\n", out)
        self.assertEqual(lines(file), first)
        self.write("car-001/expect.txt", ASLEEP.replace("19.5", "17"))
        self.write("car-002/frames.log", CAPTURE.replace("2900", "2901"))
        os.rename(os.path.join(self.folder, "car-003"), os.path.join(self.folder, "car-new"))
        self.session("car-004", ASLEEP + "vehicle: map.yaml\n")
        self.write("car-004/map.yaml", "networks:\n  body: { interfaces: [can0] }\n")
        self.session("broken", "foo: bar\n")
        out = self.gate("--results", file, status=4)
        self.assertIn("20 not judged again", out)
        self.assertIn("DIFFERS         car-001", out)
        self.assertEqual(len(lines(file)), 26)
        out = self.gate("--results", file, status=4)
        self.assertIn("24 not judged again", out) # not the unreadable one
        self.write("car-004/map.yaml", "networks:\n  body: { interfaces: [can1] }\n")
        self.assertIn("23 not judged again", self.gate("--results", file, status=4))

    def test_a_run_that_was_killed_goes_on_where_it_was(self):
        file = self.fleet(40)[0]
        pipe = self.write("car-029.log", CAPTURE) # behind 30 others
        self.write("car-029.log.expect.txt", ASLEEP)
        whole = self.gate(status=1)
        os.unlink(pipe)
        os.mkfifo(pipe)
        process = subprocess.Popen([*nodoff.WRAPPER, nodoff.PROGRAM, "gate", "--jobs", "1",
                                    "--results", file, self.folder],
                                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        while (end := opened(pipe)) is None: # then it is being read, and what came before is done
            self.assertIsNone(process.poll())
        process.kill()
        process.wait()
        os.close(end)
        os.unlink(pipe)
        self.write("car-029.log", CAPTURE)
        self.assertEqual(len(lines(file)), 31)
        with open(file, "a", encoding="utf-8") as results: # a line that was being written
            results.write('{"nodoff":1,"what":"session","session":"car-0')
        self.assertIn("shard 1 of 1 was not finished; run it again",
                      self.complaint("gate", "--merge", file, status=4))
        self.assertIn("\n30 not judged again", self.gate("--results", file, status=1))
        self.assertEqual(self.run_command("gate", "--merge", file, status=1).stdout, whole)

    def test_what_cannot_be_put_together_is_said(self):
        files = self.fleet()
        self.shards(files, status=1)

        def merge(*files):
            return self.complaint("gate", "--merge", *files, status=4)

        self.assertIn("shard 2 of 3 is missing", merge(files[0], files[2]))
        self.assertIn("shard 1 comes twice", merge(files[0], files[0]))
        self.assertIn("no results of", merge(os.path.join(self.folder, "car-001", "frames.log")))
        first = lines(files[0])
        for change, expected in (({"program": "0" * 64}, "by another program"),
                                 ({"shards": 4}, "is of 4, others are of 3"),
                                 ({"sessions": 99}, "all the sessions it speaks of")):
            with open(files[0], "w", encoding="utf-8") as file:
                for line in ({**first[0], **change}, *first[1:]):
                    file.write(json.dumps(line) + "\n")
            self.assertIn(expected, merge(files[1], files[2], files[0]))
        self.assertIn("expected K/N", self.complaint("gate", "--shard", "0/3", self.folder))
        self.assertIn("expected K/N", self.complaint("gate", "--shard", "4/3", self.folder))
        self.assertIn("judges nothing", self.complaint("gate", "--merge", "--results", "x", files[0]))

    def test_two_at_once_do_not_write_one_file(self):
        file = self.fleet(2)[0]
        with open(file, "a", encoding="utf-8") as held:
            fcntl.flock(held, fcntl.LOCK_EX)
            self.assertIn("another nodoff gate is writing it",
                          self.complaint("gate", "--results", file, self.folder, status=4))

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
