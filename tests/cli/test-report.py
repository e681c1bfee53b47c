# SPDX-License-Identifier: MIT
"""Black-box tests of report, timeline and compare on small invented sessions."""
import html.parser
import os
import stat
import tempfile

import nodoff

nodoff.PROGRAM = os.path.abspath(nodoff.PROGRAM)
VOID = {"meta", "br", "link", "img"}

CAR = """vehicle: "<script>alert('car')</script>"
networks:
  body: { interfaces: [can0], sleeps within: 60 s, quiet time: 2 s }
modules:
  roof unit: { networks: [body], ids: [100] }
  boot unit: { networks: [body], ids: [200] }
battery: { type: flooded, capacity: 70 Ah }
"""


class Page(html.parser.HTMLParser):
    """Checks that elements nest, and keeps what a person would read."""

    def __init__(self, text):
        super().__init__()
        self.open, self.faults, self.links, self.scripts, self.text = [], [], [], 0, ""
        self.feed(text)
        self.close()
        if self.open:
            self.faults.append(f"never closed: {self.open}")

    def handle_starttag(self, tag, attributes):
        self.scripts += tag == "script"
        self.links += [v for k, v in attributes if k in ("src", "href", "xlink:href", "action")]
        self.faults += [f"{tag} has {k}" for k, _ in attributes if k.startswith("on")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        pass

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> at {self.getpos()}")

    def handle_data(self, data):
        self.text += data


class Sessions(nodoff.Command):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.addCleanup(self.directory.cleanup)

    def path(self, name):
        return os.path.join(self.directory.name, name)

    def write(self, name, text):
        os.makedirs(os.path.dirname(self.path(name)), exist_ok=True)
        with open(self.path(name), "w", encoding="utf-8", errors="surrogateescape") as file:
            file.write(text)

    def session(self, name, held_until, end, note="", step=0.1, current=True):
        """The roof unit talks until held_until; the recording ends at `end`."""
        base = 1700000000
        frames = "".join(f"({base + i * step:.6f}) can0 100#11\n"
                         for i in range(1, int(held_until / step)))
        frames += "".join(f"({base + i * 0.5:.6f}) can0 200#22\n" for i in range(1, 40))
        lines = sorted(frames.splitlines())
        self.write(f"{name}/frames.log", "\n".join(lines) + "\n")
        self.write(f"{name}/journal.log",
                   f"({base}.000000) locked\n" +
                   (f"({base + 25}.000000) note {note}\n" if note else "") +
                   f"({base + end}.000000) stopped\n")
        self.write(f"{name}/vehicle.yaml", CAR)
        if current:
            self.write(f"{name}/current.log",
                       "".join(f"({base + i}.000000) {1.5 if i < held_until else 0.02:.6f} A\n"
                               for i in range(1, end)))
        return self.path(name)


class Report(Sessions):
    def page(self, *arguments):
        text = self.run_command("report", *arguments, "--out", "-").stdout
        page = Page(text)
        self.assertEqual(page.faults, [])
        self.assertEqual(page.links, [])
        self.assertEqual(page.scripts, 1)
        self.assertNotIn("http://", text.replace("http-equiv", ""))
        self.assertNotIn("https://", text)
        return page.text

    def test_the_page_holds_the_answer(self):
        text = self.page(self.session("car", 300, 300, note="<img src=x onerror=alert(1)>"))
        self.assertIn("kept awake", text)
        self.assertIn("roof unit", text)
        self.assertIn("<script>alert('car')</script>", text)
        self.assertIn("<img src=x onerror=alert(1)>", text)
        self.assertIn("about 18 hours", text)
        self.assertRegex(text, "frames.log.*[0-9a-f]{64}")

    def test_bytes_that_are_no_text(self):
        text = self.page(self.session("car", 300, 300, note="\x1b[31m \udcff ]]> --> &amp;"))
        self.assertIn("]]> --> &amp;", text)
        self.assertNotIn("\x1b", text)

    def test_the_same_session_gives_the_same_bytes(self):
        car = self.session("car", 300, 300)
        self.assertEqual(self.run_command("report", car, "--out", "-").stdout,
                         self.run_command("report", car, "--out", "-").stdout)

    def test_before_and_after(self):
        before = self.session("before", 300, 300)
        text = self.page(self.session("after", 20, 900), "--before", before)
        self.assertIn("Before and after", text)
        self.assertIn("Fixed: ", text)
        self.assertLess(text.index("Fixed: "), text.index("Before: before"))

    def test_a_case_of_several(self):
        text = self.page(self.session("first", 300, 300), self.session("second", 20, 900))
        self.assertIn("Case", text)
        self.assertLess(text.index("first"), text.index("second"))

    def test_a_file_is_replaced_only_when_named(self):
        car, out = self.session("car", 300, 300), self.path("x.html")
        self.assertEqual(self.run_command("report", car, "--out", out).stdout, out + "\n")
        size = os.path.getsize(out)
        self.assertGreater(size, 5000)
        self.assertTrue(os.stat(out).st_mode & stat.S_IRUSR)
        with open(out, "w", encoding="utf-8") as file:
            file.write("old")
        self.run_command("report", car, "--out", out)
        self.assertEqual(os.path.getsize(out), size)
        self.assertEqual(sorted(os.listdir(self.directory.name)), ["car", "x.html"])

        os.chdir(self.directory.name)
        self.addCleanup(os.chdir, "/")
        self.assertEqual(self.run_command("report", car + "/").stdout, "car.html\n")
        self.assertIn("car.html is there already", self.complaint("report", car, status=4))

    def test_what_cannot_be_written_leaves_nothing(self):
        car = self.session("car", 300, 300)
        self.assertIn("nowhere", self.complaint("report", car, "--out",
                                                self.path("nowhere/x.html"), status=4))
        self.assertEqual(os.listdir(self.directory.name), ["car"])

    def test_usage(self):
        self.assertIn("no session", self.complaint("report"))
        self.assertIn("--nothing", self.complaint("report", "--nothing"))
        self.assertIn("usage: nodoff report", self.output("report", "--help"))
        self.complaint("report", self.path("missing"), status=4)


class Timeline(Sessions):
    def test_it_is_as_wide_as_said(self):
        car = self.session("car", 300, 300)
        for width in (40, 80, 200):
            out = self.run_command("timeline", car, "--width", str(width), "--unicode").stdout
            drawn = [line for line in out.splitlines() if line.startswith("body ")]
            self.assertEqual([len(line) for line in drawn], [width])

    def test_in_time_then_late(self):
        # 300 s in 60 columns of 5 s; the deadline is at 60 s.
        out = self.output("timeline", self.session("car", 300, 300), "-a", "-w", "80")
        self.assertIn("body                " + "=" * 12 + "#" * 48 + "\n", out)
        self.assertIn("battery current", out)
        self.assertTrue(out.isascii())

    def test_nothing_reaches_the_terminal_that_it_acts_on(self):
        out = self.output("timeline", self.session("car", 300, 300, note="\x1b[2J \x9b1m a\x07"))
        self.assertNotIn("\x1b", out)
        self.assertNotIn("\x9b", out)
        self.assertIn("note [2J 1m a", out)  # cleaned where it comes in

    def test_the_locale_chooses_the_characters(self):
        car = self.session("car", 300, 300)
        self.assertIn("\N{FULL BLOCK}", self.output("timeline", car))

    def test_usage(self):
        self.assertIn("one session", self.complaint("timeline"))
        self.assertIn("`7`", self.complaint("timeline", "x", "--width", "7"))
        self.assertIn("usage: nodoff timeline", self.output("timeline", "--help"))


class Compare(Sessions):
    def test_fixed_only_after_a_long_sleep(self):
        before = self.session("before", 300, 300)
        found = self.object("compare", before, self.session("short", 20, 300))
        self.assertEqual(found["change"], "better")
        self.assertEqual(found["networks"][0]["needed_s"], 600)
        found = self.object("compare", before, self.session("long", 20, 900))
        self.assertEqual(found["change"], "fixed")
        self.assertLess(found["days"]["before"], 1)
        self.assertGreater(found["days"]["after"], 20)
        out = self.output("compare", before, self.path("long"))
        self.assertTrue(out.startswith("Fixed: "), out)

    def test_the_other_ways(self):
        good, bad = self.session("good", 20, 300), self.session("bad", 300, 300)
        self.assertEqual(self.object("compare", good, bad)["change"], "worse")
        self.assertEqual(self.object("compare", bad, bad)["change"], "no change")
        self.assertEqual(self.object("compare", bad, self.session("short", 30, 30))["change"],
                         "cannot tell")

    def test_a_period_that_changed(self):
        found = self.object("compare", self.session("a", 20, 300),
                            self.session("b", 20, 300, step=0.2))
        self.assertEqual([(i["id"], i["change"]) for i in found["ids"]],
                         [("100", "period changed")])

    def test_usage(self):
        self.assertIn("two sessions", self.complaint("compare", "one"))
        self.assertIn("usage: nodoff compare", self.output("compare", "--help"))


nodoff.main()
