# SPDX-License-Identifier: MIT
import gzip
import json
import os
import pty
import re
import shutil
import signal
import subprocess
import unittest

import nodoff
from analysed import Analyse, ROOT, frames, session, shipped

# Every key of the object, by where it stands; "[]" is an item of a list.
KEYS = {
    "": "nodoff verdict sentence culprits facts fact_kinds next cautions doubts doubt_kinds record_longer "
        "recording lock networks holes wakes suspects tests isolations journal current fuse_readings "
        "touched known against_good ids",
    "recording": "start end frames lost errors gaps clock_steps defects",
    "lock": "time source settle_clock_from settle_clock_cause",
    "networks[]": "name state since verdict reason deadline deadline_is_default slept_at awake_late "
                  "wakes wakes_explained load management frames lost errors spans",
    "networks[].spans[]": "from to open slept_before silence_known slept_after asleep frames bits first "
                          "last alone alone_from",
    "networks[].spans[].first[]": "id sender time",
    "networks[].spans[].last[]": "id sender time",
    "holes[]": "from to network torn probability text",
    "wakes[]": "time network id sender lead awake_for networks cause",
    "suspects[]": "name kind role probability network in_map proved ids fuses evidence",
    "suspects[].evidence[]": "kind weight text",
    "tests[]": "what fuse module information minutes hit caution",
    "isolations[]": "subject isolated refitted network result slept_after by_chance refit text vanished",
    "journal[]": "time kind subject entered meant inferred",
    "current": "trace asleep_ua asleep_uncertainty_ua charge_uah explained_uah explained_all "
               "by_network",
    "current.by_network[]": "network known ua uncertainty_ua",
    "touched[]": "subject time id byte bit signal from to after toggles",
    "ids[]": "id network sender frames frames_late first last rhythm period jitter period_late "
             "counter_bits checksum_bits changing_bits changes_late",
}


def read_by_a_person(sentence):
    """What a text for a person says of it: times stand there as the clock and a distance."""
    words = re.escape(" ".join(sentence.split()))
    return re.sub(r"(lock|start)(\\\+|\\-)[\d\\.]+\\ s\b",
                  lambda found: rf"\d\d:\d\d:\d\d( \([^()]+ (after|before) {found[1]}\))?", words)


class OneScreen(nodoff.Command):
    def test_every_answer_fits_a_terminal_of_24_lines(self):
        for name in shipped():
            with self.subTest(name):
                out = self.output("analyse", session(name))
                self.assertLessEqual(len(out.splitlines()), 20, out)
                found = self.object("analyse", session(name))
                joined = " ".join(out.split())
                for line in (found["sentence"], found["next"], *found["cautions"]):
                    self.assertRegex(joined, read_by_a_person(line))

    def test_a_terminal_may_not_be_coloured(self):
        self.assertIn("\x1b[", self.run_command("analyse", session("healthy"), "--color", "always").stdout)
        self.assertNotIn("\x1b[", self.output("analyse", session("healthy")))
        self.complaint("analyse", session("healthy"), "--colour", "green")

    @unittest.skipIf(os.environ.get("NODOFF_EMULATED"), "the emulator catches every signal")
    def test_ctrl_c_on_a_pipe_gives_the_answer_so_far(self):
        process = subprocess.Popen([nodoff.PROGRAM, "analyse", "-"], stdin=subprocess.PIPE,
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        process.stdin.write(frames("healthy"))
        process.stdin.flush()
        with open(f"/proc/{process.pid}/status", encoding="ascii") as status:
            while not int(status.read().split("SigCgt:\t")[1].split()[0], 16) >> signal.SIGINT - 1 & 1:
                status.seek(0)  # until it catches the signal; what is in the pipe is read in any case
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=nodoff.PATIENCE)
        self.assertEqual(process.returncode, 0, err)
        self.assertIn("the answer so far", err)
        self.assertIn("1219 frames in", out)


class WakeUps(nodoff.Command):
    def test_the_nearest_mark_explains(self):
        causes = [(w["sender"], w["cause"]) for w in self.object("analyse", session("nearest-entry"))["wakes"]]
        self.assertEqual(causes, [("door module left front", "door"),
                                  ("rear climate panel", "touched rear blower switch")])

    def test_nobody_is_accused_where_nothing_of_it_was_heard(self):
        said = self.object("analyse", session("waker-heard-once"))["sentence"]
        self.assertRegex(said, r"^roof unit wakes body again and again \(\d+ % sure\)\. drive woke as well \(in 6 of its 6 wake-ups\), where nothing "
                               r"of it was heard")

    def test_what_the_map_states_is_expected_and_no_other(self):
        wakes = self.object("analyse", session("meant-wake-ups"))["wakes"]
        self.assertEqual([bool(w["cause"]) for w in wakes], [True, True, False])


class MapsThatDisagree(Analyse):
    def test_networks_and_marks_that_the_map_does_not_have(self):
        folder = os.path.join(self.directory.name, "s")
        shutil.copytree(session("isolation-right"), folder)
        for name, old, new in (("vehicle.yaml", "can1", "can7"), ("journal.log", " F02", " F99")):
            path = os.path.join(folder, name)
            with open(path, encoding="utf-8") as file:
                text = file.read()
            with open(path, "w", encoding="utf-8") as file:
                file.write(text.replace(old, new))
        doubts = " ".join(self.object("analyse", folder)["doubts"])
        self.assertIn("expects networks on can7, but can1 was heard", doubts)
        self.assertIn("speaks of F99, but the map has no fuse and no module of that name; is F09 meant?",
                      doubts)
        self.assertNotIn("was heard", " ".join(self.object("analyse", session("isolation-right"))["doubts"]))


class LockedBeforeTheRecording(nodoff.Command):
    """What was not recorded says nothing: a wrong hour must not convict."""

    def found(self, name, hours):
        lock = self.object("analyse", session(name))["lock"]["time"]
        return self.object("analyse", session(name), "--locked", str(float(lock) - hours * 3600))

    def test_a_healthy_car_is_not_accused(self):
        for hours in (1, 12):
            found = self.found("healthy", hours)
            self.assertEqual(found["verdict"], "sleeps in time")
            self.assertEqual(found["culprits"], [])
            self.assertIn("were not recorded and say nothing", " ".join(found["doubts"]))
            self.assertEqual(found["lock"]["settle_clock_cause"], "started")

    def test_a_car_that_stays_awake_is_still_told(self):
        found = self.found("holder-autosar", 1)
        self.assertEqual(found["verdict"], "kept awake")
        self.assertEqual(len(found["culprits"]), 1)


class Statuses(Analyse):
    def test_a_finding_is_no_error(self):
        for name in ("healthy", "holder-autosar", "repeated-waker", "too-short"):
            self.run_command("analyse", session(name))

    def test_a_wrong_command_line_is_2(self):
        for arguments, said in (((), "no capture or session given"), (("--nonsense", "x"), "help"),
                                (("--colour", "pink", "x"), "always, never or auto"),
                                (("--locked",), "help")):
            self.assertIn(said, self.complaint("analyse", *arguments))
        self.assertIn("--locked: ", self.complaint("analyse", "--locked", "noon", session("healthy")))

    def test_what_cannot_be_read_is_4_and_is_told_with_its_name(self):
        text = self.write("notes.txt", "the car was locked at noon\nand so on\n")
        empty = self.write("empty.log", "")
        car = self.write("car.yaml", "networks:\n  body: { interfaces: [can0] }\nmodules: 3\n")
        folder = os.path.join(self.directory.name, "nothing")
        os.mkdir(folder)
        for path in (text, folder, text + "x"):
            self.assertIn(path, self.complaint("analyse", path, status=4))
        self.assertIn(car + ":3:", self.complaint("analyse", "--vehicle", car, session("healthy"),
                                                  status=4))
        self.assertIn("once", self.complaint("analyse", "-", "-", status=4))
        # An empty capture can be read: it says nothing.
        self.assertTrue(self.output("analyse", empty).startswith("CANNOT TELL\n"))

    def test_what_is_cut_off_is_read_as_far_as_it_goes(self):
        torn = self.write("torn.gz", gzip.compress(frames("healthy").encode())[:-2000])
        done = subprocess.run([nodoff.PROGRAM, "analyse", "--full", torn], capture_output=True, text=True,
                              timeout=nodoff.PATIENCE, check=True)
        self.assertRegex(done.stderr, re.escape(torn) + r":\d+:\d+: .*cut off")
        self.assertIn("Recording\n  951 frames in 43.9 s", done.stdout)
        self.complaint("analyse", "--strict", torn, status=4)

    def test_a_console_form_without_times_is_refused_with_the_reason(self):
        path = self.write("console.txt", "  can0  123   [2]  11 22\n  can0  124   [2]  11 22\n")
        self.assertIn("time", self.complaint("analyse", path, status=4))

    def test_bad_lines_are_told_and_fatal_only_when_asked(self):
        path = self.write("bad.log", "(1.000000) can0 123#11\n(2.000000) can0 12Z#11\n"
                                     "(3.000000) can0 123#12\n")
        done = subprocess.run([nodoff.PROGRAM, "analyse", path], capture_output=True, text=True,
                              timeout=nodoff.PATIENCE, check=True)
        self.assertIn(path + ":2:", done.stderr)
        self.assertIn("2 frames", done.stdout)
        self.assertIn(path + ":2:", self.complaint("analyse", "--strict", path, status=4))

    def test_the_help(self):
        self.assertIn("usage: nodoff analyse", self.output("analyse", "--help"))


class Text(Analyse):
    def test_every_shipped_session_fits_80_columns(self):
        for name in shipped():
            out = self.output("analyse", "--ids", session(name))
            found = self.object("analyse", session(name))
            lines = out.splitlines()
            self.assertEqual(lines[0], found["verdict"].upper())
            self.assertRegex(" ".join(out.split()[len(lines[0].split()):]),
                             "^" + read_by_a_person(found["sentence"]), name)
            for part in ("\nNext\n", "\nNetworks\n", "\nRecording\n"):
                self.assertIn(part, out)
            self.assertEqual("\nWhy\n" in out, bool(found["facts"]), name)

    def test_a_person_reads_the_clock_everywhere(self):
        for name in shipped():
            page = os.path.join(self.directory.name, "page.html")
            self.output("report", "-o", page, session(name))
            with open(page, encoding="utf-8") as file:
                said = file.read()
            said += self.output("timeline", session(name)) + self.output("analyse", "--full", session(name))
            self.assertNotRegex(said, r"(lock|start)[-+]\d", name)

    def test_nothing_is_said_twice_or_below_zero(self):
        for name in shipped():
            found = self.object("analyse", session(name))
            for lines in (found["facts"], found["doubts"], found["cautions"]):
                self.assertEqual(len(lines), len(set(lines)), name)
                for line in lines:
                    self.assertNotIn("-0 mA", line)

    def test_two_are_named_no_surer_than_the_less_likely(self):
        found = self.object("analyse", session("two-holders"))
        least = min(s["probability"] for s in found["suspects"][:2])
        self.assertEqual(len(found["culprits"]), 2)
        self.assertIn(f"({round(100 * least)} %", found["sentence"])

    def test_long_names_fit_too_and_stay_whole_characters(self):
        module = "Türsteuergerät hinten links mit sehr langem Namen, über den jemand nachdachte"
        fuses = [f"F{i} Sicherung mit Ärger" for i in range(8)]
        car = self.write("car.yaml", "networks:\n  Aufbau und Komfort, ähnlich wie Antrieb: { interfaces: [vcan0],"
                         " sleeps within: 2 min }\nfuses:\n" + "".join(
                             f"  {f}: {{ family: mini, rating: 10 A }}\n" for f in fuses) +
                         f'modules:\n  "{module}":\n    ids: [501, 6A1-6A2]\n    fuses: ' +
                         json.dumps(fuses, ensure_ascii=False) + "\n")
        out = self.output("analyse", "--ids", "--vehicle", car, session("holder-autosar"))
        self.assertIn("Türsteuergerät", out)

    def test_colour_only_on_a_terminal_and_never_the_only_signal(self):
        plain = self.output("analyse", session("healthy"))
        self.assertNotIn("\x1b", plain)
        coloured = self.run_command("analyse", "--colour", "always", session("healthy")).stdout
        self.assertIn("\x1b[", coloured)
        self.assertEqual(re.sub("\x1b\\[[0-9;]*m", "", coloured), plain)
        self.assertIn("\x1b[", self.on_terminal())
        self.assertNotIn("\x1b[3", self.on_terminal("--colour", "never"))

    def on_terminal(self, *arguments):
        pid, terminal = pty.fork()
        if pid == 0:
            os.execve(nodoff.PROGRAM, [nodoff.PROGRAM, "analyse", *arguments, session("healthy")],
                      {**os.environ, "TERM": "xterm"})
        said = b""
        try:
            while more := os.read(terminal, 4096):
                said += more
        except OSError:  # the other side has closed
            pass
        self.assertEqual(os.waitpid(pid, 0)[1], 0)
        os.close(terminal)
        return said.decode()


class Json(Analyse):
    def collect(self, value, place, seen):
        if isinstance(value, dict):
            seen.setdefault(place, set()).add(tuple(sorted(value)))
            for key, item in value.items():
                self.collect(item, f"{place}.{key}".lstrip("."), seen)
        elif isinstance(value, list):
            for item in value:
                self.collect(item, place + "[]", seen)

    def often_woken(self):
        """More wake-ups than are listed."""
        return self.write("often.log", "# locked: 1599999990\n" + "".join(
            f"({1600000000 + 600 * i}.000000) can0 123#11\n" for i in range(1000)))

    def test_every_one_of_many_wakeups_is_kept(self):
        found = self.object("analyse", self.often_woken())
        network, = found["networks"]
        self.assertEqual(network["wakes"], 999)
        self.assertEqual(len(network["spans"]), 1000)
        self.assertEqual(len(found["wakes"]), 999)
        self.assertIn("... and 995 more wake-ups.", found["facts"])
        self.assertEqual(len(self.object("wakeups", self.often_woken())["shown"]), 999)
        self.assertIn("999 of 999 wake-ups", self.output("wakeups", self.often_woken()))

    def test_every_key_is_always_there_and_described(self):
        seen = {}
        for name in shipped():
            found = self.object("analyse", session(name))
            if found["current"]:
                self.assertIn("levels", found["current"]["trace"])
                found["current"]["trace"] = None  # `nodoff current show` has its own test
            self.collect(found, "", seen)
        self.collect(self.object("analyse", self.often_woken()), "", seen)
        self.assertEqual({place: {tuple(sorted(keys.split()))} for place, keys in KEYS.items()}, seen)
        with open(os.path.join(ROOT, "lib", "show", "answer-json.c"), encoding="utf-8") as file:
            described = set(re.findall(r"\w+", file.read().split("*/")[1]))  # [0]: the licence
        for keys in KEYS.values():
            self.assertLessEqual(set(keys.split()), described)

    def test_each_fact_and_doubt_has_its_kind(self):
        with open(os.path.join(ROOT, "cli", "schema", "analyse.json"), encoding="utf-8") as file:
            schema = json.load(file)["properties"]
        with open(os.path.join(ROOT, "lib", "findings", "about.c"), encoding="utf-8") as file:
            names = re.findall(r'= "([a-z-]+)",', file.read())
        described = [schema[f"{which}_kinds"]["description"].split("One of: ")[1].rstrip(".").split(", ")
                     for which in ("fact", "doubt")]
        self.assertEqual(sum(described, []), names)
        for name in shipped():
            found = self.object("analyse", session(name))
            for which, known in zip(("fact", "doubt"), described):
                kinds = found[f"{which}_kinds"]
                self.assertEqual(len(kinds), len(found[f"{which}s"]), name)
                self.assertLessEqual(set(kinds), set(known), name)

    def test_frames_of_an_impossible_year_are_no_silence(self):
        frames = [f"({{}}.{i:06}) can0 123#11\n" for i in range(3)]
        done = self.run_command("analyse", self.write("future.log", "".join(f.format(7258118400) for f in frames)),
                                status=4)
        self.assertIn("its 3 frames have times before the year 1843 or after 2096", done.stderr)
        some = "".join(f.format(7258118400) for f in frames) + frames[0].format(1700000000)
        found = self.object("analyse", self.write("some.log", some))
        self.assertRegex(found["sentence"], r"^3 frames have times .* \(1 other is\)")

    def test_a_kind_stands_at_the_place_of_its_text(self):
        found = self.object("analyse", session("frames-lost"))
        said = dict(zip(found["fact_kinds"] + found["doubt_kinds"], found["facts"] + found["doubts"]))
        self.assertIn("617 frames of drive were lost", said["lost"])
        self.assertIn("body was watched asleep for only", said["short"])
        self.assertIn("Lowest steady battery current", said["rest-current"])
        self.assertIn("Awake networks explain", said["explained"])

    def test_it_says_the_same_as_the_text(self):
        for name in ("holder-osek", "repeated-waker", "isolation-right", "frames-lost"):
            found = self.object("analyse", session(name))
            out = " ".join(self.output("analyse", "--full", session(name)).split())
            for line in (*found["facts"], *found["doubts"], *found["cautions"], found["next"]):
                for part in re.split(r"lock[+-][0-9.]+ s", line):  # told as the time of day
                    self.assertIn(" ".join(part.split()), out)
            for suspect in found["suspects"][:12]:
                self.assertIn(" ".join(suspect["name"].split())[:38], out)

    def test_times_are_exact(self):
        found = self.object("analyse", session("healthy"))
        self.assertEqual(found["networks"][0]["slept_at"], "1700840608.168269000")
        self.assertEqual(found["lock"]["source"], "journal")


nodoff.main()
