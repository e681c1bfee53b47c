# SPDX-License-Identifier: MIT
"""What every command does with its options: one walker serves them all."""
import os

import nodoff

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
HEALTHY = os.path.join(ROOT, "captures", "healthy")


class Options(nodoff.Command):
    COMMANDS = ["analyse", "record", "live", "mark", "wait", "vehicle", "vehicle learn", "timeline", "wakeups",
                "history", "report", "compare", "session", "session make", "session show", "session mark",
                "session cut", "session join", "bitrate", "frames", "current", "current show", "current import", "fuses", "pins",
                "battery", "gate"]

    def test_every_command_has_help(self):
        for command in self.COMMANDS:
            with self.subTest(command):
                self.assertIn("usage: nodoff " + command.split()[0],
                              self.output(*command.split(), "--help"))

    def test_a_slip_of_the_hand_is_recognised(self):
        self.assertIn("there is no option `--vehikle`; did you mean --vehicle?",
                      self.complaint("analyse", "--vehikle", "car.yaml"))
        self.assertIn("there is no option `--zzz`\n", self.complaint("analyse", "--zzz"))
        self.assertIn("there is no option `-Q`", self.complaint("compare", "-Q"))

    def test_a_value_that_lacks_or_is_too_much(self):
        self.assertIn("`--vehicle` lacks its value", self.complaint("history", "--vehicle"))
        self.assertIn("`-v` lacks its value", self.complaint("report", "-v"))
        self.assertIn("--json takes no value", self.complaint("wakeups", "--json=yes"))

    def test_an_option_may_be_shortened_and_stand_anywhere(self):
        self.assertEqual(self.output("battery", "--rest", "12.45V"), self.output("battery", "--rest=12.45V"))
        self.assertIn('"nodoff"', self.run_command("analyse", HEALTHY, "--js").stdout)

    def test_help_on_a_command(self):
        for command in self.COMMANDS:
            self.assertEqual(self.output("help", *command.split()), self.output(*command.split(), "--help"))
        self.assertEqual(self.output("help", "mark", "note"), self.output("mark", "--help"))

    def test_a_command_that_is_none(self):
        said = self.complaint("analyze")
        self.assertIn("there is no command `analyze`; did you mean `analyse`?", said)
        self.assertEqual(len(said.splitlines()), 2) # the error stays on the screen
        self.assertIn("there is no command `qqqqq`\n", self.complaint("help", "qqqqq"))


if __name__ == "__main__":
    nodoff.main()
