# SPDX-License-Identifier: MIT
"""Output destroys nothing: what is no regular file stays what it is, links are followed."""
import os
import stat
import tempfile
import threading

import nodoff

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
HEALTHY = os.path.join(ROOT, "captures", "healthy")


class Output(nodoff.Command):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.path = os.path.join(self.folder.name, "page.html")

    def tearDown(self):
        self.folder.cleanup()

    def report(self, path, **more):
        return self.run_command("report", HEALTHY, "--out", path, **more)

    def read(self, path):
        with open(path, encoding="utf-8") as page:
            return page.read()

    def device(self, name, minor):
        """One of our own where we may make it: whoever may could replace the machine's."""
        path = os.path.join(self.folder.name, name)
        try:
            os.mknod(path, 0o666 | stat.S_IFCHR, os.makedev(1, minor))
            os.close(os.open(path, os.O_WRONLY))
            return path
        except PermissionError:
            return "/dev/" + name

    def test_a_device_stays_a_device(self):
        full, null = self.device("full", 7), self.device("null", 3)
        self.assertIn("No space left", self.report(full, status=4).stderr)
        self.assertTrue(stat.S_ISCHR(os.stat(full).st_mode))
        self.report(null)
        self.assertTrue(stat.S_ISCHR(os.stat(null).st_mode))

    def test_a_pipe_gets_the_page(self):
        os.mkfifo(self.path)
        got = []
        reader = threading.Thread(target=lambda: got.append(self.read(self.path)))
        reader.start()
        self.report(self.path)
        reader.join()
        self.assertIn("</html>", got[0])
        self.assertTrue(stat.S_ISFIFO(os.stat(self.path).st_mode))

    def test_a_link_is_followed(self):
        target = os.path.join(self.folder.name, "elsewhere.html")
        os.symlink("elsewhere.html", self.path)
        for _ in ("to nothing yet", "to a file"):
            self.report(self.path)
            self.assertTrue(os.path.islink(self.path))
            self.assertIn("</html>", self.read(target))

    def test_a_file_is_replaced_whole_and_keeps_its_rights(self):
        with open(self.path, "w", encoding="utf-8") as page:
            page.write("old")
        os.chmod(self.path, 0o640)
        self.report(self.path)
        self.assertEqual(stat.S_IMODE(os.stat(self.path).st_mode), 0o640)
        self.assertEqual(os.listdir(self.folder.name), ["page.html"])

    def test_junit_is_written_through_as_well(self):
        os.symlink("/dev/full", self.path)
        said = self.run_command("gate", HEALTHY, "--junit", self.path, status=4).stderr
        self.assertIn("No space left", said)
        self.assertTrue(os.path.islink(self.path))

    def test_a_draft_reads_sessions_and_replaces_no_map(self):
        self.assertIn("networks:", self.output("vehicle", "draft", HEALTHY, "--out", "-"))
        self.run_command("vehicle", "draft", HEALTHY, "-o", self.path)
        drafted = self.read(self.path)
        self.assertIn("networks:", drafted)
        with open(self.path, "a", encoding="utf-8") as page:
            page.write("# by hand\n")
        said = self.complaint("vehicle", "draft", HEALTHY, "-o", self.path, status=4)
        self.assertIn("is there already, and is left as it is", said)
        self.assertEqual(self.read(self.path), drafted + "# by hand\n")
        self.assertEqual(self.output("vehicle", "check", "-", text=drafted).splitlines()[1:],
                         self.output("vehicle", "check", self.path).splitlines()[1:])


if __name__ == "__main__":
    nodoff.main()
