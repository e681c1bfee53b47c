# SPDX-License-Identifier: MIT
"""The shared library: what it exports, its headers, and a program that uses it as installed."""
import os
import re
import shutil

from installed import BUILD, CAPTURE, CULPRIT, SOURCE, Installed, main, run
from public_headers import declared_in


def listed():
    text = re.sub(r"/\*.*?\*/", "", (SOURCE / "lib" / "libnodoff.map").read_text(), flags=re.S)
    return re.findall(r"^\s*(\w+);", text.split("local:")[0], flags=re.M)


# Allocated by the library only: these grow at their end (elements.h).
GROW = ("findings", "network_finding", "sender_finding", "ident_finding", "wake_finding", "suspect",
        "test_proposal", "isolation_finding", "mark_finding", "question_finding", "hole_finding",
        "span_finding", "evidence_finding", "vehicle", "network", "module", "fuse", "message")


def without_last_members(header):
    """Takes the last member out of each struct that grows; returns how many were met."""
    text, count = header.read_text(), 0
    for name in GROW:
        found = re.search(rf"^struct nod_{name} \{{\n(.*?)^\}};", text, flags=re.M | re.S)
        if found:
            bare = re.sub(r"/\*.*?\*/", lambda m: " " * len(m[0]), found[1], flags=re.S)
            ends = [m.end() for m in re.finditer(";", bare)]
            text = text[:found.start(1) + ends[-2]] + "\n" + text[found.end(1):]
            count += 1
    header.write_text(text)
    return count


class Library(Installed):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.link = cls.find("libnodoff.so")
        cls.include = cls.find("include/nodoff/nodoff.h").parent
        cls.headers = sorted(cls.include.glob("*.h"))

    def test_exports_what_the_list_says(self):
        exported = {line.split()[2].split("@")[0] for line in
                    run("nm", "-D", "--defined-only", self.link).splitlines()
                    if line.split()[1] != "A"}
        self.assertEqual(sorted(exported), listed())

    def test_exports_what_the_installed_headers_declare(self):
        self.assertEqual(sorted(declared_in(self.include)), listed())

    def test_has_a_versioned_name(self):
        self.assertIn("Library soname: [libnodoff.so.0]", run("readelf", "-d", self.link))
        self.assertEqual(os.readlink(self.link), "libnodoff.so.0")
        real = os.path.realpath(self.link)
        version = run("pkg-config", "--modversion", self.find("pkgconfig/nodoff.pc")).strip()
        self.assertEqual(os.path.basename(real), "libnodoff.so." + version)

    def test_each_header_compiles_alone(self):
        for header in self.headers:
            with self.subTest(header=header.name):
                run("cc", "-std=c11", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Wshadow",
                    "-Wstrict-prototypes", "-Werror", "-fsyntax-only", "-x", "c", "-I",
                    self.include.parent, "-", input=f"#include <nodoff/{header.name}>\n")

    def test_headers_include_only_installed_ones(self):
        names = {header.name for header in self.headers}
        for header in self.headers:
            self.assertLessEqual(set(re.findall(r'#include "(.*)"', header.read_text())), names)

    def test_the_whole_is_for_cplusplus_too(self):
        program = self.root / "program.cc"
        program.write_text("#include <nodoff/nodoff.h>\n"
                           "#include <vector>\n"
                           "int main() { return nod_version()[0] == 0; }\n")
        self.build("c++", program, "-std=c++17")
        self.use(program.with_suffix(""))

    def test_the_example_finds_the_culprit(self):
        example = self.root / "verdict"
        self.build("cc", SOURCE / "lib" / "examples" / "verdict.c", "-std=c11", target=example)
        text = self.use(example, CAPTURE)
        self.assertIn("verdict: kept awake\n", text)
        self.assertIn(f"first suspect: {CULPRIT} (holder), 98 %\n", text)
        self.assertIn("libnodoff.so.0", run("readelf", "-d", example))

    def test_members_at_the_end_break_no_built_program(self):
        """Built against headers as they were one member ago, a program reads the same."""
        older = self.root / "older" / "nodoff"
        shutil.copytree(self.include, older)
        cut = sum(without_last_members(header) for header in older.glob("*.h"))
        self.assertEqual(cut, len(GROW))
        said = []
        for name, include in ("today", self.include), ("yesterday", older):
            program = self.root / name
            run("cc", "-std=c11", "-Wall", "-Wextra", "-Werror", "-I", include.parent,
                SOURCE / "tests" / "install" / "walk.c", self.link, "-o", program)
            said.append(self.use(program, CAPTURE))
        self.assertEqual(*said)
        self.assertIn(f"suspect {CULPRIT}", said[0])
        self.assertGreater(len(said[0].splitlines()), 40)

    def build(self, compiler, source, standard, target=None):
        """By what pkg-config says, as a user of the library does."""
        found = {"PKG_CONFIG_PATH": self.find("pkgconfig/nodoff.pc").parent,
                 "PKG_CONFIG_SYSROOT_DIR": self.root}
        flags = run("pkg-config", "--cflags", "--libs", "nodoff",
                    env={key: str(value) for key, value in found.items()}).split()
        run(compiler, standard, "-Wall", "-Wextra", "-Werror", source, *flags, "-o",
            target or source.with_suffix(""))

    def use(self, program, *arguments):
        return run(program, *arguments, env={"LD_LIBRARY_PATH": str(self.link.parent)})


if __name__ == "__main__":
    main()
