#!/usr/bin/python3
"""Does compare.html work in a browser, from disk and offline? Chromium without a window, driven by selenium.

compare_test.py BIN [KEEP]    KEEP: a folder for the screenshots
"""
import base64
import os
import subprocess
import sys
import tempfile
import unittest

from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

sys.dont_write_bytecode = True
HERE = os.path.dirname(os.path.abspath(__file__))
sys.path[:0] = [HERE, os.path.join(HERE, "..", "cli")]
from browser import CONTRAST, InBrowser, coloured_share, pixels  # noqa: E402
import small_case  # noqa: E402


class Compared(InBrowser):
    @classmethod
    def setUpClass(cls):
        # A blank and an accent in the path, as on the desks of our users.
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle kräuter ")
        root = cls.place.name
        results = []
        for name, limits in (("a", ""), ("b", '[limits]\nmin_thickness = "0.74 mm"\n')):
            case = small_case.write(os.path.join(root, name), title=f"Block < {name} & more", limits=limits,
                                    pressure="1 bar" if name == "a" else "0.6 bar")
            results.append(os.path.join(root, name + "-results"))
            cls.call("run", case, "--out", results[-1], "--quiet")
        walls = os.path.join(root, "walls.csv")
        with open(walls, "w", encoding="utf-8") as file:
            file.write("name,x_mm,y_mm,z_mm,thickness_mm\n<top>,0,0,4,0.7\nedge,4,0,4,0.62\nfar,0,0,30,0.7\n,6,0,0.5,0.3\n")
        cls.pages = {}
        for name, other in (("runs", results[1]), ("part", walls)):
            out = os.path.join(root, name)
            cls.call("compare", results[0], other, "--out", out)
            cls.pages[name] = "file://" + os.path.join(out, "compare.html").replace(" ", "%20")
        cls.start()

    @classmethod
    def call(cls, *arguments):
        subprocess.run([cls.program, *arguments], check=True, stdout=subprocess.DEVNULL)

    def open(self, name, width=1600, dark=False):
        self.page = self.pages[name]
        super().open(width, dark)

    def test_opens_without_a_complaint_and_without_a_request(self):
        for name in self.pages:
            self.open(name)
            self.assertEqual(self.browser.get_log("browser"), [])
            asked = [line["message"] for line in self.browser.get_log("performance")
                     if '"Network.requestWillBeSent"' in line["message"]]
            self.assertGreaterEqual(len(asked), 1, "the page itself is told, so others would be")
            for line in asked:
                self.assertRegex(line, r'"url":"(file:///[^"]*compare\.html|data:)')
        self.assertEqual(self.run_script("return document.title"), "Block < a & more: measured")

    def test_pictures_are_drawn_in_their_colours(self):
        self.open("runs")
        seen = 0
        for still in self.browser.find_elements(By.CSS_SELECTOR, "figure .still"):
            self.run_script("document.querySelectorAll('.mark').forEach((mark) => mark.style.visibility = 'hidden');")
            self.assertGreater(coloured_share(pixels(still.screenshot_as_png)), 0.02, still.get_attribute("alt"))
            seen += 1
        self.assertGreaterEqual(seen, 5)

    def test_fits_phone_and_desk_in_light_and_dark(self):
        looked_at = 0
        for name in self.pages:
            for width in (360, 1600):
                for dark in (False, True):
                    with self.subTest(name=name, width=width, dark=dark):
                        self.open(name, width, dark)
                        self.keep_page(f"{name} {width} {'dark' if dark else 'light'}")
                        wide = self.run_script("return document.documentElement.scrollWidth")
                        self.assertLessEqual(wide, width, "nothing sticks out to the side")
                        texts = self.run_script(CONTRAST)
                        self.assertEqual([text for text in texts if text[0] < 4.5], [])
                        self.assertEqual([text for text in texts if text[2] < 11.9], [])
                        self.assertGreater(len(texts), 40)
                        looked_at += 1
        self.assertEqual(looked_at, 8)

    def test_names_heads_and_order(self):
        for name in self.pages:
            self.open(name)
            for kind, alt in self.run_script(
                    "return [...document.images].map((i) => [i.className, i.getAttribute('alt')])"):
                self.assertEqual(bool(alt), kind != "bar", (kind, alt))
            levels = [int(tag[1]) for tag in self.run_script(
                "return [...document.querySelectorAll('h1, h2, h3, h4')].map((h) => h.tagName)")]
            self.assertEqual(levels.count(1), 1)
            self.assertTrue(all(b - a <= 1 for a, b in zip(levels, levels[1:])), levels)
            self.assertEqual(self.run_script(
                "return [...document.querySelectorAll('th')].filter((h) => !h.scope || !h.textContent.trim()).length"), 0)
            self.assertEqual(self.run_script(
                "return [...document.querySelectorAll('table')].filter((t) => !t.caption).length"), 0)
            self.assertEqual(self.run_script("""
                const ids = [...document.querySelectorAll('[id]')].map((e) => e.id);
                return ids.filter((id, i) => ids.indexOf(id) !== i)"""), [])
            self.assertEqual(self.run_script("""
                return [...document.querySelectorAll('[aria-labelledby], a[href^="#"]')].map((e) =>
                  e.getAttribute('aria-labelledby') || e.getAttribute('href').slice(1))
                  .filter((id) => !document.getElementById(id))"""), [])

    def test_the_tab_key_reaches_links_and_tables(self):
        self.open("runs")
        reached = set()
        for _ in range(30):
            ActionChains(self.browser).send_keys(Keys.TAB).perform()
            here = self.run_script("return document.activeElement.tagName + '.' + document.activeElement.className")
            if here.startswith("BODY"):
                break
            reached.add(here)
        self.assertLessEqual({"A.skip", "A.", "DIV.scroll"}, reached)

    def test_prints_on_a4(self):
        self.open("runs")
        paper = base64.b64decode(self.browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})["data"])
        self.assertTrue(paper.startswith(b"%PDF"))
        pages = paper.count(b"/Type /Page\n") + paper.count(b"/Type /Page ")
        self.assertTrue(2 <= pages <= 8, f"{pages} pages")


if __name__ == "__main__":
    if len(sys.argv) > 2:
        InBrowser.keep = os.path.abspath(sys.argv.pop())
    InBrowser.program = os.path.abspath(sys.argv.pop())
    unittest.main()
