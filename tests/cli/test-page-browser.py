# SPDX-License-Identifier: MIT
"""nodoff page in a real browser (Debian's Chromium, headless): what the person sees and taps."""
import os
import queue
import sys
import unittest

try:
    from selenium import webdriver
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys
    from selenium.webdriver.support.ui import WebDriverWait
except ImportError:
    print("needs python3-selenium", file=sys.stderr)
    sys.exit(77)
if not os.path.exists("/usr/bin/chromedriver"):
    print("needs chromium-driver", file=sys.stderr)
    sys.exit(77)

from nodoff import PROGRAM, main
from page_rig import NOW, PATIENCE, Page, StandIn, scratch

FLAGS = ("--headless=new --no-sandbox --disable-gpu --disable-quic --no-first-run "
         "--disable-background-networking --disable-component-update --disable-sync "
         "--disable-dev-shm-usage").split()


def open_browser():
    options = webdriver.ChromeOptions()
    for flag in FLAGS:
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    return webdriver.Chrome(options=options,
                            service=webdriver.chrome.service.Service("/usr/bin/chromedriver"))


class Browser(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.browser = open_browser()
        cls.addClassCleanup(cls.browser.quit)

    def setUp(self):
        directory = scratch()
        self.addCleanup(directory.cleanup)
        self.socket = os.path.join(directory.name, "socket")
        self.daemon = StandIn(self.socket)
        self.addCleanup(self.daemon.close)
        self.page = Page(PROGRAM, "--socket", self.socket)
        self.addCleanup(lambda: self.page.process.poll() is None and self.page.end())
        self.look(390, 844)
        self.browser.get(self.page.url)
        self.until("roof unit keeps body awake", "#sentence")

    def look(self, width, height, scheme="light"):
        self.browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600})
        self.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {
            "features": [{"name": "prefers-color-scheme", "value": scheme}]})

    def one(self, selector):
        return self.browser.find_element(By.CSS_SELECTOR, selector)

    def text(self, selector):
        return self.browser.execute_script(
            "return document.querySelector(arguments[0])?.textContent ?? ''", selector)

    def until(self, words, selector):
        WebDriverWait(self.browser, PATIENCE, 0.05).until(
            lambda _: words in self.text(selector), f"{words!r} not in {selector}")

    def mark(self):
        return self.daemon.marks.get(timeout=PATIENCE)

    def no_mark(self):
        with self.assertRaises(queue.Empty):
            self.daemon.marks.get_nowait()

    def offline(self, off):
        self.browser.execute_cdp_cmd("Network.enable", {})
        self.browser.execute_cdp_cmd("Network.emulateNetworkConditions", {
            "offline": off, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1})

    def test_a_glance_tells_state_time_current_suspect_and_what_to_do(self):
        self.assertEqual(self.text("#verdict"), "kept awake: body")
        self.assertIn("late by 1:0", self.text("#networks"))
        self.assertIn("awake", self.text("#networks"))
        self.assertEqual(self.text("#current"), "2.10 A")
        self.assertEqual(self.text("#suspect"), "roof unit 97 %")
        self.assertEqual(self.text("#where"), "pull F12, cabin")
        self.assertEqual(self.text("#cautions"), "Mind the alarm.")
        # in view without scrolling: what to do stands above the buttons
        below = self.one("#where").rect
        self.assertLess(below["y"] + below["height"], self.one("#buttons").rect["y"])

    def test_it_fits_every_width_and_the_hand(self):
        for width, height in ((360, 640), (390, 844), (430, 932), (1280, 800)):
            self.look(width, height)
            WebDriverWait(self.browser, PATIENCE, 0.05).until(  # it is laid out anew
                lambda b: b.execute_script("return innerWidth") == width)
            wide, widest = self.browser.execute_script(
                "return [document.documentElement.scrollWidth, [...document.body.querySelectorAll('*')]"
                ".filter(e => e.getBoundingClientRect().right > innerWidth)"
                ".map(e => e.outerHTML.slice(0, 200))]")
            self.assertLessEqual(wide, width, widest)
            for button in self.browser.find_elements(By.CSS_SELECTOR, "#buttons button"):
                self.assertGreaterEqual(button.rect["height"], 48)
                self.assertGreaterEqual(button.rect["x"], 0)
                self.assertLessEqual(button.rect["x"] + button.rect["width"], width)

    def test_dark_and_light_differ_and_can_be_read(self):
        seen = set()
        for scheme in ("light", "dark"):
            self.look(390, 844, scheme)
            ink, ground = self.browser.execute_script(
                "const s = getComputedStyle(document.body); return [s.color, s.backgroundColor]")
            seen.add(ground)
            self.assertGreater(contrast(ink, ground), 7)  # WCAG 2.1, 1.4.6
        self.assertEqual(len(seen), 2)

    def test_pulled_offers_the_proposed_fuse_first_and_keeps_the_moment(self):
        self.one("[data-ask=isolated]").click()
        choices = self.browser.find_elements(By.CSS_SELECTOR, "#sheet-choices button")
        self.assertEqual([c.text.split("\n")[0] for c in choices], ["F12", "F14"])
        pressed = self.browser.execute_script("return Date.now()")
        choices[0].click()
        mark = self.mark()
        self.assertEqual((mark["kind"], mark["subject"]), ("isolated", "F12"))
        self.assertLess(abs(mark["time_ns"] / 1e6 - pressed), 5000)

    def test_only_what_is_out_can_be_put_back(self):
        self.daemon.tell(out=["F14"])
        WebDriverWait(self.browser, PATIENCE, 0.05).until(
            lambda b: b.execute_script("return view.out.length"))
        self.one("[data-ask=refitted]").click()
        choices = self.browser.find_elements(By.CSS_SELECTOR, "#sheet-choices button")
        self.assertEqual([c.text.split("\n")[0] for c in choices], ["F14"])
        choices[0].click()
        self.assertEqual(self.mark()["subject"], "F14")

    def test_by_keyboard_alone(self):
        self.one("[data-ask=note]").send_keys(Keys.ENTER)
        self.one("#sheet-typed").send_keys("wind moves the tailgate", Keys.ENTER)
        mark = self.mark()
        self.assertEqual((mark["kind"], mark["subject"]), ("note", "wind moves the tailgate"))
        self.one("[data-ask=note]").send_keys(Keys.ENTER)
        self.one("#sheet-typed").send_keys(Keys.ESCAPE)
        self.no_mark()

    def test_unlocked_asks_once_and_locked_does_not(self):
        self.one("[data-sure=unlocked]").click()
        self.no_mark()
        self.one("#sheet-choices button").click()
        self.assertEqual(self.mark()["kind"], "unlocked")
        self.one("[data-mark=locked]").click()
        self.assertEqual(self.mark()["kind"], "locked")

    def test_a_question_of_the_traffic_is_a_card(self):
        self.daemon.tell(questions=[{
            "text": "14:03:12: seven messages stopped at once: F12?", "time_ns": NOW - 10**9,
            "answers": [{"label": "yes, F12", "kind": "isolated", "subject": "F12"},
                        {"label": "another", "another": True},
                        {"label": "nothing was done", "kind": "nothing done"}]}])
        self.until("F12?", "#asks")
        self.one("#asks button").click()
        mark = self.mark()
        self.assertEqual((mark["kind"], mark["subject"], mark["time_ns"]),
                         ("isolated", "F12", NOW - 10**9))
        self.assertEqual(self.text("#asks"), "")

    def test_a_tap_out_of_reach_waits_and_arrives_once_with_its_moment(self):
        self.offline(True)
        pressed = self.browser.execute_script("return Date.now()")
        self.one("[data-mark=locked]").click()
        self.one("[data-ask=isolated]").click()
        self.one("#sheet-choices button").click()
        self.until("2 marks wait", "#waiting")
        self.no_mark()
        self.offline(False)
        first, second = self.mark(), self.mark()
        self.assertEqual([first["kind"], second["kind"]], ["locked", "isolated"])
        self.assertLess(abs(first["time_ns"] / 1e6 - pressed), 3000)
        self.until("", "#waiting")
        self.no_mark()

    def test_after_a_restart_the_new_link_brings_what_waited(self):
        port = self.page.port
        self.page.end()
        self.until("out of reach", "#link")
        self.one("[data-mark=locked]").click()
        self.until("1 mark waits", "#waiting")
        self.page = Page(PROGRAM, "--socket", self.socket, port=port)
        self.until("scan the code", "#link")
        self.browser.get(self.page.url)
        self.assertEqual(self.mark()["kind"], "locked")
        self.no_mark()

    def test_it_rings_when_a_network_sleeps(self):
        bell = self.one("#bell")
        self.assertEqual(bell.get_attribute("aria-pressed"), "false")
        bell.click()
        self.assertEqual(bell.get_attribute("aria-pressed"), "true")
        network = dict(self.daemon.view["networks"][0], state="asleep")
        self.daemon.tell(networks=[network], verdict="sleeps in time")
        self.until("asleep", "#networks")
        self.assertEqual(self.browser.execute_script("return document.documentElement.dataset.rang"),
                         "asleep")

    def test_with_something_out_it_says_what_that_shows_and_what_the_hand_is_to_do(self):
        out = {"subject": "F12", "since_ns": NOW - 100 * 10**9, "until_ns": NOW + 3600 * 10**9,
               "network": "body", "result": "undecided", "text": ""}
        self.daemon.tell(waits=[out], out=["F12"], next="F12 is out: leave it out and wait.")
        self.until("F12 is out: wait 59:", "#verdict")
        self.assertEqual(self.text("#where"), "leave F12 out")
        self.daemon.tell(waits=[dict(out, result="unchanged")], out=["F12"],
                         next="Put F12 back and mark it. Isolate fuse F14.")
        self.until("not F12: nothing changed", "#verdict")
        self.assertEqual(self.text("#where"), "put F12 back")
        asleep = dict(self.daemon.view["networks"][0], state="asleep", since_ns=NOW - 60 * 10**9)
        self.daemon.tell(waits=[out], out=["F12"], networks=[asleep], next="Put F12 back, mark it")
        self.until("body sleeps without F12", "#verdict")
        self.assertEqual(self.text("#where"), "put F12 back")
        # back, and to be watched: the fuse that proved it is not proposed again
        self.daemon.tell(next="F12 is back since 14:03:12: wait until 14:05:12 and touch nothing.")
        self.until("F12 is back", "#next")
        self.assertEqual(self.text("#where"), "")

    def test_asleep_by_now_is_not_called_kept_awake(self):
        asleep = dict(self.daemon.view["networks"][0], state="asleep")
        self.daemon.tell(networks=[asleep])
        self.until("asleep now, kept awake before", "#verdict")

    def test_while_nobody_listens_it_says_so(self):
        network = dict(self.daemon.view["networks"][0], listening=False, state="asleep")
        self.daemon.tell(networks=[network])
        self.until("not listening to body", "#verdict")
        self.assertNotIn("asleep", self.text("#networks"))

    def test_a_reader_of_the_screen_finds_names(self):
        tree = self.browser.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
        named = {(n["role"]["value"], n.get("name", {}).get("value", "")) for n in tree
                 if "role" in n and not n.get("ignored")}
        for role, name in (("button", "pulled"), ("button", "put back"), ("button", "undo"),
                           ("navigation", "Put into the journal"), ("heading", "Next"),
                           ("region", "Networks"), ("region", "What is known")):
            self.assertIn((role, name), named)
        self.assertFalse([n for n in named if n[0] == "button" and not n[1]])

    def tearDown(self):
        blocked = [entry for entry in self.browser.get_log("browser")
                   if "Content Security" in entry["message"] or "Uncaught" in entry["message"]]
        self.assertEqual(blocked, [])


def contrast(ink, ground):
    """WCAG 2.1, definition of contrast ratio, of two rgb(...) colours."""
    def luminance(colour):
        parts = [int(part) / 255 for part in colour[4:-1].split(",")]
        linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    high, low = sorted((luminance(ink), luminance(ground)), reverse=True)
    return (high + 0.05) / (low + 0.05)


main()
