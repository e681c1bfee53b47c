# SPDX-License-Identifier: MIT
import math
import os
import subprocess
import tempfile

import nodoff


def trace(path):
    """Made up: 4.2 A, from 400 s on 1.3 A, from 600 s on 62 mA with reports of 150 mA."""
    with open(path, "w", encoding="utf-8") as file:
        file.write("Logger: invented\n\nZeit (s);Zange (mV)\n")
        for i in range(14400):
            t = i / 2
            ma = 4200 if t < 400 else 1300 if t < 600 else 62
            ma += 150 if t > 600 and (t - 700) % 575 < 44 else 0
            ma += 8 * math.sin(t / 1500) + 3 * math.sin(i * i * 0.7)
            file.write(f"{t:.1f};{ma / 10:.1f}\n".replace(".", ","))


class Current(nodoff.Command):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.addCleanup(self.directory.cleanup)
        self.session = os.path.join(self.directory.name, "session")
        os.mkdir(self.session)

    def path(self, name, text=None):
        path = os.path.join(self.directory.name, name)
        if text is not None:
            with open(path, "w", encoding="utf-8") as file:
                file.write(text)
        return path

    def write_bytes(self, name, data):
        path = self.path(name)
        with open(path, "wb") as file:
            file.write(data)
        return path

    def program(self, *arguments):
        return subprocess.run([nodoff.PROGRAM, *arguments], capture_output=True, text=True,
                              timeout=nodoff.PATIENCE)

    def import_trace(self):
        csv = self.path("log.csv")
        trace(csv)
        return self.output("current", "import", csv, "--clamp", "100mV/A", "--start", "1700000000",
                           "--into", self.session)

    def test_what_the_import_understood_is_said_and_kept(self):
        out = self.import_trace()
        said = " ".join(out.split())
        self.assertIn("table: 2 columns, separator semicolon, decimal comma, headings in line 3",
                      said)
        self.assertIn("current: column 2 `Zange (mV)`, in mV, of a clamp with 100 mV/A", said)
        self.assertIn("14400 samples from 2023-11-14 22:13:20 UTC on", said)
        with open(os.path.join(self.session, "current.log"), encoding="utf-8") as file:
            lines = file.read().splitlines()
        self.assertTrue(lines[0].startswith("# imported from "))
        self.assertIn("# current: column 2 `Zange (mV)`, in mV, of a clamp with 100 mV/A", lines)
        self.assertIn("(1700000000.500000) ", "\n".join(lines))
        self.assertEqual(len(lines), 14400 + 4)

    def test_show_finds_levels_steps_and_reports(self):
        self.import_trace()
        with open(os.path.join(self.session, "journal.log"), "w", encoding="utf-8") as file:
            file.write("(1700000060.000000) locked\n(1700003000.000000) zeroed\n"
                       "(1700000900.000000) locked\n" # and taken back
                       "(1700003600.000000) undone (1700000900.000000) locked\n")
        found = self.object("current", "show", self.session, "--limit", "50mA")
        self.assertEqual(found["since"], "1700000060.000000")
        self.assertEqual(found["since_is"], "lock")
        self.assertEqual([round(step["at_s"]) for step in found["steps"]], [340, 540])
        self.assertAlmostEqual(found["steps"][1]["change_ma"], -1238, delta=4)
        self.assertAlmostEqual(found["at_rest"]["ma"], 62, delta=9)
        self.assertFalse(found["at_rest"]["within_noise"])
        self.assertEqual(len(found["pulse_groups"]), 1)
        group = found["pulse_groups"][0]
        self.assertTrue(group["periodic"] and group["telemetry_like"])
        self.assertAlmostEqual(group["period_s"], 575, delta=2)
        self.assertAlmostEqual(group["height_ma"], 150, delta=4)
        expected = (4200 * 340 + 1300 * 200 + 62 * 6600 + 150 * 44 * 12) / 3.6e6
        self.assertAlmostEqual(found["charge_ah"], expected, delta=0.02)
        out = self.output("current", "show", self.session, "--limit", "60mA")
        self.assertTrue(out.startswith("The lowest lasting current is "), out)
        self.assertIn("not clearly above or below the limit of 60.0 mA", " ".join(out.split()))
        self.assertIn("telematics unit", out)
        self.assertNotIn("never zeroed", out)
        sure = self.output("current", "show", self.session, "--limit", "50mA", "--wander", "1mA")
        self.assertIn("that is above the limit of 50.0 mA", " ".join(sure.split()))

    def test_what_is_ambiguous_is_refused_with_the_way_out(self):
        said = {
            "s;mA\n0;1,234\n1;2,345\n": "--decimal",
            "time,mA\n0,31\n1,32\n": "--time-unit",
            "time,mA\n2023-11-14 22:00:00,31\n2023-11-14 22:00:01,32\n": "--zone",
            "s,mV\n0,31\n1,32\n": "--clamp",
            "s,A (A),B (A)\n0,31,1\n1,32,1\n": "--column",
        }
        for text, option in said.items():
            path = self.path("x.csv", text)
            self.assertIn(option, self.complaint("current", "import", path, "--start",
                                                 "1700000000", status=4))

    def test_standard_input_and_the_lock_as_start(self):
        with open(os.path.join(self.session, "journal.log"), "w", encoding="utf-8") as file:
            file.write("(1700000060.000000) locked\n(1700000090.000000) locked\n"
                       "(1700003600.000000) undone (1700000090.000000) locked\n")
        self.output("current", "import", "-", "--start", "locked", "--offset", "-1 s", "--into",
                    self.session, text="s,mA\n0,31\n1,32\n")
        with open(os.path.join(self.session, "current.log"), encoding="utf-8") as file:
            self.assertIn("(1700000059.000000) 0.031000 A\n", file.read())
        again = self.run_command("current", "import", "-", "--start", "locked", "--into",
                                 self.session, status=4, text="s,mA\n-5,31\n-4,32\n")
        self.assertIn("already", again.stderr)

    def frames(self, spans):
        """A session with one network, awake in the spans (seconds from 1700000000)."""
        with open(os.path.join(self.session, "session.txt"), "w", encoding="utf-8") as file:
            file.write("nodoff session: 1\n")
        with open(os.path.join(self.session, "frames.log"), "w", encoding="utf-8") as file:
            file.write("# locked: 1700000000\n")  # else it could be one module on a bench
            for first, last in spans:
                for i in range(int((last - first) * 2) + 1):
                    file.write(f"({1700000000 + first + i / 2:.6f}) can0 123#1122\n")
            file.write("# ended: 1700004000\n")

    def logged(self, spans, behind):
        """Its current, falling two seconds after the network, by another clock."""
        rows = ["time (s),I (mA)"]
        for t in range(4000):
            awake = any(first <= t <= last + 2 for first, last in spans)
            rows.append(f"{1700000000 + t - behind},{(950 if awake else 30) + t * 7 % 5}")
        return "\n".join(rows) + "\n"

    def test_the_offset_of_another_clock_is_found_or_refused(self):
        spans = [(0, 610), (1210, 1290), (2004, 2088), (3555, 3641)]
        self.frames(spans)
        out = self.output("current", "import", "-", "--offset", "find", "--into", self.session,
                          text=self.logged(spans, 3671))
        self.assertIn("clock: 1 h 01 min added to every time", out)
        self.assertIn("steps of the current meet a network", " ".join(out.split()))
        found = self.object("current", "show", self.session)
        self.assertAlmostEqual(float(found["since"]), 1700000000, delta=2)

    def test_a_period_leaves_the_offset_open(self):
        spans = [(200 + 570 * i, 245 + 570 * i) for i in range(7)]
        self.frames(spans)
        said = self.complaint("current", "import", "-", "--offset", "find", "--into", self.session,
                              status=4, text=self.logged(spans, 100))
        self.assertIn("the recording fits an offset of", said)
        self.assertFalse(os.path.exists(os.path.join(self.session, "current.log")))

    def test_bad_lines_are_told_with_their_place(self):
        path = self.path("x.csv", "s,mA\n0,31\n1,OL\n2,33\n3,34\n")
        log = self.path("current.log", "(1) 0.03 A\n(2) x\n(3) 0.03 A\n(4) 30 mA\ncut off")
        shown = self.program("current", "show", log)
        self.assertEqual(shown.returncode, 0)
        self.assertIn("current.log:2:5: ", shown.stderr)
        self.assertIn("current.log:5:1: the last line is cut off", shown.stderr)
        taken = self.program("current", "import", path, "--start", "0")
        self.assertEqual(taken.returncode, 0)
        self.assertIn("x.csv:3:3: not a number", taken.stderr)
        self.assertIn("1 lines could not be taken.", taken.stdout)

    def test_the_unit_of_each_row_counts(self):
        text = "time,value,unit\n" + "".join(
            f"2023-11-14 22:13:{20 + i}Z,{value}\n"
            for i, value in enumerate(("1.2,A", "1.1,A", "28.1,mA", "27.9,mA", "950,uA", "3,V")))
        said = self.program("current", "import", self.path("meter.csv", text))
        self.assertIn("in the unit of each row", said.stdout)
        self.assertIn("5 samples", said.stdout)
        self.assertIn("between 950 uA and 1.20 A", " ".join(said.stdout.split()))
        self.assertIn("a value in another unit", said.stderr)

    def test_utf16_as_spreadsheets_write_it(self):
        path = self.write_bytes("wide.csv", "time;I/mA\n2023-11-14 22:13:20Z;28,1\n"
                                            "2023-11-14 22:13:21Z;28,3\n".encode("utf-16"))
        self.assertIn("2 samples", self.output("current", "import", path))
        torn = self.write_bytes("torn.csv", "time;I/mA\n2023-11-14 22:13:20Z;28,1\n".encode("utf-16")[:-1])
        self.complaint("current", "import", torn, status=4)

    def test_usage(self):
        self.assertIn("import", self.output("current", "--help"))
        self.assertIn("--date-order", self.output("current", "import", "--help"))
        self.complaint("current")
        self.complaint("current", "show")
        self.complaint("current", "import", "x", "--clamp", "5A")
        self.complaint("current", "import", "x", "--zone", "Mars")
        self.complaint("current", "import", "x", "--start", "yesterday")
        self.complaint("current", "show", self.session, status=4)


nodoff.main()
