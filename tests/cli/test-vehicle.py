# SPDX-License-Identifier: MIT
import json
import os
import pathlib
import tempfile

import nodoff

CAPTURES = pathlib.Path(__file__).resolve().parent.parent.parent / "captures"
EXAMPLE = str(CAPTURES / "example-vehicle.yaml")
REAL = next((place for up in (1, 2) for place in
             [CAPTURES.parents[up] / "shared" / "real-captures"] if place.is_dir()), None)


MAPS = next((place for up in (1, 2) for place in
             [CAPTURES.parents[up] / "shared" / "open-maps"] if place.is_dir()), None)
DBC = ("BU_: Door\nBO_ 672 Doors: 8 Door\n SG_ Switch : 37|1@1+ (1,0) [0|1] \"\" Door\n"
       "VAL_ 672 Switch 0 \"closed\" 1 \"open\" ;\n")


class Vehicle(nodoff.Command):
    def test_a_dbc_file_becomes_a_vehicle_file(self):
        out = self.output("vehicle", "import", "-", text=DBC)
        self.assertEqual(out, "modules:\n  Door:\n    ids: [2A0]\nmessages:\n  Doors:\n    id: 2A0\n"
                              "    length: 8\n    signals:\n      Switch: { at: byte 4 bit 5, "
                              "values: { 0: closed, 1: open } }\n")
        self.assertIn("1 module, 1 entry of IDs, 1 message, 1 signal", self.checked(out).stdout)
        out = self.output("vehicle", "import", "-n", "body", "-i", "can1", "-", text=DBC)
        self.assertIn("networks:\n  body:\n    interfaces: [can1]\n", out)
        self.assertIn("1 network, 0 fuses, 1 module", self.checked(out).stdout)

    def test_a_dbc_file_is_added_to_what_a_person_wrote(self):
        with tempfile.TemporaryDirectory() as directory:
            path = os.path.join(directory, "car.yaml")
            pathlib.Path(path).write_text("# mine\nnetworks:\n  body: { interfaces: can0 } # left\n")
            out = self.run_command("vehicle", "import", "-n", "body", "--into", path, "-", text=DBC).stdout
            self.assertEqual(out, f"{path}: added 0 networks, 1 module, 1 message, 0 IDs to modules "
                                  "that were there\n")
            text = pathlib.Path(path).read_text()
            self.assertTrue(text.startswith("# mine\nnetworks:\n  body: { interfaces: can0 } # left\n"
                                            "modules:\n  Door:\n    networks: [body]\n"), text)
            again = self.run_command("vehicle", "import", "-n", "body", "--into", path, "-", text=DBC)
            self.assertIn("left alone: 1 message", again.stdout)
            self.assertEqual(pathlib.Path(path).read_text(), text)
            pathlib.Path(path).write_text("networks: {\n")
            self.complaint("vehicle", "import", "--into", path, "-", text=DBC, status=4)
            self.assertEqual(pathlib.Path(path).read_text(), "networks: {\n")

    def test_a_wrong_dbc_file_is_refused_with_its_place(self):
        self.assertIn("standard input:1:8: expected the name of a message, found `:`".split(":", 1)[1],
                      self.complaint("vehicle", "import", "-", text="BO_ 672: 8 Door\n", status=4))
        self.assertIn("No such file", self.complaint("vehicle", "import", "/nowhere", status=4))
        self.complaint("vehicle", "import", "-i", "can1", "-", text=DBC, status=2)
        self.complaint("vehicle", "import", status=2)

    def test_open_dbc_files_are_read(self):
        if not MAPS:
            self.skipTest("the files are not here")
        for path in sorted(MAPS.glob("*.dbc")):
            if path.name == "bad_message_length.dbc":
                self.assertIn("bad_message_length.dbc:40:6: signal `Signal1` reaches into byte 1",
                              self.complaint("vehicle", "import", str(path), status=4))
                continue
            self.checked(self.run_command("vehicle", "import", str(path)).stdout)
            self.checked(self.run_command("vehicle", "import", "-n", "body", str(path)).stdout)

    def checked(self, text, **more):
        with tempfile.TemporaryDirectory() as directory:
            path = os.path.join(directory, "car.yaml")
            pathlib.Path(path).write_text(text)
            return self.run_command("vehicle", "check", path, **more)

    def test_the_example_is_good(self):
        out = self.output("vehicle", "check", EXAMPLE)
        self.assertTrue(out.startswith("Hatchback, invented\n3 networks, 3 fuses, 5 modules"), out)
        self.assertIn("  F7                mini 15 A, engine bay: restraint module, body controller\n",
                      out)
        self.assertNotIn("second look", out)

    def test_shipped_vehicles_are_good(self):
        maps = sorted(CAPTURES.glob("*/vehicle.yaml"))
        self.assertGreater(len(maps), 5)
        for path in maps:
            self.output("vehicle", "check", str(path))

    def test_the_first_error_is_named_with_its_place(self):
        done = self.checked("networks:\n  body:\n    sleep within: 5 min\n", status=4)
        self.assertEqual(done.stdout, "")
        self.assertIn("car.yaml:3:5: unknown key `sleep within`; did you mean `sleeps within`?",
                      done.stderr)
        self.assertIn("No such file", self.complaint("vehicle", "check", "/nowhere", status=4))

    def draft(self, *captures, **more):
        out = self.output("vehicle", "draft", *captures, **more)
        self.checked(out)
        return out

    def test_a_draft_passes_the_check(self):
        log = "".join(f"(17000000{n:02d}.000000) can0 {i}#0102\n"
                      for n in range(60) for i in ("100", "101", "7A0"))
        out = self.draft("-", text=log)
        self.assertIn("    - 100       # 2 B    1.0 s                 60 x  01 02\n", out)
        self.assertIn("  group 2 on can0:\n    networks: [can0]\n    ids:\n    - 7A0 ", out)

    def test_shipped_sessions_give_drafts(self):
        logs = sorted(CAPTURES.glob("*/frames.log"))[:8]
        self.assertGreater(len(logs), 3)
        for path in logs:
            self.draft(str(path))

    def test_real_recordings_give_drafts(self):
        if not REAL:
            self.skipTest("the recordings are not here")
        self.assertIn("unit 21 on can1", self.draft(str(REAL / "truck-one-talker.log")))
        out = self.draft(str(REAL / "car-osek-ring.log"))
        for node in ("00", "01", "16", "1E"):
            self.assertIn(f"  node {node} on can1:\n", out)
        out = self.draft(str(REAL / "tester-only.log"))
        self.assertIn("# modules:", out)

    def schemes_drafted(self, path):
        schemes, network = {}, None
        for line in self.draft(path).split("\nmodules:")[0].splitlines():
            if line.startswith("  ") and line[2] not in " #":
                network = line.strip().rstrip(":")
            elif line.startswith("      scheme: "):
                schemes[network] = line.split()[-1]
        return schemes

    def schemes_analysed(self, path):
        out = self.run_command("analyse", "--json", "--no-cars", path).stdout
        networks = json.loads(out)["networks"]
        told = {n["name"]: n["management"] or "none" for n in networks}
        return {name: {"A": "autosar", "O": "osek", "J": "j1939"}[said[0]]
                for name, said in told.items() if "detected" in said}

    def test_a_draft_and_an_answer_find_the_same_management(self):
        paths = [CAPTURES / name / "frames.log" for name in
                 ("nm-alike", "truck-waker", "too-short", "waker-first-frame-missed")]
        paths += [REAL / name for name in ("truck-one-talker.log", "car-osek-ring.log")] if REAL else []
        found = [self.schemes_analysed(str(path)) for path in paths]
        self.assertEqual(found, [self.schemes_drafted(str(path)) for path in paths])
        self.assertEqual(found[0], {})  # nothing but ordinary messages
        self.assertEqual(found[1], {"vcan0": "j1939", "vcan1": "j1939"})

    def test_nothing_to_draft_from(self):
        self.assertIn("no frame in the recording",
                      self.complaint("vehicle", "draft", "-", text="# a: b\n", status=4))

    def test_what_is_wrong_with_the_command_line_is_said(self):
        self.assertIn("say check, draft, learn or import", self.complaint("vehicle"))
        self.assertIn("expected check, draft, learn or import", self.complaint("vehicle", "print"))
        self.assertIn("check takes one file", self.complaint("vehicle", "check"))
        self.assertIn("name at least one capture", self.complaint("vehicle", "draft"))
        self.assertIn("no option `--all`", self.complaint("vehicle", "--all"))
        self.assertIn("usage: nodoff vehicle check", self.output("vehicle", "--help"))

    UNPLUGGED = str(CAPTURES / "unplugged-unknown")

    def test_what_was_unplugged_is_learned(self):
        out = self.output("vehicle", "learn", self.UNPLUGGED)
        self.assertIn("  light module left:\n    networks: [body]\n    ids: [65D]\n", out)
        learned = self.object("vehicle", "learn", self.UNPLUGGED)
        self.assertEqual(learned["recordings"], 1)
        subject, = learned["subjects"]
        self.assertEqual(subject["name"], "light module left")
        first = subject["ids"][0]
        self.assertEqual((first["id"], first["silent"], first["came_back"]), ("65D", 1, 1))
        self.assertGreater(first["confidence"], 0.9)

    def test_recordings_add_up(self):
        once = self.object("vehicle", "learn", self.UNPLUGGED)
        twice = self.object("vehicle", "learn", self.UNPLUGGED, self.UNPLUGGED)
        self.assertEqual(twice["recordings"], 2)
        self.assertGreater(twice["subjects"][0]["ids"][0]["confidence"],
                           once["subjects"][0]["ids"][0]["confidence"])

    def test_the_merged_map_is_good(self):
        merged = self.output("vehicle", "learn", "--merge", self.UNPLUGGED)
        self.assertIn("light module left:", merged)
        self.assertIn("radio:", merged)
        self.checked(merged)

    def test_every_shipped_session_can_be_learned_from(self):
        for path in sorted(CAPTURES.glob("*/journal.log"))[:12]:
            self.output("vehicle", "learn", str(path.parent))
            self.checked(self.run_command("vehicle", "learn", "-m", str(path.parent)).stdout)

    def test_learning_is_told_what_is_wrong(self):
        self.assertIn("at least one session", self.complaint("vehicle", "learn"))
        self.assertIn("--merge", self.complaint("vehicle", "learn", "-m", "-j", "x"))
        self.assertIn("No such file", self.complaint("vehicle", "learn", "/nowhere", status=4))
        self.assertIn("usage: nodoff vehicle learn", self.output("vehicle", "learn", "--help"))


nodoff.main()
