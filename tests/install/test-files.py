# SPDX-License-Identifier: MIT
"""What `meson install` puts where."""
import re

from installed import Installed, main, run

ONE_EACH = ["bin/nodoff", "sbin/nodoffd", "share/man/man1/nodoff.1", "share/man/man8/nodoffd.8",
            "bash-completion/completions/nodoff", "bash-completion/completions/nodoffd",
            "pkgconfig/nodoff.pc", "libnodoff.so", "libnodoff.so.0", "include/nodoff/nodoff.h",
            "systemd/system/nodoffd.service", "sysusers.d/nodoffd.conf",
            "tmpfiles.d/nodoffd.conf",
            "rules.d/60-nodoff-can.rules"]


class Files(Installed):
    def test_everything_is_there_once(self):
        for ending in ONE_EACH:
            self.find(ending)

    def test_nothing_of_the_build_is(self):
        self.assertEqual([name for name in self.files if re.search(r"test|\.[ao]$|\.in$", name)], [])

    def test_the_programs_start_from_there(self):
        version = run("pkg-config", "--modversion", self.find("pkgconfig/nodoff.pc"))
        for name in ("bin/nodoff", "sbin/nodoffd"):
            program = self.find(name)
            self.assertEqual(run(program, "--version"), f"{program.name} {version}")

    def test_the_unit_starts_the_installed_program(self):
        unit = self.find("nodoffd.service").read_text()
        program = re.search(r"^ExecStart=(\S+)", unit, flags=re.M)[1]
        self.assertEqual(self.root / program.lstrip("/"), self.find("sbin/nodoffd"))


if __name__ == "__main__":
    main()
