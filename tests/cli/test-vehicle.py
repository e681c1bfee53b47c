import os
import pathlib
import tempfile

import nodoff

CAPTURES = pathlib.Path(__file__).parent.parent.parent / "captures"
EXAMPLE = str(CAPTURES / "example-vehicle.yaml")
REAL = next((place for up in (1, 2) for place in
             [CAPTURES.parents[up] / "shared" / "real-captures"] if place.is_dir()), None)


class Vehicle(nodoff.Command):
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

    def test_nothing_to_draft_from(self):
        self.assertIn("no frame in the recording",
                      self.complaint("vehicle", "draft", "-", text="# a: b\n", status=4))

    def test_what_is_wrong_with_the_command_line_is_said(self):
        self.assertIn("say check, draft or learn", self.complaint("vehicle"))
        self.assertIn("expected check, draft or learn", self.complaint("vehicle", "print"))
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
