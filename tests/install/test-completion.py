# SPDX-License-Identifier: MIT
"""Completion in bash: it offers what the programs take, and nothing else."""
import os
import pathlib
import re
import shutil
import tempfile
import unittest

from helps import NESTED, command_options, commands, options
from installed import CAPTURE, Installed, main, run

DRIVE = """
source "$1"; shift
function=$1; shift
COMP_WORDS=("$@")
COMP_CWORD=$((${#COMP_WORDS[@]} - 1))
"$function"
printf '%s\\n' "${COMPREPLY[@]}"
"""


class Completion(Installed):
    maxDiff = None

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.nodoff, cls.nodoffd = cls.find("bin/nodoff"), cls.find("sbin/nodoffd")

    def offered(self, *line, directory=None):
        """What is offered for the last word of the line, in its order."""
        script = self.find("bash-completion/completions/" + line[0])
        out = run("bash", "--norc", "-u", "-c", DRIVE, "bash", script, "_" + line[0], *line,
                  cwd=directory or self.root)
        return [word for word in out.splitlines() if word]

    def test_every_command(self):
        names = {command[0] for command in commands(self.nodoff)}
        self.assertEqual(set(self.offered("nodoff", "")), names | {"help", "--help", "--version"})
        self.assertEqual(self.offered("nodoff", "wak"), ["wakeups"])
        for name, rest in NESTED.items():
            self.assertEqual(self.offered("nodoff", name, ""), [*rest, "--help"])
        usage = " ".join(run(self.nodoff, "record", "--help").splitlines()[:2])
        self.assertEqual(set(self.offered("nodoff", "record", "")) - {"--help"},
                         set(re.findall(r"\b[a-z]{4,}\b", re.sub(r"\[--[^]]*\]", "", usage)))
                         - {"usage", "nodoff", "record"})

    def test_the_options_of_every_command(self):
        for command in commands(self.nodoff):
            after = ("status",) if command == ("record",) else ()
            with self.subTest(command=command):
                self.assertEqual(set(self.offered("nodoff", *command, *after, "--")),
                                 set(command_options(self.nodoff, command)) | {"--help"})

    def test_the_options_of_the_daemon(self):
        self.assertEqual(set(self.offered("nodoffd", "--")),
                         set(options(run(self.nodoffd, "--help"))))

    def test_values_that_are_fixed(self):
        for line, words in [(("analyse", "--colour", "a"), ["always", "auto"]),
                            (("analyse", "--colour", "=", "n"), ["never"]),
                            (("wait", "--for", ""), ["sleep", "wake", "deadline"]),
                            (("battery", "--type", ""), ["flooded", "agm"]),
                            (("pins", "--layer", "f"), ["fault-tolerant"]),
                            (("session", "cut", "x", "--scrub", ""), ["payload", "vin"]),
                            (("current", "import", "--decimal", ""), ["comma", "point"])]:
            self.assertEqual(self.offered("nodoff", *line), words)

    def test_fixed_values_are_taken_by_the_program(self):
        for kind in ("flooded", "agm"):
            run(self.nodoff, "battery", "--rest", "12.45V", "--type", kind)
        for layer in self.offered("nodoff", "pins", "--layer", ""):
            run(self.nodoff, "pins", "--high", "2.5V", "--low", "2.5V", "--layer", layer)
        for when in self.offered("nodoff", "analyse", "--colour", ""):
            run(self.nodoff, "analyse", "--colour", when, CAPTURE)

    def test_values_that_are_free_offer_nothing(self):
        self.assertEqual(self.offered("nodoff", "wakeups", "--by", ""), [])

    def test_kinds_of_marks_are_those_of_the_program(self):
        for command, before in ((("mark",), ()), (("session", "mark"), ("car1",))):
            listed = run(self.nodoff, *command, "--help").split("Kinds of marks:\n")[1]
            kinds = re.findall(r"^  ([a-z]+(?: [a-z]+)?)  +\S", listed, flags=re.M)
            self.assertEqual(self.offered("nodoff", *command, *before, ""),
                             [kind.replace(" ", "-") for kind in kinds])
        self.assertEqual(self.offered("nodoff", "mark", "isolated", ""), [])

    def test_files_and_directories(self):
        with tempfile.TemporaryDirectory() as place:
            here = pathlib.Path(place)
            (here / "car one.log").touch()
            (here / "car1").mkdir()
            both, directory = ["car one.log", "car1"], ["car1"]
            for line, names in [(("analyse", ""), both), (("analyse", "--vehicle", "car"), both),
                                (("analyse", "--good", "x", "--json", "car"), both),
                                (("gate", ""), directory), (("session", "mark", ""), directory),
                                (("session", "show", "c"), both), (("history", ""), both),
                                (("history", "car1", ""), [])]:
                self.assertEqual(sorted(self.offered("nodoff", *line, directory=here)), names)
            self.assertEqual(self.offered("nodoffd", "--sessions", "", directory=here), directory)

    def other_shell(self, ending):
        """The script of another shell, with the place that it asks bash in."""
        bash = self.find("bash-completion/completions/nodoff").parent
        text = self.find(ending).read_text()
        return re.sub(r'source "[^"]*/(?=\$)', f'source "{bash}/', text)

    @unittest.skipUnless(shutil.which("fish"), "fish is not installed")
    def test_fish_offers_the_same(self):
        script = self.other_shell("fish/vendor_completions.d/nodoff.fish")
        for line, expected in (("nodoff wak", ["wakeups"]), ("nodoff analyse --good x --col", ["--color", "--colour"]),
                               ("nodoff wait --for s", ["sleep"])):
            out = run("fish", "--no-config", "-c", script + f'\ncomplete -C "{line}"', cwd=self.root)
            self.assertEqual(out.split(), expected)

    @unittest.skipUnless(shutil.which("zsh"), "zsh is not installed")
    def test_zsh_offers_the_same(self):
        script = self.other_shell("zsh/vendor-completions/_nodoff")
        for words, expected in (("nodoff wak", ["wakeups"]), ("nodoff wait --for s", ["sleep"])):
            drive = ("compadd() { print -r -- \"${@[-1]}\" }\n"
                     f"words=({words}) CURRENT=${{#words}}\nfunction complete_it() {{\n{script}\n}}\ncomplete_it")
            self.assertEqual(run("zsh", "-f", "-c", drive, cwd=self.root).split(), expected)

    def test_interfaces(self):
        there = set(os.listdir("/sys/class/net"))
        self.assertEqual(set(self.offered("nodoff", "bitrate", "")), there)
        self.assertEqual(set(self.offered("nodoffd", "--interface", "")), there)


if __name__ == "__main__":
    main()
