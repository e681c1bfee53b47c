# SPDX-License-Identifier: MIT
"""What grows with the square of the input takes minutes here and runs into the time limit."""
import os
import subprocess
import tempfile

import nodoff


class Costs(nodoff.Command):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.addCleanup(self.directory.cleanup)

    def write(self, name, lines):
        path = os.path.join(self.directory.name, name)
        with open(path, "w", encoding="ascii") as file:
            file.writelines(lines)
        return path

    def test_journal_in_headers_in_any_order(self):
        marks = (f"# note: {1700000000 + second} x\n" for second in range(200000, 0, -1))
        path = self.write("marks.log", [*marks, "(1700000000.000000) can0 123#11\n"])
        done = self.run_command("analyse", path, "--json")
        self.assertIn('"subject": "x"', done.stdout)

    def test_report_of_many_messages(self):
        frames = (f"({1700000000 + i // 1000}.{i % 1000:03}000) can0 {i:08X}#11\n" for i in range(100000))
        out = os.path.join(self.directory.name, "page.html")
        self.run_command("report", self.write("ids.log", frames), "--out", out)
        with open(out, encoding="utf-8") as file:
            self.assertIn("And 99600 more", file.read())

    def test_fuses_with_many_feeds(self):
        feeds = (", ".join(f"u{(i * 7 + k * 131) % 9000}" for k in range(60)) for i in range(2000))
        fuses = (f"  F{i}: {{ rating: 10 A, family: ATO, box: b{i % 20}, feeds: [{feed}] }}\n"
                 for i, feed in enumerate(feeds))
        car = self.write("car.yaml", ["networks: { body: { interfaces: [can0] } }\nfuses:\n", *fuses])
        readings = self.write("readings", [f"F{i} {i % 3} mV\n" for i in range(2000)])
        done = self.run_command("fuses", "--vehicle", car, "--readings", readings)
        self.assertIn("F1999", done.stdout)

    def test_what_cannot_be_meant_is_said(self):
        """A device without end, and more networks than any car has."""
        done = self.run_anything("/dev/zero")
        self.assertIn("no line ends within 16 MiB", done.stderr)
        self.assertIn("this says nothing of the car", done.stderr)
        frames = [f"(1700000000.{i:06}) c{i} 123#11\n" for i in range(200)]
        done = self.run_anything(self.write("many.log", frames))
        self.assertIn("more than 64 different interface names", done.stderr)

    def run_anything(self, path):
        return subprocess.run([*nodoff.WRAPPER, nodoff.PROGRAM, "analyse", path], capture_output=True, text=True,
                              timeout=nodoff.PATIENCE)


nodoff.main()
