# SPDX-License-Identifier: MIT
"""What nodoff must say of recordings from real vehicles, without and with
a vehicle file. The recordings lie beside the project and are not part of it;
without them the test is skipped. Arguments: nodoff, their folder."""
import os
import sys

FOLDER = sys.argv[2]
if not os.path.isdir(FOLDER):
    print("skipped: the recordings from real vehicles are not here")
    sys.exit(77)

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "cli"))
import nodoff  # noqa: E402  (needs the path above)

HERE = os.path.dirname(os.path.abspath(__file__))


def ms(text):
    """Decimal seconds to whole milliseconds, cut."""
    seconds, _, fraction = text.partition(".")
    return int(seconds) * 1000 + int(fraction[:3].ljust(3, "0"))


class Recording(nodoff.Command):
    capture = vehicle = None

    def analyse(self, *arguments, with_map):
        options = ["--vehicle", os.path.join(HERE, self.vehicle)] if with_map else []
        return [*options, *arguments, os.path.join(FOLDER, self.capture)]

    def found(self, with_map):
        return self.object("analyse", *self.analyse(with_map=with_map))

    def said(self, with_map):
        """The text with its line breaks taken out."""
        return " ".join(self.output("analyse", "--full", *self.analyse(with_map=with_map)).split())


class Truck(Recording):
    """One source address alone holds the network, lets go, and wakes it twice."""
    capture, vehicle = "truck-one-talker.log", "truck.yaml"
    NAMES = {False: "source address 21h", True: "cab lighting unit"}
    VERDICTS = {False: "woken again", True: "kept awake"}  # its deadline: 40 min, 4 min

    def test_the_sleeps_and_wake_ups_to_the_millisecond(self):
        for with_map, name in self.NAMES.items():
            found = self.found(with_map)
            start = ms(found["recording"]["start"])
            (network,) = found["networks"]
            spans = [(ms(s["from"]) - start, ms(s["to"]) - start, s["open"], s["slept_before"])
                     for s in network["spans"]]
            self.assertEqual([s[2:] for s in spans], [(False, False), (False, True), (True, True)])
            for expected, value in zip(
                    (0, 353768, 2978345, 3075151, 3189875),
                    (spans[0][0], spans[0][1], spans[1][0], spans[1][1], spans[2][0])):
                self.assertAlmostEqual(value, expected, delta=1)
            self.assertAlmostEqual(spans[1][0] - spans[0][1], 2624578, delta=1)
            self.assertAlmostEqual(spans[2][0] - spans[1][1], 114724, delta=1)
            self.assertEqual(network["wakes"], 2)
            self.assertEqual([(w["id"], w["sender"], w["cause"]) for w in found["wakes"]],
                             [("18FEF121", name, None)] * 2)

    def test_who_was_alone_and_since_when(self):
        for with_map, name in self.NAMES.items():
            found = self.found(with_map)
            spans = found["networks"][0]["spans"]
            self.assertEqual([s["alone"] for s in spans], [name] * 3)
            alone = ms(spans[0]["alone_from"]) - ms(found["recording"]["start"])
            self.assertTrue(53000 < alone < 55000, alone)  # the others talk until about 54 s
            said = self.said(with_map)
            self.assertIn(f"{name} alone kept {found['networks'][0]['name']} awake from "
                          "19:56:11 (53.7 s after start) to 20:01:11 (5 min 00 s)", said)
            self.assertIn("353.768", said)
            self.assertIn("2624.578", said)
            self.assertIn("114.724", said)
            for time in ("20:44:55 (49 min 38 s", "20:48:27 (53 min 10 s"):
                self.assertIn(f"woken at {time} after start) by {name} (first frame 18FEF121)", said)

    def test_it_is_named_and_surely(self):
        for with_map, name in self.NAMES.items():
            found = self.found(with_map)
            self.assertEqual(found["verdict"], self.VERDICTS[with_map])
            self.assertEqual(found["culprits"], [name])
            self.assertGreaterEqual(found["suspects"][0]["probability"], 0.7)
            self.assertEqual(sorted(found["suspects"][0]["ids"]), ["18FEF121", "18FEF721", "18FEFA21"])
            self.assertEqual(found["suspects"][0]["in_map"], with_map)
            self.assertTrue(found["sentence"].startswith(name), found["sentence"])
            self.assertEqual(found["lock"]["source"], "start of the recording")
        self.assertEqual(found["tests"][0]["fuse"], "F3")


class Ring(Recording):
    """Three nodes of a ring never give the sleep indication, one does."""
    capture, vehicle = "car-osek-ring.log", "ring.yaml"

    def test_who_asks_for_the_network_and_who_does_not(self):
        self.assertIn("OSEK ring on can1: 400, 401, 416 never gave the sleep indication, which "
                      "holds it awake; 41E did (ready to sleep).", self.said(False))
        self.assertIn("OSEK ring on body: body unit A (400), body unit B (401), body unit C (416) "
                      "never gave the sleep indication, which holds it awake; body unit D (41E) did "
                      "(ready to sleep).", self.said(True))

    def test_without_a_map_28_seconds_do_not_convict(self):
        found = self.found(False)
        self.assertEqual((found["verdict"], found["culprits"]), ("cannot tell", []))
        self.assertGreater(found["record_longer"], 2300)  # 40 min less 27.7 s
        management = {n["name"]: n["management"] for n in found["networks"]}
        self.assertIn("OSEK", management["can1"])

    def test_with_a_map_the_three_are_suspected_and_the_fourth_is_not(self):
        found = self.found(True)
        self.assertEqual(found["verdict"], "kept awake")
        three, others = found["suspects"][:3], found["suspects"][3:]
        self.assertEqual(sorted(s["name"] for s in three),
                         ["body unit A", "body unit B", "body unit C"])
        self.assertEqual({s["role"] for s in three}, {"holder"})
        self.assertEqual(len({s["probability"] for s in three}), 1)  # nothing tells them apart
        self.assertGreater(three[0]["probability"], 5 * others[0]["probability"])
        self.assertLessEqual(set(found["culprits"]), {s["name"] for s in three})
        for ready in (s for s in others if s["name"] == "body unit D"):
            self.assertLess(ready["probability"], 0.05)

    def test_its_backward_steps_neither_stop_it_nor_pass_as_clock_steps(self):
        found = self.found(False)
        self.assertEqual(found["recording"]["frames"], 14294)
        self.assertEqual(found["recording"]["clock_steps"], 0)


class Tester(Recording):
    """Nothing but a scan tool and what answers it."""
    capture, vehicle = "tester-only.log", "tester.yaml"

    def test_the_tester_is_our_own_doing(self):
        for with_map in (False, True):
            found = self.found(with_map)
            self.assertEqual(found["verdict"], "cannot tell")
            self.assertTrue(found["sentence"].endswith(
                "The traffic is the tester itself, not a fault of the car."), found["sentence"])
            first = found["suspects"][0]
            self.assertEqual((first["kind"], first["role"]), ("tester", "tester"))
            self.assertEqual({i["sender"] for i in found["ids"]}, {"a diagnostic tester"})
            self.assertFalse([s for s in found["suspects"]
                              if s["kind"] in ("module", "id", "node", "source address")])
            self.assertIn("Disconnect the tester", found["next"])

    def test_its_longest_pause_is_in_the_spans(self):
        spans = self.found(False)["networks"][0]["spans"]
        pauses = [ms(b["from"]) - ms(a["to"]) for a, b in zip(spans, spans[1:])]
        self.assertAlmostEqual(max(pauses), 74800, delta=50)


class SwitchedOn(Recording):
    """The driver switches power off, on, ready and off, all within eleven seconds."""
    capture = "car-switched-off-and-on.log.gz"

    def test_a_car_in_use_is_not_told_to_stay_locked(self):
        found = self.found(False)
        self.assertEqual((found["verdict"], found["culprits"]), ("cannot tell", []))
        self.assertIn("The car is in use up to the end", found["sentence"])
        self.assertNotIn("Leave the car locked", found["next"])


nodoff.main()
