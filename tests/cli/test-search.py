# SPDX-License-Identifier: MIT
import os
import pathlib
import tempfile

import nodoff

CAPTURES = pathlib.Path(__file__).parent.parent.parent / "captures"
WAKER = str(CAPTURES / "repeated-waker")
UNPLUGGED = str(CAPTURES / "unplugged-unknown")
TOUCHED = str(CAPTURES / "stuck-input")


class Wakeups(nodoff.Command):
    def test_all_are_those_of_the_analysis(self):
        found = self.object("analyse", WAKER)["wakes"]
        listed = self.object("wakeups", WAKER)
        self.assertEqual(listed["wakeups"], len(found))
        self.assertEqual([w["time"] for w in listed["shown"]], [w["time"] for w in found])
        self.assertIn(f"{len(found)} of {len(found)} wake-ups\n", self.output("wakeups", WAKER))

    def test_they_can_be_asked_for(self):
        every = self.object("wakeups", WAKER)["shown"]
        self.assertGreater(len(every), 1)
        one = every[1]
        by = self.object("wakeups", WAKER, "--by", one["id"])["shown"]
        self.assertEqual(by, [w for w in every if w["id"] == one["id"]])
        sender = self.object("wakeups", WAKER, "--by", one["sender"].upper())["shown"]
        self.assertEqual(sender, [w for w in every if w["sender"] == one["sender"]])
        on = self.object("wakeups", WAKER, "--network", one["network"])["shown"]
        self.assertEqual(on, [w for w in every if w["network"] == one["network"]])
        late = self.object("wakeups", WAKER, "--after", one["time"])["shown"]
        self.assertEqual(late, every[1:])
        early = self.object("wakeups", WAKER, "--before", one["time"])["shown"]
        self.assertEqual(early, every[:1])
        self.assertEqual(self.object("wakeups", WAKER, "--after", "end")["shown"], [])
        self.assertIn(f"0 of {len(every)} wake-ups",
                      self.output("wakeups", WAKER, "--by", "nobody"))

    def test_what_is_wrong_is_said(self):
        self.assertIn("no capture", self.complaint("wakeups"))
        self.assertIn("no network `moon`", self.complaint("wakeups", WAKER, "-n", "moon"))
        self.assertIn("--after", self.complaint("wakeups", WAKER, "-a", "yesterday"))
        self.assertIn("usage: nodoff wakeups", self.output("wakeups", "--help"))


SIGNALS = """messages:
  Lever:
    id: 418
    networks: [drive]
    signals:
      ParkSwitch: { at: byte 4 bit 5, values: { 0: not in P, 1: in P } }
      Position: { at: byte 4 bit 0, bits: 5, factor: 0.5, unit: deg }
"""


class Signals(nodoff.Command):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.map = os.path.join(self.folder.name, "car.yaml")
        text = (pathlib.Path(TOUCHED) / "vehicle.yaml").read_text()
        pathlib.Path(self.map).write_text(text + SIGNALS)
        self.addCleanup(self.folder.cleanup)

    def full(self):
        """What makes the answer tell all it has, where it may be a short one."""
        return ["--full"] if "--full" in self.output("analyse", "--help") else []

    def test_what_a_signal_said(self):
        signal, = self.object("history", "-v", self.map, "-s", "parkswitch", TOUCHED)["signals"]
        self.assertEqual((signal["message"], signal["id"], signal["network"]), ("Lever", "418", "drive"))
        ident, = self.object("history", TOUCHED, "418")["ids"]
        self.assertEqual(signal["frames"], ident["frames"])
        self.assertEqual([v["text"] for v in signal["values"]],
                         ["in P" if n % 2 == 0 else "not in P" for n in range(7)])
        self.assertEqual(signal["values"][-1]["time"], ident["last_change"])
        out = self.output("history", "-v", self.map, "-s", "ParkSwitch", TOUCHED)
        self.assertTrue(out.startswith("ParkSwitch of Lever (418 on drive)\n"), out)
        self.assertIn("  not in P\n", out)

    def test_bits_have_their_names(self):
        out = self.output("analyse", *self.full(), "-v", self.map, TOUCHED)
        text = " ".join(out.split())
        self.assertIn("ParkSwitch went in P → not in P (418)", text)
        self.assertIn("its ParkSwitch (418) moves", text)
        self.assertNotIn("byte 4 bit 5", text)
        touched = self.object("analyse", "-v", self.map, TOUCHED)["touched"][0]
        self.assertEqual([touched[k] for k in ("signal", "from", "to")], ["ParkSwitch", "in P", "not in P"])
        self.assertIn("changed: ParkSwitch;", self.output("history", "-v", self.map, TOUCHED, "418"))
        self.assertIn("418 byte 4 bit 5 went 1 → 0",
                      " ".join(self.output("analyse", *self.full(), TOUCHED).split()))

    def test_a_signal_is_proposed_for_what_was_touched(self):
        out = self.output("vehicle", "learn", TOUCHED)
        self.assertTrue(out.endswith("messages:\n  message 418:\n    id: 418\n    networks: [drive]\n"
                                     "    signals:\n      park position switch: { at: byte 4 bit 5 }\n"), out)
        out = self.output("vehicle", "learn", "-v", self.map, TOUCHED)
        self.assertIn("park position switch: ParkSwitch (418 byte 4 bit 5)", " ".join(out.split()))
        self.assertNotIn("messages:", out)

    def test_what_is_wrong_is_said(self):
        self.assertIn("did you mean `ParkSwitch`?",
                      self.complaint("history", "-v", self.map, "-s", "ParkSwitc", TOUCHED))
        self.assertIn("the vehicle file has no messages", self.complaint("history", "-s", "x", TOUCHED))
        self.complaint("history", "-v", self.map, "-s", "ParkSwitch", TOUCHED, "418")


class History(nodoff.Command):
    def test_an_id_is_heard_silent_and_heard_again(self):
        first, = self.object("history", UNPLUGGED, "65D")["ids"]
        self.assertEqual((first["id"], first["network"], len(first["heard"])), ("65D", "body", 2))
        self.assertEqual(sum(s["frames"] for s in first["heard"]), first["frames"])
        self.assertEqual(first["heard"][0]["from"], first["first"])
        self.assertEqual(first["heard"][1]["to"], first["last"])
        silent = float(first["heard"][1]["from"]) - float(first["heard"][0]["to"])
        self.assertTrue(20 < silent < 30, silent)
        out = self.output("history", UNPLUGGED, "65D")
        self.assertTrue(out.startswith("65D on body, ID 65D (not in the map)\n"), out)

    def test_a_module_has_all_its_ids(self):
        ids = self.object("history", UNPLUGGED, "Trailer Module")["ids"]
        self.assertEqual({i["id"] for i in ids}, {"478", "0B0", "507"})

    def test_without_a_name_all_are_listed(self):
        every = self.object("analyse", UNPLUGGED)["ids"]
        self.assertEqual(len(self.object("history", UNPLUGGED)["ids"]), len(every))
        self.assertEqual(len(self.output("history", UNPLUGGED).splitlines()), len(every) + 1)
        body = self.object("history", UNPLUGGED, "--network", "body")["ids"]
        self.assertEqual(len(body), len([i for i in every if i["network"] == "body"]))

    def test_changed_bits_are_told(self):
        first, = self.object("history", TOUCHED, "418")["ids"]
        self.assertIn({"byte": 4, "bit": 5}, first["changed"])
        self.assertIn("byte 4 bit 5", self.output("history", TOUCHED, "418"))

    def test_what_is_not_there_is_said(self):
        self.assertEqual(self.output("history", UNPLUGGED, "7FE"), "7FE: not heard\n")
        self.assertIn("no session", self.complaint("history"))
        self.assertIn("no network `moon`", self.complaint("history", UNPLUGGED, "-n", "moon"))
        self.assertIn("usage: nodoff history", self.output("history", "--help"))


nodoff.main()
