# SPDX-License-Identifier: MIT
"""The man pages: installed, without mistakes of form, and in step with the programs."""
import re
import subprocess

from helps import NESTED, command_options, commands, options
from installed import SOURCE, Installed, main, run

PAGES = ["man1/nodoff.1", "man5/nodoff-current.5", "man5/nodoff-expect.5",
         "man5/nodoff-session.5", "man5/nodoff-vehicle.5", "man7/nodoff-tour.7", "man8/nodoffd.8"]


def words(macros):
    """The words of a macro line without the macros: `Cm make Ar dir` is make dir."""
    return [word for word in macros.split() if word not in {"Ar", "Cm", "Op", "Oo", "Oc", "Fl"}]


def documented(text):
    """The options of a piece of a page, as helps.options() has them."""
    found = re.findall(r"^\.It (?:Fl (\w) , )?Fl Fl ([a-z-]+)", text, flags=re.M)
    return {"--" + long: "-" + short if short else None for short, long in found}


class Manual(Installed):
    maxDiff = None

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.page = {name.split("/")[1]: cls.find("share/man/" + name) for name in PAGES}
        cls.text = {name: path.read_text() for name, path in cls.page.items()}
        cls.nodoff, cls.nodoffd = cls.find("bin/nodoff"), cls.find("sbin/nodoffd")

    def sections(self):
        """The pieces of nodoff(1) by command: {("session", "make"): text, ...}."""
        pieces = re.split(r"^\.S[sh] ", self.text["nodoff.1"], flags=re.M)[1:]
        result = {}
        for piece in pieces:
            head = words(piece.partition("\n")[0])
            length = 2 if head[0] in NESTED else 1
            result[tuple(head[:length])] = piece
        return {key: piece for key, piece in result.items() if not key[0].isupper()}

    def test_no_other_pages(self):
        there = [name.split("share/man/")[1] for name in self.files if "share/man/" in name]
        self.assertEqual(sorted(there), PAGES)

    def test_groff_finds_no_fault(self):
        for name, path in self.page.items():
            with self.subTest(page=name):
                done = subprocess.run(["man", "--warnings", "-E", "UTF-8", "-l", path], text=True,
                                      capture_output=True, env={"PATH": "/usr/bin:/bin",
                                      "LC_ALL": "C.UTF-8", "MANWIDTH": "80", "MANPAGER": "cat"})
                self.assertEqual((done.returncode, done.stderr), (0, ""))
                self.assertIn("NAME", done.stdout)

    def test_mandoc_finds_no_fault(self):
        for name, path in self.page.items():
            with self.subTest(page=name):
                done = subprocess.run(["mandoc", "-Tlint", "-Wwarning", path], text=True,
                                      capture_output=True)
                self.assertEqual(done.stdout + done.stderr, "")

    def test_plain_characters(self):
        for name, text in self.text.items():
            self.assertTrue(text.isascii(), name)

    def test_references_lead_somewhere(self):
        for name, text in self.text.items():
            for title, section in re.findall(r"^\.Xr (\S+) (\d)", text, flags=re.M):
                self.assertIn(f"{title}.{section}", self.page, name)

    def test_commands_are_those_of_the_program_in_its_order(self):
        self.assertEqual(list(self.sections()), commands(self.nodoff))

    def test_options_are_those_of_each_command(self):
        for command, text in self.sections().items():
            with self.subTest(command=command):
                self.assertEqual(documented(text), command_options(self.nodoff, command))

    def test_options_are_those_of_the_daemon(self):
        self.assertEqual(documented(self.text["nodoffd.8"]),
                         options(run(self.nodoffd, "--help")))

    def test_paths_are_those_of_the_programs(self):
        daemon = re.findall(r"\[root: (/[^],\s]+)", run(self.nodoffd, "--help"))
        self.assertEqual(len(daemon), 2) # socket and recordings
        for path in daemon:
            self.assertIn(f".Pa {path}\nfor root,", self.text["nodoffd.8"])
        socket = re.search(r"else\s+(/[^]]+)\]", run(self.nodoff, "mark", "--help"))[1]
        self.assertIn(socket, daemon)
        for page in ("nodoff.1", "nodoffd.8"):
            found = set(re.findall(r"/run/[\w./]*\w", self.text[page]))
            self.assertLessEqual(found, {socket}, page)

    def test_exit_statuses_are_those_of_the_header(self):
        header = (SOURCE / "cli" / "command.h").read_text()
        page = self.text["nodoff.1"].split(".Sh EXIT STATUS")[1].split(".Sh ")[0]
        self.assertEqual(re.findall(r"^\.It (\d)", page, flags=re.M),
                         re.findall(r"NOD_EXIT_\w+ = (\d)", header))

    def test_journal_kinds_are_those_of_the_program(self):
        listed = run(self.nodoff, "session", "mark", "--help").split("Kinds of marks:\n")[1]
        page = self.text["nodoff-session.5"].split("The kinds are:")[1]
        self.assertEqual(re.findall(r"^\.It Cm ([a-z ]+?)(?: Ar .*)?$", page, flags=re.M),
                         re.findall(r"^  ([a-z]+(?: [a-z]+)?)  +\S", listed, flags=re.M))

    def test_keys_of_expectations_are_those_of_the_program(self):
        table = (SOURCE / "lib" / "compare" / "expectation-keys.c").read_text()
        page = self.text["nodoff-expect.5"]
        self.assertEqual(re.findall(r"^\.It Cm ([a-z-]+)", page, flags=re.M),
                         re.findall(r'\[NOD_DEMAND_\w+\] = \{"([a-z-]+)"', table))

    def test_keys_of_the_vehicle_file_are_all_there(self):
        example = (SOURCE / "captures" / "example-vehicle.yaml").read_text()
        keys = set(re.findall(r"^(?:  |    )?(?:  )?([a-z][a-z -]*):", example, flags=re.M))
        page = re.sub(r"[\s,.]+", " ", self.text["nodoff-vehicle.5"])
        names = {"body", "comfort", "trailer"} | set(re.findall(r"^  (\w[\w ]*):\n", example,
                                                                flags=re.M))
        self.assertGreater(len(keys - names), 25)
        for key in sorted(keys - names):
            self.assertIn(key, page)


if __name__ == "__main__":
    main()
