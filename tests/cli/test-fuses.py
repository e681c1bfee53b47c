# SPDX-License-Identifier: MIT
import os
import tempfile

import nodoff

CAR = """\
vehicle: Hatchback, invented
networks:
  body: { interfaces: [can0] }
  drive: { interfaces: [can1] }
fuses:
  F1: { family: mini, rating: 10 A, box: cabin, feeds: [interior lamps] }
  F2: { family: mini, rating: 15 A, box: cabin }
  F3: { family: ato, rating: 30 A, box: engine }
  F4: { family: ato, rating: 10 A, box: engine }
  F5: { family: micro2, rating: 10 A, box: cabin }
  F6: { family: micro2, rating: 10 A, box: cabin, resistance: 7.1 mOhm }
  F7: { family: ato, rating: 5 A, box: cabin }
  F8: { family: ato, rating: 20 A, box: engine }
modules:
  door module left: { networks: [body], ids: [2A0], fuses: [F1, F2] }
  roof module: { networks: [body], ids: [2A8], fuses: [F6] }
  engine control: { networks: [drive], ids: [100], fuses: [F3, F4] }
"""
READINGS = ["F1=2.3mV", "F2=0.4mV", "F3=0.0mV", "F4=0.0mV", "F5=1.0mV", "F6=0.9mV", "F7=0.1mV"]


class Fuses(nodoff.Command):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.addCleanup(self.directory.cleanup)
        self.car = self.write("car.yaml", CAR)

    def write(self, name, text):
        path = os.path.join(self.directory.name, name)
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        return path

    def test_the_answer_comes_first(self):
        out = self.output("fuses", "--vehicle", self.car, "--clamp", "0.93A", *READINGS)
        self.assertTrue(out.startswith(
            "3 of 6 fuses carry current; F1 the most, about 310 mA (270 mA to 359 mA).\n\n"
            "  fuse             reading   current  at least   at most\n"
            "  F1               2.30 mV    310 mA    270 mA    359 mA\n"
            "      mini 10 A, cabin: door module left, interior lamps\n"
            "  F6               0.90 mV    127 mA    113 mA    141 mA\n"
            "      micro2 10 A, cabin: roof module\n"), out)
        self.assertIn("  F3               0.00 mV       0 A       0 A   56.4 mA  none seen\n", out)
        self.assertIn("F5: no resistance is known for a micro2 fuse of 10 A", out)
        self.assertIn("on the network body: 3 of the 3 that carry, 3 of the 6 measured. By chance\n"
                      "    1 in 20, for the best of all compared up to 30 %: may well be a\n"
                      "    coincidence.\n", out)
        self.assertIn("Sum of the fuses 442 mA to 705 mA, the clamp 910 mA to 950 mA.\n"
                      "Not in the sum, as not known: F5.\n"
                      "Not accounted for: 205 mA to 508 mA.", out)
        self.assertIn("Not measured yet: F8\n", out)
        self.assertIn("from memory", out)
        self.assertIn("! Airbag", out)

    def test_the_same_for_programs(self):
        found = self.object("fuses", "--vehicle", self.car, "--clamp", "0.93A", *READINGS)
        self.assertEqual(found["carrying"], 3)
        self.assertEqual(found["fuses"][0]["modules"], ["door module left"])
        self.assertEqual(found["fuses"][1]["current"]["basis"], "own value")
        self.assertIsNone(found["fuses"][-1]["current"])
        self.assertIn("micro2", found["fuses"][-1]["refusal"])
        best = found["common"][0]
        self.assertEqual((best["tie"], best["name"], best["both"]), ("network", "body", 3))
        self.assertAlmostEqual(best["chance"], 0.05)
        self.assertAlmostEqual(best["corrected"], 0.3)
        self.assertEqual(found["rest"], "missing")
        self.assertEqual(found["unmeasured"], ["F8"])

    def test_fuses_that_hang_together_are_hardly_a_coincidence(self):
        fuses = "".join(f"  F{i}: {{ family: ato, rating: 10 A }}\n" for i in range(1, 21))
        car = self.write("big.yaml", "networks: { body: { interfaces: [can0] } }\nfuses:\n" + fuses +
                         "modules:\n  door: { networks: [body], ids: [2A0], fuses: [F1, F2] }\n"
                         "  roof: { networks: [body], ids: [2A8], fuses: [F3, F4] }\n")
        readings = [f"F{i}={'1.0' if i < 5 else '0.0'}mV" for i in range(1, 21)]
        out = self.output("fuses", "--vehicle", car, *readings)
        # All four of the network among twenty: C(20, 4) = 4845; three things compared.
        self.assertIn("By chance 1 in 4845, for the best of all compared up to 1 in 1615: "
                      "hardly a coincidence.", " ".join(out.split()))
        self.assertLess(out.index("  F9 "), out.index("  F10 "))

    def test_published_examples_without_a_map(self):
        found = self.object("fuses", "ato:10A=1mV", "mini:15A=0.1mV", "mini:15A=1.0mV",
                            "ato:30A=0.0mV")
        currents = [f["current"]["ma"] for f in found["fuses"]]
        for current, published in zip(currents, (218, 130, 22, 0)):
            self.assertAlmostEqual(current, published, delta=0.5)
        self.assertAlmostEqual(found["fuses"][-1]["current"]["high_ma"], 56.402)

    def test_the_meter_decides_what_zero_means(self):
        coarse = self.object("fuses", "ato:30A=0.0mV")["fuses"][0]["current"]
        fine = self.object("fuses", "ato:30A=0.00mV")["fuses"][0]["current"]
        stated = self.object("fuses", "--resolution", "0.3mV", "ato:30A=0.00mV")
        self.assertGreater(coarse["high_ma"], 50)
        self.assertLess(fine["high_ma"], 6)
        self.assertGreater(stated["fuses"][0]["current"]["high_ma"], 150)

    def test_readings_from_a_file_a_journal_and_a_pipe(self):
        plain = self.write("readings.txt", "# across the fuses\nF1 2.3 mV\n\nF2=0.4mV\r\n")
        journal = self.write("journal", "(1700000000.000000) locked\n"
                                        "(1700002710.000000) reading F1 2.3 mV\n"
                                        "(1700002720.000000) reading battery 12.45 V\n"
                                        "(1700002730.000000) reading pin 6 2.62 V\n"
                                        "(1700002740.000000) reading F2 0.9 mV\n"
                                        "(1700002750.000000) reading F2 0.4 mV\n"
                                        "(1700002760.000000) reading F2 9.9 mV\n"
                                        "(1700002770.000000) undone (1700002760.000000) reading F2 9.9 mV\n")
        expected = self.object("fuses", "--vehicle", self.car, "F1=2.3mV", "F2=0.4mV")
        for source in (plain, journal):
            self.assertEqual(self.object("fuses", "--vehicle", self.car, "--readings", source),
                             expected)
        self.assertEqual(self.object("fuses", "--vehicle", self.car, "--readings", "-",
                                     text="F1 2.3 mV\nF2 0.4 mV"), expected)

    def test_what_is_wrong_is_said_and_where(self):
        bad = self.write("bad.txt", "F1 2.3 mV\nF2 2.3\n")
        self.assertIn("bad.txt:2: `F2 2.3` is no fuse reading",
                      self.complaint("fuses", "--readings", bad, status=4))
        self.assertIn("no fuse readings", self.complaint("fuses"))
        self.assertIn("F1=2.3", self.complaint("fuses", "F1=2.3"))
        self.assertIn("No such file", self.complaint("fuses", "--readings", bad + "x", status=4))
        self.assertIn("negative", self.complaint("fuses", "--resolution", "-1mV", "F1=1mV"))
        self.assertIn("blown", self.output("fuses", "mini:10A=12V"))
        self.assertIn("usage: nodoff fuses", self.output("fuses", "--help"))


nodoff.main()
