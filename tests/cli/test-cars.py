# SPDX-License-Identifier: MIT
"""What a folder of recordings knows of the next car: --cars, --no-cars and the setting."""
import json
import os
import pathlib
import re
import shutil
import subprocess
import tempfile

import nodoff

CAPTURES = pathlib.Path(__file__).resolve().parent.parent.parent / "captures"
HELD, WELL = "holder-osek", "holder-osek-repaired"  # one car, invented: before its repair and after it
CULPRIT = "parking brake unit"
DAY = 86400
VIN, OTHER, THIRD = "ZZZAB12C0XK004711", "ZZZAB12C0XK008155", "ZZZAB12C0XK000815"  # invented
GOOD = "it is compared with"


def moved(text, seconds):
    return re.sub(r"^\((\d+)", lambda found: f"({int(found[1]) + seconds}", text, flags=re.M)


class Cars(nodoff.Command):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.home = pathlib.Path(folder.name).resolve()
        self.cars = self.home / "cars"
        self.cars.mkdir()
        self.environment = {"HOME": folder.name, "XDG_CACHE_HOME": "", "XDG_CONFIG_HOME": "",
                            "XDG_DATA_HOME": "", "XDG_RUNTIME_DIR": str(self.home)}

    def put(self, name, shipped, vin=None, days=0, note=None):
        """A shipped session in the folder, so many days later than 2024-05-01."""
        path = self.cars / name
        shutil.copytree(CAPTURES / shipped, path)
        journal = (path / "journal.log").read_text()
        start = int(re.search(r"^\((\d+)", journal, re.M)[1])
        shift = 1714521600 + days * DAY - start
        if note:
            journal += re.findall(r"^(\(\d+\.\d+\))", journal, re.M)[-1] + f" note {note}\n"
        (path / "journal.log").write_text(moved(journal, shift))
        (path / "frames.log").write_text(moved((path / "frames.log").read_text(), shift))
        if vin:
            (path / "session.txt").write_text(f"nodoff session: 1\nvin: {vin}\n")
        return path

    def ask(self, *arguments, **more):
        return self.run_command(*arguments, environment=self.environment, **more)

    def known(self, *arguments):
        return self.answer(*arguments)["known"]

    def answer(self, *arguments):
        return json.loads(self.ask("analyse", *arguments, "--json").stdout)

    def put_same_car(self):
        self.put("before", WELL, VIN, -60)
        return str(self.put("now", HELD, VIN))

    def put_solved(self, vin, days):
        """Named, mended, slept well."""
        self.put(f"{vin}-held", HELD, vin, days, f"replaced {CULPRIT}")
        self.put(f"{vin}-well", WELL, vin, days + 5)

    def index(self):
        return list((self.home / ".cache/nodoff").glob("*"))

    def test_the_last_good_sleep(self):
        now = self.put_same_car()
        log = self.cars / "before/frames.log"
        lines = log.read_text().splitlines(keepends=True)
        log.write_text("".join(line for line in lines if " 0A3#" not in line))
        self.put("long-before", WELL, VIN, -90)
        self.put("later", WELL, VIN, 9)
        self.put("another-car", WELL, OTHER, -9)
        got = self.answer("--cars", str(self.cars), now)
        self.assertEqual(got["known"]["good"], str(self.cars / "before"))
        wanted = self.answer("--good", str(self.cars / "before"), now)
        self.assertIsNone(wanted.pop("known"))
        del got["known"]
        self.assertEqual(got, wanted)
        self.assertEqual([d["id"] for d in got["against_good"] if d["appeared"]], ["0A3"])

    def test_what_is_given_goes_first(self):
        now = self.put_same_car()
        given = str(CAPTURES / "healthy")
        self.assertIsNone(self.known("--cars", str(self.cars), "--good", given, now)["good"])

    def test_earlier_isolations(self):
        tried = str(self.put("tried", "isolation-right", VIN, -2))
        self.put("tried-before-it-slept", "isolation-wrong", VIN, -50)
        self.put("slept", WELL, VIN, -9)
        now = str(self.put("now", "isolation-right", VIN))
        (self.cars / "now/journal.log").write_text("")
        known = self.known("--cars", str(self.cars), now)
        self.assertEqual((known["earlier"], known["good"]), ([tried], str(self.cars / "slept")))
        wanted = self.answer("--good", str(self.cars / "slept"), "--earlier", tried, now)
        self.assertEqual(self.answer("--cars", str(self.cars), now)["suspects"], wanted["suspects"])
        self.assertNotEqual(self.answer(now)["suspects"], wanted["suspects"])

    def test_solved_cars(self):
        now = str(self.put("now", HELD))
        self.put_solved(OTHER, -400)
        self.put_solved(THIRD, -300)
        got = self.answer("--cars", str(self.cars), now)
        self.assertEqual((got["known"]["like"], got["known"]["solved"]), (4, 2))
        self.assertEqual(got["known"]["senders"], [{"name": CULPRIT, "cars": 2}])
        kinds = {e["kind"]: e for e in got["suspects"][0]["evidence"]}
        self.assertEqual(kinds["like-cars"]["text"],
                         "In 2 of 2 cars with these messages that were solved it was this one.")
        self.assertIn(f"Of 2 cars with these messages that were solved, it was {CULPRIT} in 2.",
                      got["known"]["lines"])
        self.assertTrue(any("does not say whose it is" in line for line in got["known"]["lines"]))

    def test_it_is_said(self):
        now = self.put_same_car()
        self.put_solved(OTHER, -400)
        short = self.output("analyse", "--cars", str(self.cars), now, environment=self.environment)
        self.assertEqual(short.count("Known: its last good sleep, 1 solved car like it.\n"), 1)
        self.assertLessEqual(short.count("\n"), 20)
        full = self.output("analyse", "--full", "--cars", str(self.cars), now, environment=self.environment)
        self.assertIn("What other recordings know\n", full)
        self.assertIn(GOOD, " ".join(full.split()))
        page = self.ask("report", now, "--cars", str(self.cars), "-o", "-").stdout
        self.assertIn("What other recordings know", page)
        self.assertIn(GOOD, page)
        self.assertNotIn("What other recordings know", self.ask("report", now, "-o", "-").stdout)
        for text in (short, full, page):
            self.assertNotIn(VIN, text)

    def test_the_setting(self):
        now = self.put_same_car()
        settings = self.home / ".config/nodoff/settings"
        settings.parent.mkdir(parents=True)
        settings.write_text("cars: ~/cars\n")
        self.assertEqual(self.known(now)["good"], str(self.cars / "before"))
        self.assertIsNone(self.known("--no-cars", now))
        shutil.rmtree(self.home / ".cache")
        self.ask("gate", str(CAPTURES / "healthy"))
        self.ask("compare", str(self.cars / "before"), now)
        self.assertEqual(self.index(), [])
        # A folder of the settings that is gone stops nobody; one that was named does.
        settings.write_text("cars: ~/nowhere\n")
        done = subprocess.run([nodoff.PROGRAM, "analyse", now], capture_output=True, text=True, check=True,
                              env={**os.environ, **self.environment})
        self.assertIn("nowhere: No such file or directory", done.stderr)
        self.assertIn("KEPT AWAKE", done.stdout)
        self.ask("analyse", "--cars", str(self.home / "nowhere"), now, status=4)

    def test_the_index_follows_the_folder(self):
        now = self.put_same_car()
        self.assertEqual(self.known("--cars", str(self.cars), now)["recordings"], 2)
        self.put("newer", WELL, VIN, -30)
        known = self.known("--cars", str(self.cars), now)
        self.assertEqual((known["recordings"], known["good"]), (3, str(self.cars / "newer")))
        with open(self.cars / "newer/journal.log", "a", encoding="ascii") as journal:
            journal.write(f"({1714521600 - 30 * DAY + 100}.000000) isolated F05\n")
        self.assertEqual(self.known("--cars", str(self.cars), now)["good"], str(self.cars / "before"))
        shutil.rmtree(self.cars / "before")
        known = self.known("--cars", str(self.cars), now)
        self.assertEqual((known["recordings"], known["good"]), (2, None))
        self.assertEqual(len(self.index()), 1)

    def test_what_cannot_be_read_is_counted(self):
        now = self.put_same_car()
        for name, content in (("noise", bytes(range(256)) * 40), ("empty", b""),
                              ("half", b"\x28\xb5\x2f\xfd\x04"), ("pipe", None)):
            (self.cars / name).mkdir()
            if content is None:
                os.mkfifo(self.cars / name / "journal.log")
                content = b""
            (self.cars / name / "frames.log").write_bytes(content)
        (self.cars / "deep").mkdir()
        (self.cars / "deep/loop").symlink_to(self.cars)
        (self.cars / "deep/self").symlink_to("self")
        shutil.copytree(self.cars / "before", self.cars / ".trash/before")
        (self.cars / "locked-up").mkdir(mode=0)
        known = self.known("--cars", str(self.cars), now)
        self.assertEqual(known["recordings"] + known["unread"], 6)
        self.assertGreaterEqual(known["unread"], 2)
        self.assertEqual(known["good"], str(self.cars / "before"))
        self.assertTrue(any(f"{known['unread']} more cannot be read" in line for line in known["lines"]))
        self.assertEqual(self.known("--cars", str(self.cars), now), known)

    def test_a_damaged_index_is_made_anew(self):
        now = self.put_same_car()
        wanted = self.known("--cars", str(self.cars), now)
        [index] = self.index()
        whole = index.read_bytes()
        for damaged in (b"", b"no such thing" * 1000, whole[:len(whole) // 2], whole[:100] + b"\xff" * 4000,
                        whole[:4096] + os.urandom(len(whole) - 4096)):
            index.write_bytes(damaged)
            done = subprocess.run([nodoff.PROGRAM, "analyse", "--json", "--cars", self.cars, now], check=True,
                                  capture_output=True, text=True, env={**os.environ, **self.environment})
            got = json.loads(done.stdout)["known"]
            if not done.stderr:
                self.assertEqual(got, wanted)
            else:
                self.assertEqual(done.stderr.count("going on without"), 1, done.stderr)
                self.assertEqual(self.known("--cars", str(self.cars), now), wanted)

    def test_where_no_index_can_be_kept(self):
        now = self.put_same_car()
        (self.home / ".cache").write_text("in the way")
        done = subprocess.run([nodoff.PROGRAM, "analyse", "--json", "--cars", self.cars, now], check=True,
                              capture_output=True, text=True,
                              env={**os.environ, **self.environment, "TMPDIR": str(self.home)})
        self.assertEqual(done.stderr.count("\n"), 1, done.stderr)
        self.assertIn("cannot be kept at", done.stderr)
        self.assertEqual(json.loads(done.stdout)["known"]["good"], str(self.cars / "before"))
        self.assertEqual([path.name for path in self.home.glob("nodoff-cars-*")], [])

    def test_times_stay_in_the_recordings_own_zone(self):
        now = self.put_same_car()
        for name, zone in (("now", "Asia/Tokyo"), ("before", "America/New_York")):
            with open(self.cars / name / "session.txt", "a", encoding="ascii") as about:
                about.write(f"zone: {zone}\n")
        here = {name: value for name, value in os.environ.items() if name != "TZ"}
        done = subprocess.run([nodoff.PROGRAM, "analyse", "--cars", self.cars, now], check=True, text=True,
                              capture_output=True, env={**here, **self.environment})
        self.assertIn("Known: its last good sleep", done.stdout)
        self.assertRegex(done.stdout, r"Locked 2024-05-01 09:00:\d\d\+09:00")

    def test_several_at_once(self):
        now = self.put_same_car()
        for i in range(6):
            self.put(f"more-{i}", WELL, VIN, -100 - i)
        runs = [subprocess.Popen([nodoff.PROGRAM, "analyse", "--json", "--cars", self.cars, now], text=True,
                                 stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                 env={**os.environ, **self.environment}) for _ in range(4)]
        outs = [run.communicate(timeout=nodoff.PATIENCE) for run in runs]
        self.assertEqual({err for _, err in outs}, {""})
        self.assertEqual(len({out for out, _ in outs}), 1)
        self.assertEqual(json.loads(outs[0][0])["known"]["recordings"], 8)

    def test_the_index_is_the_persons_own(self):
        self.known("--cars", str(self.cars), self.put_same_car())
        self.assertEqual((self.home / ".cache/nodoff").stat().st_mode & 0o077, 0)


nodoff.main()
