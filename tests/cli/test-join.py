# SPDX-License-Identifier: MIT
"""Two recordings of one car by two machines, laid beside each other in time."""
import os
import random
import tempfile

import nodoff

START = 1700000000


class Car:
    """Two networks for half an hour: cyclic messages with counters, states that change now and
    then, and a gateway that passes two of them on, one under an ID of its own."""

    def __init__(self, seed=1, seconds=1800):
        chance = random.Random(seed)
        self.frames = [] # (seconds, network, "ID#DATA")
        for number in range(12):
            network, cycle = ("body", "drive")[number % 2], chance.uniform(0.2, 0.6)
            at, count = chance.random(), 0
            while at < seconds:
                self.frames.append((at, network, f"{0x100 + number:03X}#{count % 16:02X}{number:02X}"))
                at, count = at + cycle * chance.uniform(0.98, 1.02), count + 1
        for number in range(40): # states
            at = chance.uniform(0, seconds)
            data = bytes(chance.randrange(256) for _ in range(8)).hex().upper()
            source, other = (0x300, 0x300) if number % 2 else (0x310, 0x320)
            self.frames.append((at, "body", f"{source:03X}#{data}"))
            self.frames.append((at + 0.002, "drive", f"{other:03X}#{data}"))
        self.frames.sort()


class Join(nodoff.Command):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.addCleanup(self.directory.cleanup)

    def path(self, name):
        return os.path.join(self.directory.name, name)

    def record(self, name, frames, interfaces, ahead=0.0, ppm=0.0, keep=lambda at: True, journal=()):
        """A session of what an adapter at each network hears, by a clock of its own."""
        os.mkdir(self.path(name))

        def shown(at):
            return f"({START + at + ahead + at * ppm / 1e6:.6f})"
        with open(self.path(name) + "/frames.log", "w", encoding="utf-8") as file:
            file.writelines(f"{shown(at)} {interfaces[network]} {frame}\n"
                            for at, network, frame in frames if network in interfaces and keep(at))
        with open(self.path(name) + "/journal.log", "w", encoding="utf-8") as file:
            file.writelines(f"{shown(at)} {entry}\n" for at, entry in journal)
        return self.path(name)

    def join(self, a, b, *options, status=0):
        return self.object("session", "join", a, b, *options, status=status)

    def test_by_what_a_gateway_passes_on(self):
        car = Car()
        a = self.record("a", car.frames, {"body": "can0"})
        b = self.record("b", car.frames, {"drive": "can0"}, ahead=187.25, ppm=40)
        found = self.join(a, b)
        self.assertEqual(found["tied_by"], "frames")
        middle = float(found["offset_at"]) - START - 187.25
        self.assertAlmostEqual(float(found["offset"]), 187.25 + middle * 40e-6, delta=found["unsure"])
        self.assertLess(found["unsure"], 0.02)
        self.assertAlmostEqual(found["drift_ppm"], 40, delta=max(found["drift_unsure_ppm"], 0.5))
        out = self.output("session", "join", a, b)
        self.assertIn("The clock of B is 187.2", out)
        self.assertIn("s ahead of that of A", out)
        self.assertIn("behind that of A", self.output("session", "join", b, a))

    def test_one_session_of_both(self):
        car = Car()
        a = self.record("a", car.frames, {"body": "can0"}, journal=[(1, "locked"), (700, "door")])
        b = self.record("b", car.frames, {"drive": "can0"}, ahead=-95,
                        keep=lambda at: 300 < at < 1500, journal=[(703, "door"), (800, "isolated F12")])
        made = self.join(a, b, "--into", self.path("both"))["made"]
        shown = self.object("session", "show", self.path("both"))
        self.assertEqual(made["frames"], shown["frames"])
        self.assertEqual([i["name"] for i in shown["interfaces"]], ["can0", "can0-2"])
        kinds = [(m["kind"], m["subject"]) for m in shown["journal"]]
        self.assertEqual([k for k in kinds if k[0] in ("locked", "door", "isolated")],
                         [("locked", ""), ("door", ""), ("isolated", "F12")])
        self.assertEqual(sum(k[0] == "gap" and k[1].startswith("can0-2 ") for k in kinds), 2)
        # each network's frames, at the times of A's clock
        frames = self.run_command("frames", *[os.path.join(self.path("both"), name) for name in
                                              os.listdir(self.path("both")) if "frames" in name]).stdout
        there = [line.split() for line in frames.splitlines() if " can0-2 " in line]
        here = [(at, frame) for at, network, frame in car.frames
                if network == "drive" and 300 < at < 1500]
        self.assertEqual(len(there), len(here))
        for (time, _, frame), (at, expected) in zip(there, here):
            self.assertEqual(frame, expected)
            self.assertAlmostEqual(float(time[1:-1]), START + at, delta=0.02)

    def test_a_network_of_both_becomes_one(self):
        car, chance = Car(), random.Random(5)
        body = [frame for frame in car.frames if frame[1] == "body"]
        lost = {at for at, _, _ in body if 600 < at < 660}
        a = self.record("a", car.frames, {"body": "can0"}, keep=lambda at: at not in lost,
                        journal=[(660, "gap can0 60 s")])
        dropped = {at for at, _, _ in body if chance.random() < 0.05} - lost
        b = self.record("b", car.frames, {"body": "can3"}, ahead=187.25, ppm=20,
                        keep=lambda at: at not in dropped)
        made = self.join(a, b, "--into", self.path("both"))["made"]
        self.assertEqual(made["networks_of_both"], 1)
        self.assertEqual(made["frames"], len(body))
        self.assertEqual(made["frames_only_second"], len(lost))
        # a frame that b dropped before its first or after its last is not counted
        self.assertAlmostEqual(made["frames_only_first"], len(dropped), delta=3)
        self.assertEqual(made["frames_of_both"], len(body) - len(lost) - len(dropped))
        shown = self.object("session", "show", self.path("both"))
        self.assertEqual([i["name"] for i in shown["interfaces"]], ["can0"])
        self.assertNotIn("gap", [mark["kind"] for mark in shown["journal"]])
        self.assertGreaterEqual(made["filled"], 1)

    def test_by_networks_that_wake_together(self):
        wakes = [7, 130, 200, 390, 700, 1100, 1210, 1600]
        frames = [(at + k / 10, network, f"{number}#00") for at in wakes for k in range(30)
                  for network, number in (("body", "2A0"), ("drive", "3B0"))]
        a = self.record("a", frames, {"body": "can0"})
        b = self.record("b", frames, {"drive": "can0"}, ahead=61)
        found = self.join(a, b)
        self.assertEqual(found["tied_by"], "wake-ups")
        self.assertAlmostEqual(float(found["offset"]), 61, delta=1)
        self.assertIsNone(found["drift_ppm"])
        regular = [(at, network, f"{number}#00") for at in range(0, 1800, 60)
                   for network, number in (("body", "2A0"), ("drive", "3B0"))]
        c = self.record("c", regular, {"body": "can0"})
        d = self.record("d", regular, {"drive": "can0"}, ahead=61)
        self.assertIsNone(self.join(c, d, status=1)["offset"])

    def test_by_both_journals(self):
        entries = [(100, "locked"), (400, "isolated F12"), (900, "refitted F12")]
        quiet = [(at, "body", "2A0#00") for at in range(0, 1000, 1)]
        a = self.record("a", quiet, {"body": "can0"}, journal=entries)
        b = self.record("b", [(at, "drive", "3B0#00") for at, _, _ in quiet], {"drive": "can0"},
                        ahead=420, journal=[(at + 2, entry) for at, entry in entries])
        found = self.join(a, b)
        self.assertEqual(found["tied_by"], "journal")
        self.assertAlmostEqual(float(found["offset"]), 422, delta=0.01)
        self.assertEqual(found["unsure"], 10)
        one = self.record("one", quiet, {"body": "can0"}, journal=entries[:1])
        self.assertEqual(self.join(one, b, status=1)["tied_by"], "none")

    def test_refuses_when_nothing_ties_them(self):
        a = self.record("a", Car(1).frames, {"body": "can0"})
        b = self.record("b", Car(2).frames, {"drive": "can0"}, ahead=30)
        found = self.join(a, b, "--into", self.path("both"), status=1)
        self.assertEqual((found["tied_by"], found["offset"], found["made"]), ("none", None, None))
        self.assertFalse(os.path.exists(self.path("both")))
        out = self.run_command("session", "join", a, b, status=1).stdout
        self.assertIn("Nothing ties them", out)
        self.assertIn("What would: ", out)

    def test_refuses_what_is_alike_on_two_evenings(self):
        """The same states in the same order, but not at the same moments."""
        chance, states = random.Random(3), [f"300#{n * 7919:016X}" for n in range(1, 40)]
        evenings = [[(20 * n + chance.uniform(0, 0.8), "body", state) for n, state in enumerate(states)]
                    for _ in range(2)]
        a, b = (self.record(name, frames, {"body": "can0"}) for name, frames in zip("ab", evenings))
        self.assertEqual(self.join(a, b, status=1)["tied_by"], "none")

    def test_refuses_a_clock_that_was_set(self):
        car = Car(seconds=60)
        a = self.record("a", car.frames, {"body": "can0"})
        b = self.record("b", car.frames, {"body": "can0"}, journal=[(30, "clock step +5 s")])
        said = self.complaint("session", "join", a, b, status=4)
        self.assertIn("its clock was set while it recorded", said)

    def one_log(self, name, behind):
        """A log in the order in which frames came, the stamps of can1 behind those of can0."""
        chance, at = random.Random(4), START
        with open(self.path(name), "w", encoding="utf-8") as log:
            for _ in range(4000):
                at += chance.random() * 0.02
                n = chance.randrange(2)
                log.write(f"({at - behind * n:.6f}) can{n} {256 + 16 * n + chance.randrange(6):03X}#11\n")
        return self.path(name), at - START

    def test_interfaces_of_one_log_with_clocks_of_their_own(self):
        for behind, names in ((3.2, "can1"), (-3.2, "can0")):
            log, length = self.one_log(f"{behind}.log", behind)
            answer = self.object("analyse", log)
            said = [text for text in answer["doubts"] if text.startswith("The clock of")]
            self.assertEqual(said, [f"The clock of {names} is 3.2 s behind that of the others; its "
                                    "times are moved by that."])
            self.assertEqual(answer["recording"]["clock_steps"], 0)
            took = float(answer["recording"]["end"]) - float(answer["recording"]["start"])
            self.assertAlmostEqual(took, length + max(0, -behind), delta=0.2)
        log, _ = self.one_log("alike.log", 0.01)
        self.assertNotIn("The clock of", " ".join(self.object("analyse", log)["doubts"]))

    def test_a_clock_that_was_set_is_one_for_all_interfaces(self):
        with open(self.path("set.log"), "w", encoding="utf-8") as log:
            for i in range(2000):
                at = START + i / 10 - (60 if i > 1000 else 0)
                log.write(f"({at:.6f}) can{i % 2} {100 + i % 2}#11\n")
        answer = self.object("analyse", self.path("set.log"))
        self.assertEqual(answer["recording"]["clock_steps"], 1)
        self.assertNotIn("The clock of", " ".join(answer["doubts"]))

    def test_usage(self):
        self.assertIn("name two sessions", self.complaint("session", "join", "a"))
        self.assertIn("--title belongs to --into", self.complaint("session", "join", "--title", "x", "a", "b"))
        a = self.record("a", Car(seconds=300).frames, {"body": "can0"})
        os.mkdir(self.path("there"))
        said = self.complaint("session", "join", a, a, "--into", self.path("there"), status=4)
        self.assertIn("there", said)


nodoff.main()
