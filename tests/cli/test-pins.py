# SPDX-License-Identifier: MIT
import tempfile

import nodoff


class Pins(nodoff.Command):
    def test_the_answer_comes_first(self):
        out = self.output("pins", "--high", "2.62V", "--low", "2.38V", "--layer", "high-speed")
        self.assertTrue(out.startswith(
            "Awake, with traffic: CANH is above CANL on average. Dominant 12 % of the time\n"
            "(7 % to 19 %), a bus load of some 9 % to 52 %.\n\n"
            "  CANH to ground             2.62 V\n"
            "  CANL to ground             2.38 V\n"
            "  CANH less CANL             0.24 V, +-0.04 V by the meter\n"), out)
        self.assertIn("! High-voltage", out)

    def test_twelve_volts_mean_two_things(self):
        out = self.output("pins", "--high", "0V", "--low", "12,4V")
        self.assertLess(out.index("If fault-tolerant:  Asleep"),
                        out.index("If high speed:      CANL is shorted to battery"))
        self.assertIn("1. Which kind of network", out)
        out = self.output("pins", "--high", "0V", "--low", "12.4V", "--layer", "high-speed")
        self.assertTrue(out.startswith("CANL is shorted to battery"))

    def test_a_quiet_reading_is_not_called_silent(self):
        out = self.output("pins", "--high", "2.50V", "--low", "2.50V", "--layer", "high-speed")
        self.assertIn("need not be silent: a load of up to 7 %", out)
        fine = self.object("pins", "--high", "2.500V", "--low", "2.500V", "--layer", "high-speed")
        coarse = self.object("pins", "--high", "2.500V", "--low", "2.500V", "--layer",
                             "high-speed", "--resolution", "10mV")
        self.assertLess(fine["load"]["high"], 0.01)
        self.assertGreater(coarse["load"]["high"], 0.05)

    def test_ohms(self):
        for ohms, state in (("60", "terminated"), ("120 ohm", "one-terminator"),
                            ("40.1", "extra-terminator"), ("0.4", "shorted-together")):
            found = self.object("pins", "--ohms", ohms, "--unpowered")["findings"]
            self.assertEqual([f["state"] for f in found], [state])
        self.assertIn("cannot be trusted", self.output("pins", "--ohms", "60", "--live"))

    def test_a_recording_is_compared(self):
        found = self.object("pins", "--high", "2.62V", "--low", "2.38V", "--load", "22.4%")
        self.assertEqual(found["findings"][-1]["state"], "agrees-with-recording")
        self.assertAlmostEqual(found["predicted_dominant"]["low"], 0.08064)
        found = self.object("pins", "--high", "2.50V", "--low", "2.50V", "--dominant", "12.2%")
        self.assertEqual(found["findings"][-1]["state"], "contradictory")

    def test_the_vehicle_file_knows_the_layer(self):
        with tempfile.NamedTemporaryFile("w", suffix=".yaml") as car:
            car.write("networks:\n"
                      "  comfort: { interfaces: [can0], physical layer: fault-tolerant }\n"
                      "  drive: { interfaces: [can1], physical layer: high-speed }\n")
            car.flush()
            reading = ["pins", "--high", "0V", "--low", "12.4V", "--vehicle", car.name]
            for network, state in (("Comfort", "asleep"), ("drive", "short-to-battery")):
                found = self.object(*reading, "--network", network)["findings"]
                self.assertEqual([f["state"] for f in found], [state])
            self.assertIn("no network `x`", self.complaint(*reading, "--network", "x"))
            self.assertIn("need each other", self.complaint(*reading))

    def test_what_is_wrong_with_the_command_line_is_said(self):
        self.assertIn("no reading is given", self.complaint("pins"))
        self.assertIn("--high: `2.5` is without a unit", self.complaint("pins", "--high", "2.5"))
        self.assertIn("ambiguous", self.complaint("pins", "--high", "2,500V"))
        self.assertIn("exclude each other", self.complaint("pins", "--live", "--unpowered"))
        self.assertIn("`medium`", self.complaint("pins", "--layer", "medium"))
        self.assertIn("between 0 % and 100 %", self.complaint("pins", "--load", "101%"))
        self.assertIn("`x` is not expected", self.complaint("pins", "x"))
        self.assertIn("there is no option `--nothing`", self.complaint("pins", "--nothing"))
        self.assertIn("usage: nodoff pins", self.output("pins", "--help"))


nodoff.main()
