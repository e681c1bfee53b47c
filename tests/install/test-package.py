# SPDX-License-Identifier: MIT
"""The Debian packages: built, installed into a directory, used, removed and purged.

Nothing of the machine changes: dpkg works on a root directory and a data base of its own,
with files owned under fakeroot, and the maintainer scripts see that directory as DPKG_ROOT."""
import os
import pathlib
import shutil
import re
import subprocess
import sys
import tempfile
import unittest

from installed import BUILD, CAPTURE, CULPRIT, SOURCE, main, run

TOOLS = ["dpkg-buildpackage", "dh", "fakeroot", "lintian", "systemd-sysusers",
         "deb-systemd-helper"]
PACKAGES = ["libnodoff-dev", "libnodoff0", "nodoff", "python3-nodoff"]
PLAIN = {"LC_ALL": "C", "PATH": os.environ["PATH"] + ":/usr/sbin:/sbin"}
# What talks to the service manager of the machine; the scripts must not get at it.
STUBS = ["systemctl", "deb-systemd-invoke", "udevadm"]
# The accounts of the installed system, with the copies that systemd-sysusers keeps.
ACCOUNTS = {"passwd": "root:x:0:0:root:/root:/bin/sh\n", "group": "root:x:0:\n",
            "shadow": "root:*:19000::::::\n", "gshadow": "root:*::\n"}
MACHINE = [pathlib.Path("/etc/passwd"), pathlib.Path("/etc/group"),
           pathlib.Path("/usr/bin/nodoff"), pathlib.Path("/var/lib/dpkg/info/nodoff.list"),
           pathlib.Path("/lib/systemd/system/nodoffd.service")]


def state_of_machine():
    return [path.read_bytes() if path.exists() else None for path in MACHINE]


def dependencies(deb):
    """Names of what a package depends on; of alternatives, the first that is installed here."""
    fields = run("dpkg-deb", "-f", deb, "Depends", "Pre-Depends")
    for group in re.sub(r"^[\w-]+:", "", fields, flags=re.M).replace("\n", ",").split(","):
        names = [re.sub(r"[\s(:].*", "", name.strip()) for name in group.split("|")]
        names = [name for name in names if name and name not in PACKAGES]
        if names:
            yield next((name for name in names if stanza(name)), names[0])


def stanza(name):
    """An entry of dpkg's data base for a package of this machine, "" when it is not there."""
    form = ("Package: ${Package}\nStatus: ${Status}\nArchitecture: ${Architecture}\n"
            "Multi-Arch: ${Multi-Arch}\nVersion: ${Version}\nMaintainer: x <x@x.invalid>\n"
            "Description: x\n\n")
    done = subprocess.run(["dpkg-query", "-W", "-f", form, name], capture_output=True, text=True)
    return done.stdout.replace("Multi-Arch: \n", "") if "ok installed" in done.stdout else ""


class Package(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.temporary = tempfile.TemporaryDirectory()
        cls.directory = pathlib.Path(cls.temporary.name)
        cls.out = cls.directory / "out"
        run(SOURCE / ".debian" / "build", cls.out,
            env=PLAIN | {"DEB_BUILD_OPTIONS": "nocheck noautodbgsym parallel=2",
                         "DEB_CFLAGS_APPEND": "-O1 -g0"})  # a third less to wait for
        cls.debs = sorted(cls.out.glob("*.deb"))

    @classmethod
    def tearDownClass(cls):
        cls.temporary.cleanup()

    def setUp(self):
        self.root = self.directory / self.id().split(".")[-1]
        self.admin = self.root / "var/lib/dpkg"
        for name in ("info", "updates", "triggers"):
            (self.admin / name).mkdir(parents=True)
        needed = sorted({name for deb in self.debs for name in dependencies(deb)})
        (self.admin / "status").write_text("".join(stanza(name) for name in needed))
        for name in needed:
            (self.admin / "info" / f"{name}.list").touch()
        for name in ("etc", "var/lib/systemd"): # as the packages that they belong to make them
            (self.root / name).mkdir()
        for name, text in ACCOUNTS.items():
            for path in (name, name + "-"):
                (self.root / "etc" / path).write_text(text)
        (self.root / "etc/.pwd.lock").touch()
        self.stubs = self.directory / "stubs"
        self.stubs.mkdir(exist_ok=True)
        for name in STUBS:
            (self.stubs / name).write_text("#!/bin/sh\nexit 0\n")
            (self.stubs / name).chmod(0o755)

    def dpkg(self, *arguments):
        return run("fakeroot", "dpkg", f"--root={self.root}", f"--admindir={self.admin}",
                   f"--log={self.admin}/log", "--force-script-chrootless", "--path-include=*",
                   "--no-triggers", *arguments,
                   env=PLAIN | {"PATH": f"{self.stubs}:{PLAIN['PATH']}",
                                "DEBIAN_FRONTEND": "noninteractive"})

    def everything(self):
        """All but dpkg's data base."""
        found = {path.relative_to(self.root).as_posix() for path in self.root.rglob("*")}
        return {name for name in found if not (name + "/").startswith("var/lib/dpkg/")}

    def contents(self):
        names = set()
        for deb in self.debs:
            with subprocess.Popen(["dpkg-deb", "--fsys-tarfile", deb],
                                  stdout=subprocess.PIPE) as tar:
                listed = run("tar", "-tf", "-", stdin=tar.stdout)
            names |= {line.strip("./") if line.startswith("./") else line.rstrip("/")
                      for line in listed.splitlines()}
        return names - {""}

    def test_the_packages_are_those(self):
        version = re.search(r"version: '(.*?)'", (SOURCE / "meson.build").read_text())[1]
        self.assertEqual([deb.name.split("_")[:2] for deb in self.debs],
                         [[name, version] for name in PACKAGES])

    def test_what_it_is_built_with_is_on_the_list(self):
        control = (SOURCE / ".debian" / "control").read_text()
        needed = re.search(r"Build-Depends:\n((?: .*\n)+)", control)[1]
        names = set(re.findall(r"^ ([a-z0-9.+-]+)", needed, flags=re.M))
        names -= {"debhelper-compat", "dh-sequence-installsysusers"} # both are debhelper
        listed = re.sub("#.*", "", (SOURCE / ".ci" / "packages").read_text()).split()
        self.assertEqual(names - set(listed), set())

    def test_lintian_has_nothing_to_say(self):
        changes, = self.out.glob("*.changes")
        said = run("lintian", "--allow-root", "--no-cfg", "-EIL", ">=info", changes, env=PLAIN)
        self.assertEqual(said, "")

    def test_all_that_is_installed_is_in_a_package(self):
        root = self.directory / "plain"
        run("meson", "install", "-C", BUILD, "--no-rebuild", "--destdir", root)
        plain = {path.name for path in root.rglob("*") if path.is_file()}
        packed = {re.sub(r"(\.[1-8])\.gz$", r"\1", pathlib.Path(name).name)
                  for name in self.contents()}
        self.assertEqual(plain - packed, set())

    def test_installs_works_and_goes_without_a_trace(self):
        before, machine = self.everything(), state_of_machine()
        self.dpkg("--install", *self.debs)
        made = {"var/lib/nodoff", "var/lib/nodoff/maps"}  # by systemd-tmpfiles, for the group
        self.assertEqual(self.everything() - before,
                         (self.contents() | self.helpers() | made) - before)
        self.assertRegex((self.root / "etc/passwd").read_text(), r"(?m)^nodoff:")
        self.assertRegex((self.root / "etc/group").read_text(), r"(?m)^nodoff:")
        self.use()
        self.dpkg("--install", *self.debs) # once more, as an upgrade
        self.use()

        self.dpkg("--remove", *PACKAGES)
        left = {name for name in self.everything() - before - self.helpers()
                if not (self.root / name).is_dir()}
        self.assertEqual(left, {"etc/default/nodoff"})
        self.dpkg("--purge", *PACKAGES)
        self.assertEqual(self.everything(), before)
        self.assertEqual(state_of_machine(), machine)

    def test_a_purge_keeps_recordings(self):
        self.dpkg("--install", *self.debs)
        kept = self.root / "var/lib/nodoff/car/journal.log"
        kept.parent.mkdir(parents=True)
        kept.write_text("(1700000000.000000) locked\n")
        self.dpkg("--purge", *PACKAGES)
        self.assertTrue(kept.exists())
        shutil.rmtree(kept.parent)
        self.dpkg("--install", *self.debs)
        self.dpkg("--purge", *PACKAGES)
        self.assertFalse(kept.parent.parent.exists())

    def helpers(self):
        """What deb-systemd-helper notes of a service."""
        return {name for name in self.everything() if "var/lib/systemd" in name}

    def use(self):
        text = run(self.root / "usr/bin/nodoff", "analyse", CAPTURE)
        self.assertIn(CULPRIT, text.split("\n\n")[0])
        self.assertRegex(run(self.root / "usr/sbin/nodoffd", "--version"), r"^nodoffd \d")
        example = self.root / "usr/share/doc/libnodoff-dev/examples/verdict.c"
        pc, = self.root.glob("usr/lib/*/pkgconfig/nodoff.pc")
        flags = run("pkg-config", "--cflags", "--libs", "nodoff",
                    env={"PKG_CONFIG_PATH": str(pc.parent),
                         "PKG_CONFIG_SYSROOT_DIR": str(self.root)}).split()
        program = self.directory / "verdict"
        run("cc", example, *flags, "-o", program)
        self.assertIn(CULPRIT, run(program, CAPTURE,
                                   env={"LD_LIBRARY_PATH": str(pc.parent.parent)}))
        module = {"PYTHONPATH": str(self.root / "usr/lib/python3/dist-packages"),
                  "LD_LIBRARY_PATH": str(pc.parent.parent), "PYTHONDONTWRITEBYTECODE": "1"}
        judge = f"import nodoff; print(nodoff.judge({str(CAPTURE)!r}).sentence)"
        self.assertIn(CULPRIT, run("/usr/bin/python3", "-c", judge, env=module))


if __name__ == "__main__":
    missing = [tool for tool in TOOLS if not shutil.which(tool, path=PLAIN["PATH"])]
    if missing:
        print("not installed:", *missing)
        sys.exit(77)
    main()
