# SPDX-License-Identifier: MIT
"""A person's own defaults, and where recordings and vehicle files are looked for by their names."""
import os
import pathlib
import pty
import shutil
import subprocess
import tempfile

import nodoff

CAPTURES = pathlib.Path(__file__).resolve().parent.parent.parent / "captures"


class Settings(nodoff.Command):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.home = pathlib.Path(folder.name)
        self.environment = {"HOME": folder.name, "XDG_CONFIG_HOME": "", "XDG_DATA_HOME": "",
                            "XDG_RUNTIME_DIR": str(self.home / "run")}

    def write(self, text):
        path = self.home / ".config/nodoff/settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)

    def put(self, directory, session="healthy"):
        """A recording that is somewhere in the home."""
        shutil.copytree(CAPTURES / session, self.home / directory / "my-car")

    def ask(self, *arguments, **more):
        return self.run_command(*arguments, environment=self.environment, **more)

    def test_a_recording_by_its_name(self):
        self.ask("analyse", "my-car", status=4)
        self.put(".local/share/nodoff/sessions")
        self.assertIn("SLEEPS IN TIME", self.ask("analyse", "my-car").stdout)
        self.assertIn("can0", self.ask("session", "show", "my-car").stdout)
        self.environment["XDG_DATA_HOME"] = str(self.home / "else")
        self.ask("analyse", "my-car", status=4)
        self.write("# mine\nsessions: ~/cars\n")
        self.put("cars", "holder-autosar")
        self.assertIn("KEPT AWAKE", self.ask("analyse", "my-car").stdout)
        self.assertIn("note at home", self.ask("session", "mark", "my-car", "note", "at", "home").stdout)
        self.assertIn("No such file", self.ask("analyse", "./my-car", status=4).stderr)

    def test_a_vehicle_file_by_its_name(self):
        self.write("maps: ~/maps")
        (self.home / "maps").mkdir()
        shutil.copy(CAPTURES / "example-vehicle.yaml", self.home / "maps/hatchback.yaml")
        car = str(CAPTURES / "healthy")
        self.assertIn("F12", self.ask("fuses", "--vehicle", "hatchback.yaml", "F12=1mV").stdout)
        self.ask("analyse", "-v", "hatchback.yaml", car)
        self.ask("analyse", "-v", "estate.yaml", car, status=4)

    def test_the_zone(self):
        """2023-11-24 15:42:39 UTC is the lock of the shipped session: `date -u -d @1700840559`."""
        self.put(".local/share/nodoff/sessions")
        self.environment["TZ"] = "America/New_York"
        self.assertIn("Locked 2023-11-24 10:42:39-05:00", self.ask("analyse", "my-car").stdout)
        for zone, told in (("Europe/Berlin", "16:42:39+01:00"), ("+05:30", "21:12:39+05:30"), ("Z", "15:42:39Z")):
            self.assertIn("Locked 2023-11-24 " + told, self.ask("analyse", "my-car", "--zone", zone).stdout)
        # It is taken in it, too, by whatever command.
        for command in ("analyse", "timeline", "wakeups", "history", "report"):
            done = self.ask(command, "my-car", "--zone", "Europe/Berlin", "--locked", "18:42:39",
                            *(["-o", "-"] if command == "report" else []), status=2)
            self.assertIn("--locked 18:42:39: that is 2023-11-24 18:42:39+01:00, but the recording ends",
                          " ".join(done.stderr.split()))
        self.assertIn("knows no time zone `Mars`", self.ask("analyse", "my-car", "--zone", "Mars", status=2).stderr)

    def test_the_zone_of_a_session(self):
        log = CAPTURES / "healthy/frames.log"
        made = self.home / "made"
        self.ask("session", "make", str(log), "--into", str(made), "--zone", "Asia/Tokyo")
        self.assertIn("\nzone: Asia/Tokyo\n", (made / "session.txt").read_text())
        here = {name: value for name, value in os.environ.items() if name != "TZ"}
        out = subprocess.run([nodoff.PROGRAM, "analyse", made], env=here, text=True, check=True,
                             capture_output=True).stdout
        self.assertRegex(out, r"Recorded from 2023-11-25 00:42:\d\d\+09:00")
        self.ask("session", "cut", str(made), "--from", "start", "--to", "end", "--into", str(self.home / "cut"))
        self.assertIn("\nzone: Asia/Tokyo\n", (self.home / "cut/session.txt").read_text())

    def test_colour(self):
        car = str(CAPTURES / "healthy")
        self.write("colour: always\n")
        self.assertIn("\x1b[", self.ask("analyse", car).stdout)
        self.assertNotIn("\x1b[", self.ask("analyse", car, "--colour", "never").stdout)
        self.write("colour: auto\n")
        self.assertNotIn("\x1b[", self.ask("analyse", car).stdout)

    def test_the_pager(self):
        car = str(CAPTURES / "healthy")
        self.write("pager: sed s/^/paged:/\n")
        self.assertIn("paged:Locked", self.on_terminal("analyse", car))
        self.environment["PAGER"] = "cat"
        self.assertIn("paged:Locked", self.on_terminal("analyse", car))
        self.environment["NODOFF_PAGER"] = "cat"
        self.assertNotIn("paged:", self.on_terminal("analyse", car))

    def test_who_leaves_the_pager_early_is_told_nothing(self):
        often = self.home / "often.log"  # more to print than a pipe holds
        often.write_text("".join(f"({1600000000 + 600 * i}.0) can0 123#11\n" for i in range(2000)))
        self.environment["NODOFF_PAGER"] = "head -n 1"
        self.assertEqual(len(self.on_terminal("wakeups", str(often)).splitlines()), 1)

    def on_terminal(self, *arguments):
        ours, theirs = pty.openpty()
        process = subprocess.Popen([nodoff.PROGRAM, *arguments], stdout=theirs, stderr=theirs, stdin=theirs,
                                   env={**os.environ, **self.environment, "TERM": "xterm"})
        os.close(theirs)
        said = b""
        try:
            while more := os.read(ours, 4096):
                said += more
        except OSError:  # the other side has closed
            pass
        os.close(ours)
        self.assertEqual(process.wait(timeout=nodoff.PATIENCE), 0)
        return said.decode()

    def test_the_socket(self):
        self.assertIn("/run/nodoff/nodoff.sock", self.ask("record", "status", status=4).stderr)
        self.write("socket: ~/mine.sock\n")
        self.assertIn(f"{self.home}/mine.sock", self.ask("record", "status", status=4).stderr)
        self.environment["NODOFF_SOCKET"] = "/tmp/other.sock"
        self.assertIn("/tmp/other.sock", self.ask("record", "status", status=4).stderr)

    def test_a_wrong_line_is_told_and_left_out(self):
        self.write("sesions: /x\ncolour: always\nwhat\n")
        done = self.told()
        self.assertIn("settings:1: expected socket, sessions, maps, cars, colour or pager; did you mean sessions?",
                      done.stderr)
        self.assertIn("settings:3: expected `key: value`; the line is left out\n", done.stderr)
        self.assertIn("\x1b[", done.stdout)

    def told(self):
        return subprocess.run([nodoff.PROGRAM, "analyse", str(CAPTURES / "healthy")], check=True, text=True,
                              capture_output=True, env={**os.environ, **self.environment})


nodoff.main()
