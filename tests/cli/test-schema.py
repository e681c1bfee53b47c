# SPDX-License-Identifier: MIT
"""What the commands print as JSON is what cli/schema says: no member is missing, none is of
another type, and none is there that the schema does not name."""
import copy
import glob
import json
import os
import shutil
import subprocess
import sys
import tempfile
import unittest.mock


import nodoff
import page_rig

try:
    import jsonschema
except ImportError:
    print("jsonschema is missing")
    sys.exit(77)

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
SCHEMA = os.path.join(ROOT, "cli", "schema")
SESSIONS = sorted(os.path.dirname(path) for path in glob.glob(f"{ROOT}/captures/*/expect.txt"))
MAP = """messages:
  M:
    id: 303
    length: 8
    signals:
      Sw: { at: byte 0 bit 0, values: {0: off, 1: on} }
      T: { at: byte 1 bit 0, bits: 8, unit: V, factor: 0.5 }
"""


def closed(schema):
    """The same, with no room for what it does not name."""
    if isinstance(schema, list):
        return [closed(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    tight = {key: closed(value) for key, value in schema.items()}
    if isinstance(tight.get("properties"), dict) and "type" in tight:
        tight.setdefault("additionalProperties", False)
    return tight


class Schema(nodoff.Command):
    @classmethod
    def setUpClass(cls):
        cls.validators = {}
        for path in glob.glob(f"{SCHEMA}/*.json"):
            with open(path, encoding="utf-8") as file:
                schema = json.load(file)
            jsonschema.Draft202012Validator.check_schema(schema)
            name = os.path.basename(path)[:-len(".json")]
            cls.validators[name] = jsonschema.Draft202012Validator(closed(copy.deepcopy(schema)))

    def check(self, name, *objects):
        self.assertTrue(objects)
        for value in objects:
            fault = jsonschema.exceptions.best_match(self.validators[name].iter_errors(value))
            self.assertIsNone(fault, f"{name}: {fault and (list(fault.absolute_path), fault.message)}")

    def one(self, name, *arguments):
        self.check(name, json.loads(self.output_of(*arguments)))

    def lines(self, name, *arguments, **more):
        self.check(name, *map(json.loads, self.output_of(*arguments, **more).splitlines()))

    def output_of(self, *arguments, status=0):
        done = subprocess.run([*nodoff.WRAPPER, nodoff.PROGRAM, *arguments, "--json"],
                              capture_output=True, text=True, timeout=nodoff.PATIENCE)
        self.assertEqual(done.returncode, status, done.stderr)
        return done.stdout

    def test_each_is_named_and_of_this_version(self):
        for name, validator in self.validators.items():
            self.assertEqual(validator.schema["$id"], f"urn:nodoff:json:1:{name}")
            self.assertIn('"const": 1', json.dumps(validator.schema))
            self.assertTrue(validator.schema["description"])

    def test_a_closed_schema_finds_what_is_wrong(self):
        wait = {"nodoff": 1, "time_ns": 1, "network": "a", "event": "wake", "text": "woke up"}
        self.check("wait", wait)
        for wrong in ({"nodoff": 2}, {"time_ns": "1"}, {"new": 1}, {"network": None}):
            self.assertFalse(self.validators["wait"].is_valid({**wait, **wrong}))
        del wait["network"]
        self.assertFalse(self.validators["wait"].is_valid(wait))

    def test_sessions(self):
        for session in SESSIONS:
            with self.subTest(session=os.path.basename(session)):
                self.one("analyse", "analyse", session)
                self.one("timeline", "timeline", session)
                self.one("session-show", "session", "show", session)
                self.one("wakeups", "wakeups", session)
                self.one("vehicle-learn", "vehicle", "learn", session)
                if os.path.exists(f"{session}/current.log"):
                    self.one("current-show", "current", "show", session)

    def test_two_sessions(self):
        healthy = f"{ROOT}/captures/healthy"
        for session in SESSIONS[::4]:
            with self.subTest(session=os.path.basename(session)):
                self.one("compare", "compare", session, healthy)
                self.one("analyse", "analyse", session, "--good", healthy)

    def test_other_recordings(self):
        """One car that was solved, and another like it."""
        with tempfile.TemporaryDirectory() as scratch:
            for name, session, vin, note in (("held", "holder-osek", 4711, "replaced parking brake unit"),
                                             ("well", "holder-osek-repaired", 4711, "all well"),
                                             ("now", "holder-osek", 8155, "again")):
                shutil.copytree(f"{ROOT}/captures/{session}", f"{scratch}/{name}")
                with open(f"{scratch}/{name}/session.txt", "w", encoding="ascii") as about:
                    about.write(f"vin: ZZZAB12C0XK00{vin}\n")
                with open(f"{scratch}/{name}/journal.log", "a", encoding="ascii") as journal:
                    journal.write(f"(1800000000.000000) note {note}\n")
            with unittest.mock.patch.dict(os.environ, XDG_CACHE_HOME=f"{scratch}/cache"):
                answer = json.loads(self.output_of("analyse", "--cars", scratch, f"{scratch}/now"))
            self.assertEqual(answer["known"]["senders"], [{"name": "parking brake unit", "cars": 1}])
            self.check("analyse", answer)

    def test_join(self):
        with tempfile.TemporaryDirectory() as scratch:
            healthy = f"{ROOT}/captures/healthy"
            self.one("session-join", "session", "join", healthy, healthy, "--into", scratch + "/new")
            self.check("session-join", json.loads(self.output_of(
                "session", "join", healthy, f"{ROOT}/captures/tester-left", status=1)))

    def test_history_and_frames(self):
        with tempfile.NamedTemporaryFile("w", suffix=".yaml") as vehicle:
            vehicle.write(MAP)
            vehicle.flush()
            self.one("history", "history", f"{ROOT}/captures/tester-left", "--vehicle", vehicle.name,
                     "--signal", "Sw", "--signal", "T")
        self.one("history", "history", f"{ROOT}/captures/tester-left", "303")
        for name in ("frames-lost", "tester-left", "error-storm"):
            frames = glob.glob(f"{ROOT}/captures/{name}/frames*")
            self.lines("frames", "frames", *frames)
            self.one("frames", "frames", "--count", *frames)

    def test_the_gate(self):
        self.lines("gate", "gate", f"{ROOT}/captures")

    def test_meters(self):
        self.one("fuses", "fuses", "mini:10A=2.3mV", "F12:mini:10A=0.3mV", "--clamp", "0.43A")
        self.one("pins", "pins", "--high", "2.62V", "--low", "2.38V", "--ohms", "60ohm")
        self.one("battery", "battery", "--rest", "12.45V", "--current", "80mA", "--capacity", "70Ah")
        self.one("battery", "battery", "--rest", "12.45V")

    def daemon(self, name, *arguments):
        """What a command prints while a network falls asleep and nodoffd then ends."""
        with tempfile.TemporaryDirectory() as scratch:
            socket = os.path.join(scratch, "s")
            rig = page_rig.StandIn(socket)
            process = subprocess.Popen([*nodoff.WRAPPER, nodoff.PROGRAM, *arguments, "--json",
                                        "--socket", socket], stdout=subprocess.PIPE,
                                       stderr=subprocess.DEVNULL, text=True)
            while not rig.watchers:
                self.assertIsNone(process.poll())
            network = page_rig.view()["networks"][0]
            rig.tell(networks=[{**network, "state": "asleep"}], verdict="sleeps in time")
            lines = [process.stdout.readline()]
            rig.close()
            lines += process.communicate(timeout=nodoff.PATIENCE)[0].splitlines()
            self.check(name, *map(json.loads, lines))

    def test_what_nodoffd_tells(self):
        self.daemon("live", "live")
        self.daemon("wait", "wait", "--for", "sleep")


nodoff.main()
