# SPDX-License-Identifier: MIT
"""nodoff page by HTTP: who may see it, what a phone gets, where a tap goes."""
import concurrent.futures
import json
import os
import unittest

from nodoff import Command, PROGRAM, WRAPPER, main
from page_rig import NOW, PATIENCE, ROOT, Page, StandIn, scratch


class Live(unittest.TestCase):
    def setUp(self):
        self.directory = scratch()
        self.addCleanup(self.directory.cleanup)
        self.socket = os.path.join(self.directory.name, "socket")
        self.daemon = StandIn(self.socket)
        self.addCleanup(self.daemon.close)
        self.page = Page(PROGRAM, "--socket", self.socket, wrapper=WRAPPER)
        self.addCleanup(lambda: self.page.process.poll() is None and self.page.end())

    def test_the_page_asks_for_nothing_from_elsewhere(self):
        for name, kind in (("", "text/html"), ("page.css", "text/css"), ("taps.js", "text/javascript"),
                           ("page.js", "text/javascript")):
            status, headers, text = self.page.request(name)
            self.assertEqual(status, 200)
            self.assertIn(kind, headers["Content-Type"])
            self.assertIn("default-src 'none'", headers["Content-Security-Policy"])
            self.assertNotIn("unsafe", headers["Content-Security-Policy"])
            self.assertEqual(headers["Cache-Control"], "no-store")
            self.assertIsNone(headers["Set-Cookie"])
            self.assertNotIn("://", text)
            self.assertNotIn("cookie", text)

    def test_without_the_key_there_is_nothing(self):
        key = self.page.url.split("/")[3]
        for wrong in ("", "x", key[:-1], key + "x", key[:-1] + ("a" if key[-1] != "a" else "b"),
                      key.upper()):
            self.page.url = f"http://127.0.0.1:{self.page.port}/{wrong}/"
            for name in ("", "page.js", "events", "map"):
                status, _, text = self.page.request(name)
                self.assertEqual(status, 403, wrong)
                self.assertNotIn("body", text)
            self.assertEqual(self.page.request("tap", b"{}")[0], 403)
        self.assertTrue(self.daemon.marks.empty())

    def test_a_tap_goes_into_the_journal_with_its_own_moment(self):
        self.assertEqual(self.page.tap(time_ms=NOW // 10**6 - 38000), (200, {"ok": True}))
        mark = self.daemon.marks.get(timeout=PATIENCE)
        self.assertEqual((mark["do"], mark["kind"], mark["subject"], mark["time_ns"]),
                         ("mark", "isolated", "F12", NOW - 38 * 10**9))

    def test_a_tap_sent_twice_is_one_mark(self):
        for _ in range(3):
            self.assertEqual(self.page.tap(id="b-1")[0], 200)
        self.assertEqual(self.page.tap(id="b-2", kind="refitted")[0], 200)
        self.assertEqual([self.daemon.marks.get(timeout=PATIENCE)["kind"] for _ in range(2)],
                         ["isolated", "refitted"])
        self.assertTrue(self.daemon.marks.empty())

    def test_what_nodoffd_refuses_is_said(self):
        self.daemon.refuse = "no session is being recorded; start one first"
        self.assertEqual(self.page.tap(), (400, {"error": self.daemon.refuse}))
        self.daemon.refuse = None
        self.assertEqual(self.page.tap()[0], 200)

    def test_taps_that_are_none_are_refused(self):
        for wrong in ({"id": ""}, {"id": "x" * 64}, {"id": 7}, {"kind": None}, {"subject": 1},
                      {"time_ms": "now"}, {"time_ms": 2**62}):
            status, said = self.page.tap(**wrong)
            self.assertEqual(status, 400, wrong)
            self.assertTrue(said["error"])
        json_type = {"Content-Type": "application/json"}
        self.assertEqual(self.page.request("tap", b"{", json_type)[0], 400)
        self.assertEqual(self.page.request("tap", b"x" * 5000, json_type)[0], 413)
        self.assertEqual(self.page.request("tap", b"{}", {"Content-Type": "text/plain"})[0], 415)
        self.assertEqual(self.page.request("tap", method="PUT")[0], 405)
        self.assertEqual(self.page.request("page.png")[0], 404)
        self.assertTrue(self.daemon.marks.empty())

    def test_while_nodoffd_is_away_taps_are_not_taken_and_then_they_are(self):
        events = self.page.events()
        self.assertEqual(next(events)[0], "view")
        self.daemon.close()
        self.assertEqual(next(events)[0], "gone")
        self.assertEqual(self.page.tap()[0], 503)
        self.daemon.open()
        while next(events)[0] != "view":
            pass
        self.assertEqual(self.page.tap()[0], 200)
        self.assertEqual(self.daemon.marks.get(timeout=PATIENCE)["subject"], "F12")
        events.close()

    def test_twenty_phones_see_the_same(self):
        phones = [self.page.events() for _ in range(20)]
        with concurrent.futures.ThreadPoolExecutor(20) as pool:
            for _, seen in pool.map(next, phones):
                self.assertEqual(seen["sentence"], "roof unit keeps body awake (97 % sure).")
            self.daemon.tell(sentence="All asleep.")
            for _, seen in pool.map(next, phones):
                self.assertEqual(seen["sentence"], "All asleep.")
        for phone in phones:
            phone.close()

    def test_the_map_is_nodoffds(self):
        self.assertEqual([fuse["name"] for fuse in json.loads(self.page.request("map")[2])["fuses"]],
                         ["F12", "F14"])

    def test_it_ends_when_told_to(self):
        events = self.page.events()
        next(events)
        self.assertEqual(self.page.end(), 0)
        events.close()


class Replay(unittest.TestCase):
    def test_a_recording_is_played_to_its_end_and_taps_are_judged(self):
        page = Page(PROGRAM, "--speed", "2000", str(ROOT / "captures/holder-autosar"), wrapper=WRAPPER)
        try:
            for _, seen in page.events():
                if seen["speed"] == 0:
                    break
            self.assertEqual(seen["verdict"], "kept awake")
            self.assertEqual(seen["suspects"][0]["name"], "seat heater unit")
            self.assertTrue(seen["practice"])
            self.assertEqual(page.tap(subject="F06", time_ms=seen["now_ns"] // 10**6)[0], 200)
            for _, seen in page.events():
                if seen["out"]:
                    break
            self.assertEqual(seen["out"], ["F06"])
            self.assertEqual(page.tap(id="q", kind="gap")[0], 400)
        finally:
            page.end()


class Refusals(Command):
    def test_a_wrong_command_line_is_told(self):
        self.assertIn("is not an address", self.complaint("page", "--on", "nowhere"))
        self.assertIn("is not an address", self.complaint("page", "--on", "127.0.0.1:99999"))
        self.assertIn("is not a number", self.complaint("page", "--speed", "0"))
        self.assertIn("is not expected", self.complaint("page", "a", "b"))
        self.assertIn("No such file", self.complaint("page", "/nowhere", status=4))
        self.assertIn("nodoffd", self.complaint("page", "--socket", "/nowhere", status=4))
        self.assertIn("cannot listen", self.complaint(
            "page", "--on", "203.0.113.7:1", str(ROOT / "captures/healthy"), status=4))


main()
