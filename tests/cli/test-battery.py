# SPDX-License-Identifier: MIT
import os
import tempfile

import nodoff


class Battery(nodoff.Command):
    def test_the_answer_comes_first(self):
        out = self.output("battery", "--rest", "12.55V", "--rest-off", "0mV", "--type", "flooded",
                          "--current", "80mA", "--reserve", "120min", "--rested", "24h")
        self.assertTrue(out.startswith("At 80.0 mA it starts for about 10.3 days more: "), out)
        self.assertIn("  charge             88 % (88 % to 88 %), flooded\n", out)
        self.assertIn("30.0 mA, reserve minutes / 4: over it\n", out)
        self.assertIn("! A charging battery gives off explosive gas", out)
        self.assertIn("! An ammeter in series", out)
        self.assertNotIn("after 4 hours of rest", out)

    def test_the_published_rule_in_numbers(self):
        # Reserve 100 minutes, 25 mA: 24.0 Ah and 40.0 days; the largest acceptable drain.
        found = self.object("battery", "--current", "25mA", "--reserve", "100min")
        self.assertAlmostEqual(found["until_no_start_ah"]["rule"], 24.0)
        self.assertAlmostEqual(found["days"]["rule"], 40.0)
        self.assertAlmostEqual(found["acceptable_drain_ma"], 25.0)
        self.assertFalse(found["charge_measured"])

    def test_self_discharge_is_for_the_worst_case_and_not_pinned(self):
        usual = self.object("battery", "--current", "25mA", "--reserve", "100min")["days"]
        none = self.object("battery", "--current", "25mA", "--reserve", "100min",
                           "--self-discharge", "0%", "--current-off", "0mA")["days"]
        self.assertLess(usual["worst"], none["worst"])
        self.assertEqual(none["worst"], none["best"])
        self.assertEqual(none["rule"], usual["rule"])

    def test_the_vehicle_file_gives_the_battery_and_the_line_wins(self):
        with tempfile.TemporaryDirectory() as directory:
            path = os.path.join(directory, "car.yaml")
            with open(path, "w", encoding="utf-8") as file:
                file.write("vehicle: invented\n"
                           "battery: { type: agm, capacity: 70 Ah, reserve: 120 min }\n"
                           "networks: { body: { interfaces: [can0] } }\n")
            found = self.object("battery", "--vehicle", path, "--current", "50mA")
            self.assertEqual(found["type"], "agm")
            self.assertAlmostEqual(found["capacity_ah"]["worst"], 70)
            self.assertAlmostEqual(found["capacity_ah"]["best"], 72)
            found = self.object("battery", "--vehicle", path, "--type", "flooded",
                                "--capacity", "50Ah", "--current", "50mA")
            self.assertEqual(found["type"], "flooded")
            self.assertAlmostEqual(found["capacity_ah"]["worst"], 50)
        self.assertIn("car.yaml", self.complaint("battery", "--vehicle", path, "--rest", "12V",
                                                 status=4))

    def test_a_low_battery_is_said_to_be_low(self):
        out = self.output("battery", "--rest", "12.00V", "--type", "flooded", "--current", "50mA",
                          "--capacity", "70Ah")
        self.assertTrue(out.startswith("It may not start now"))
        self.assertIn("recharge it", out)
        out = self.output("battery", "--rest", "12.3V", "--current", "50mA", "--capacity", "70Ah")
        self.assertTrue(out.startswith("It may fail to start already, or last up to"), out)

    def test_a_battery_that_has_not_rested_is_doubted_first(self):
        out = self.output("battery", "--rest", "12.60V", "--current", "50mA", "--capacity", "70Ah",
                          "--rested", "1h")
        self.assertLess(out.index("But it has not rested long enough"), out.index("rest voltage"))
        out = self.output("battery", "--rest", "12.60V", "--rested", "4h")
        self.assertNotIn("not rested", out)

    def test_charge_alone_and_what_is_missing(self):
        out = self.output("battery", "--rest", "12,45V", "--type", "agm")
        self.assertTrue(out.startswith("The battery is about "))
        self.assertNotIn("ammeter", out)
        self.assertIn("give the drain current and its capacity or reserve\nminutes.", out)

    def test_what_is_wrong_is_said(self):
        self.assertIn("nothing to work out", self.complaint("battery"))
        self.assertIn("not at rest", self.complaint("battery", "--rest", "14.2V"))
        self.assertIn("no 12 V battery", self.complaint("battery", "--rest", "6.3V"))
        self.assertIn("`lithium`", self.complaint("battery", "--type", "lithium"))
        self.assertIn("there is no option `--nothing`", self.complaint("battery", "--nothing"))
        self.assertIn("without a unit", self.complaint("battery", "--rest", "12.45"))
        self.assertIn("usage: nodoff battery", self.output("battery", "--help"))


nodoff.main()
