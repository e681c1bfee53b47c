# SPDX-License-Identifier: MIT
"""Every form of input says the same; where the lock comes from; a clock that was set."""
import gzip
import os
import subprocess
import tempfile

import capture_forms
import nodoff
from analysed import Analyse, frames, session

class Inputs(Analyse):
    """The same frames, however they come in, say the same, byte for byte."""

    LOCK = ("--locked", "1701030691.055")

    def setUp(self):
        super().setUp()
        self.car = os.path.join(session("holder-autosar"), "vehicle.yaml")
        self.text = frames("holder-autosar")
        self.log = self.write("plain.log", self.text)
        self.options = ("--vehicle", self.car, *self.LOCK, "--ids")
        self.expected = self.raw(*self.options, self.log)

    def test_it_is_a_verdict(self):
        self.assertTrue(self.expected.startswith(b"KEPT AWAKE\nseat heater unit "), self.expected)

    def test_again(self):
        self.assertEqual(self.raw(*self.options, self.log), self.expected)
        self.assertEqual(self.raw(*self.options, "--json", self.log),
                         self.raw(*self.options, "--json", self.log))

    def test_standard_input_whole_and_line_by_line(self):
        self.assertEqual(self.raw(*self.options, "-", data=self.text.encode()), self.expected)
        with subprocess.Popen([nodoff.PROGRAM, "analyse", *self.options, "-"],
                              stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
            for line in self.text.encode().splitlines(keepends=True):
                process.stdin.write(line)
                process.stdin.flush()
            out, _ = process.communicate(timeout=nodoff.PATIENCE)
        self.assertEqual(out, self.expected)

    def test_chunks_that_cut_lines(self):
        data = self.text.encode()
        with subprocess.Popen([nodoff.PROGRAM, "analyse", *self.options, "-"],
                              stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
            for i in range(0, len(data), 997):
                process.stdin.write(data[i:i + 997])
                process.stdin.flush()
            out, _ = process.communicate(timeout=nodoff.PATIENCE)
        self.assertEqual(out, self.expected)

    def test_gzip_and_zstd(self):
        data = self.text.encode()
        for name, packed in (("packed.gz", gzip.compress(data)),
                             ("packed.zst", capture_forms.zstd(data)),
                             ("packed", gzip.compress(data[:50000]) + gzip.compress(data[50000:]))):
            self.assertEqual(self.raw(*self.options, self.write(name, packed)), self.expected, name)

    def test_carriage_returns(self):
        path = self.write("dos.log", self.text.replace("\n", "\r\n"))
        self.assertEqual(self.raw(*self.options, path), self.expected)

    def test_one_interface_as_pcap(self):
        car = self.write("car.yaml", "networks:\n  body: { interfaces: [vcan0, packed],"
                         " sleeps within: 2 min }\n")
        log = self.write("one.log", "".join(line for line in self.text.splitlines(keepends=True)
                                            if " vcan0 " in line))
        packed = self.write("packed.pcap", capture_forms.pcap(self.text, "vcan0"))
        expected = self.object("analyse", "--vehicle", car, *self.LOCK, log)
        found = self.object("analyse", "--vehicle", car, *self.LOCK, packed)
        self.assertEqual(found["verdict"], "kept awake")
        for key in ("verdict", "recording", "lock", "culprits", "suspects"):
            self.assertEqual(found[key], expected[key], key)
        self.assertEqual([(n["frames"], n["spans"]) for n in found["networks"] if n["frames"]],
                         [(n["frames"], n["spans"]) for n in expected["networks"] if n["frames"]])

    def test_two_files_merged_by_time(self):
        lines = self.text.splitlines(keepends=True)
        head = [line for line in lines if line.startswith("#")]
        parts = [self.write(f"{name}.log", "".join(head + [line for line in lines
                                                           if f" {name} " in line]))
                 for name in ("vcan0", "vcan1")]
        found = self.object("analyse", "--vehicle", self.car, *self.LOCK, *parts)
        expected = self.object("analyse", "--vehicle", self.car, *self.LOCK, self.log)
        self.assertEqual(found, expected)

    def test_a_session_is_the_same_as_its_parts(self):
        whole = self.object("analyse", session("holder-autosar"))
        parts = self.object("analyse", "--vehicle", self.car, *self.LOCK, self.log)
        for key in ("verdict", "culprits", "sentence"):
            self.assertEqual(whole[key], parts[key])


class Lock(Analyse):
    BODY = "".join(f"({1000 + i}.000000) can0 123#{i:02X}\n" for i in range(100))

    def lock(self, *arguments):
        found = self.object("analyse", *arguments)["lock"]
        out = " ".join(self.output("analyse", *arguments).split())
        known = found["source"] != "start of the recording"
        self.assertIn(f"Locked {found['time'][:-6]} s ({found['source']})" if known
                      else f"Recorded from {found['time'][:-6]} s;", out)
        return found["time"], found["source"]

    def test_the_start_when_nothing_says(self):
        path = self.write("a.log", self.BODY)
        self.assertEqual(self.lock(path), ("1000.000000000", "start of the recording"))
        self.assertIn("Nothing says when the car was locked: the start of the recording is taken.",
                      self.object("analyse", path)["doubts"])

    def test_a_header(self):
        path = self.write("a.log", "# locked: 1010.5\n" + self.BODY)
        self.assertEqual(self.lock(path), ("1010.500000000", "capture header"))

    def test_an_option_goes_before_a_header(self):
        path = self.write("a.log", "# locked: 1010.5\n" + self.BODY)
        for text, time in (("1020.25", "1020.250000000"), ("+30 s", "1030.000000000"),
                           ("1970-01-01T00:17:20Z", "1040.000000000")):
            self.assertEqual(self.lock("--locked", text, path), (time, "option"))

    def test_the_journal(self):
        os.mkdir(os.path.join(self.directory.name, "s"))
        self.write("s/frames.log", self.BODY)
        self.write("s/journal.log", "(1005.000000) locked\n(1015.000000) locked\n")
        folder = os.path.join(self.directory.name, "s")
        self.assertEqual(self.lock(folder), ("1015.000000000", "journal"))
        for time in ("1020", "1003"):
            self.assertEqual(self.lock("--locked", time, folder), (time + ".000000000", "option"))

    def test_a_journal_goes_before_a_header(self):
        os.mkdir(os.path.join(self.directory.name, "s"))
        self.write("s/frames.log", "# locked: 1010.5\n" + self.BODY)
        self.write("s/journal.log", "(1005.000000) locked\n")
        self.assertEqual(self.lock(os.path.join(self.directory.name, "s")),
                         ("1005.000000000", "journal"))


class Clock(nodoff.Command):
    """The clock is set three times while a message comes every 10 ms, and each mark that says so
    is made some time before or after the first frame of the new clock."""

    def spans(self, step, late):
        lines, marks, offset, sets = [], ["(1700000000.000000) locked\n"], 0, [3003, 6013, 9007]
        for number in range(12000):
            if number in sets:
                offset += step
                marks.append(f"({1700000000 + offset + number / 100 + late:.6f}) clock step {step:+} s\n")
            lines.append(f"({1700000000 + offset + number / 100:.6f}) can0 {0x100 + number % 3:03X}#0011\n")
        with tempfile.TemporaryDirectory() as session:
            for name, text in ("frames.log", lines), ("journal.log", marks):
                with open(os.path.join(session, name), "w", encoding="ascii") as file:
                    file.writelines(text)
            answer = self.object("analyse", session)
        return [(round(float(span["to"]) - float(span["from"]), 2), answer["wakes"], answer["culprits"])
                for span in answer["networks"][0]["spans"]]

    def test_every_order_of_mark_and_frames(self):
        for step in 3600, -3600, 60, -60:
            for late in -0.005, 0, 0.02, 0.4:
                with self.subTest(step=step, late=late):
                    self.assertEqual(self.spans(step, late), [(119.99, [], [])])


nodoff.main()
