#!/usr/bin/python3
"""Does report.html work in a browser, from disk and offline? Chromium without a window, driven by selenium.

report_test.py BIN [KEEP]    KEEP: a folder for the screenshots

Besides accessibility_test.py, which asks a checker: names of controls and pictures, order of headings, heads of tables,
unique ids, contrast of every text in light and dark, what the Tab key reaches.
"""
import base64
import os
import sys
import time
import unittest

import numpy
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

sys.dont_write_bytecode = True
from browser import coloured_share, CONTRAST, InBrowser, pixels  # noqa: E402


class Report(InBrowser):
    def test_opens_without_a_complaint_and_without_a_request(self):
        self.open()
        self.assertEqual(self.browser.get_log("browser"), [])
        asked = [line["message"] for line in self.browser.get_log("performance")
                 if '"Network.requestWillBeSent"' in line["message"]]
        self.assertGreaterEqual(len(asked), 1, "the page itself is told, so others would be")
        for line in asked:
            self.assertRegex(line, r'"url":"(file:///[^"]*report\.html|data:)')
        self.assertEqual(self.run_script("return document.title"), "Block < 5 & more")

    def test_a_console_error_would_be_seen(self):
        self.open()
        self.run_script("setTimeout(() => { throw new Error('seeded') })")
        time.sleep(0.2)
        self.assertIn("seeded", str(self.browser.get_log("browser")))

    def test_the_view_draws_and_follows_field_moment_and_hand(self):
        self.open()
        view = self.browser.find_element(By.ID, "view")
        self.assertIn("live", view.get_attribute("class"))
        canvas = self.browser.find_element(By.CSS_SELECTOR, "#view canvas")
        first = self.canvas_pixels("first")
        self.assertGreater(coloured_share(first), 0.2)
        self.assertGreater(len(numpy.unique((first[..., :3] * 15).astype(int).reshape(-1, 3), axis=0)), 12)

        choice = Select(self.browser.find_element(By.ID, "view-field"))
        self.assertGreaterEqual(len(choice.options), 4)
        legend = self.browser.find_element(By.CSS_SELECTOR, "#view .legend").text
        choice.select_by_value("contact_pressure")
        other = self.canvas_pixels("pressure")
        self.assertGreater(float((numpy.abs(other - first).max(axis=2) > 0.1).mean()), 0.05)
        self.assertGreater(coloured_share(other), 0.05)
        self.assertNotEqual(self.browser.find_element(By.CSS_SELECTOR, "#view .legend").text, legend)
        self.assertIn("bar", self.browser.find_element(By.CSS_SELECTOR, "#view .legend").text)

        ActionChains(self.browser).drag_and_drop_by_offset(canvas, 150, 60).perform()
        turned = self.canvas_pixels("turned")
        self.assertGreater(float((numpy.abs(turned - other).max(axis=2) > 0.1).mean()), 0.05)
        self.assertGreater(coloured_share(turned), 0.05)

        choice.select_by_value("thickness")
        self.run_script("const s = document.getElementById('view-moment'); s.value = 0;"
                        "s.dispatchEvent(new Event('input'));")
        flat = self.canvas_pixels("flat")
        spread = flat[flat[..., :3].max(axis=2) - flat[..., :3].min(axis=2) > 0.1][:, :3].std(axis=0).max()
        self.assertLess(spread, 0.05, "the flat sheet has one thickness and one light")
        self.assertGreater(coloured_share(flat), 0.2)
        self.assertEqual(self.browser.get_log("browser"), [])

    def test_the_mould_is_shown_below_the_sheet(self):
        self.open()
        alone = self.canvas_pixels("alone")
        box = self.browser.find_element(By.ID, "view-mould")
        self.assertFalse(box.is_selected())
        box.click()
        both = self.canvas_pixels("with mould")
        changed = numpy.abs(both - alone).max(axis=2) > 0.1
        self.assertGreater(float(changed.mean()), 0.2, "the sheet is see-through")
        # Over the middle of the block the sheet's colour is half the mould's grey: less of it than alone, but some.
        rows, columns = [slice(int(0.4 * n), int(0.5 * n)) for n in both.shape[:2]]
        strength = [numpy.ptp(picture[rows, columns, :3], axis=2).mean() for picture in (alone, both)]
        self.assertTrue(0.3 * strength[0] < strength[1] < 0.7 * strength[0], strength)
        self.assertIn("over the mould", self.browser.find_element(By.CSS_SELECTOR, "#view canvas").accessible_name)

        # Before the sheet comes down it is flat: seen from the side the block is all there is below it.
        self.run_script("const s = document.getElementById('view-moment'); s.value = 0;"
                        "s.dispatchEvent(new Event('input'));")
        self.browser.find_element(By.ID, "view-side").click()
        side = self.canvas_pixels("side with mould")
        box.click()
        without = self.canvas_pixels("side without")
        grey = (numpy.ptp(side[..., :3], axis=2) < 0.05) & (numpy.abs(side - without).max(axis=2) > 0.1)
        high, wide = grey.any(axis=1).sum(), grey.any(axis=0).sum()
        # The block is 12 mm wide and 4 mm high.
        self.assertTrue(2.7 < wide / high < 3.3, (wide, high))
        self.assertGreater(int(grey.sum()), 0.7 * high * wide)
        self.assertEqual(self.browser.get_log("browser"), [])

    def test_a_value_is_read_by_mouse_and_by_keyboard(self):
        self.open()
        canvas = self.browser.find_element(By.CSS_SELECTOR, "#view canvas")
        ActionChains(self.browser).move_to_element(canvas).perform()
        value = self.browser.find_element(By.ID, "view-value")
        pattern = r"^wall thickness 0\.\d+ mm at \(-?[\d.]+, -?[\d.]+, -?[\d.]+\) mm$"
        self.assertRegex(value.text, pattern)
        thickness = float(value.text.split()[2])
        self.assertTrue(0.3 < thickness <= 0.75, "between a hand's guess and what was bought")
        before = self.canvas_pixels("before keys")
        canvas.send_keys(Keys.ARROW_LEFT, Keys.ARROW_LEFT, "+")
        self.assertRegex(value.text, pattern)
        self.assertGreater(float((numpy.abs(self.canvas_pixels("after keys") - before).max(axis=2) > 0.1).mean()), 0.02)
        canvas.send_keys(Keys.HOME)
        ActionChains(self.browser).send_keys(Keys.TAB).perform()
        self.assertLess(float((numpy.abs(self.canvas_pixels("home") - before).max(axis=2) > 0.1).mean()), 0.005)

    def test_without_webgl_the_picture_stays(self):
        script = self.browser.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {
            "source": "HTMLCanvasElement.prototype.getContext = () => null;"})
        try:
            self.open()
            self.assertNotIn("live", self.browser.find_element(By.ID, "view").get_attribute("class"))
            still = self.browser.find_element(By.CSS_SELECTOR, "#view .still")
            self.assertTrue(still.is_displayed())
            self.assertGreater(coloured_share(pixels(still.screenshot_as_png)), 0.2)
            self.assertFalse(self.browser.find_element(By.CSS_SELECTOR, "#view .controls").is_displayed())
            self.assertEqual(self.browser.get_log("browser"), [])
        finally:
            self.browser.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument",
                                         {"identifier": script["identifier"]})

    def test_picture_and_view_show_the_same(self):
        self.open()
        live = self.canvas_pixels("live")
        self.run_script("document.getElementById('view').classList.remove('live');"
                        "document.querySelector('#view .still').style.visibility = '';"
                        "document.querySelector('#view canvas').style.display = 'none';")
        self.drawn()
        still = pixels(self.browser.find_element(By.CSS_SELECTOR, "#view .stage").screenshot_as_png)
        height, width = min(live.shape[0], still.shape[0]), min(live.shape[1], still.shape[1])
        off = numpy.abs(live[:height, :width, :3] - still[:height, :width, :3]).max(axis=2)
        # Edges are softened differently and the still is scaled up: a twentieth of the pixels may differ.
        self.assertLess(float((off > 0.12).mean()), 0.05)

    def test_fits_phone_and_desk_in_light_and_dark(self):
        looked_at = 0
        for width in (360, 1600):
            for dark in (False, True):
                with self.subTest(width=width, dark=dark):
                    self.open(width, dark)
                    self.keep_page(f"page {width} {'dark' if dark else 'light'}")
                    wide = self.run_script("return document.documentElement.scrollWidth")
                    self.assertLessEqual(wide, width, "nothing sticks out to the side")
                    faint = [text for text in self.run_script(CONTRAST) if text[0] < 4.5]
                    self.assertEqual(faint, [])
                    self.assertGreater(len(self.run_script(CONTRAST)), 100)
                    small = [text for text in self.run_script(CONTRAST) if text[2] < 11.9]
                    self.assertEqual(small, [], "px; text within plots shrinks with them and is set larger")
                    looked_at += 1
        self.assertEqual(looked_at, 4)

    def test_prints_on_a4(self):
        self.open()
        self.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        self.drawn()
        self.assertTrue(self.browser.find_element(By.CSS_SELECTOR, "#view .still").is_displayed())
        self.assertFalse(self.browser.find_element(By.CSS_SELECTOR, "#view canvas").is_displayed())
        paper = base64.b64decode(self.browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})["data"])
        self.assertTrue(paper.startswith(b"%PDF"))
        # 210 x 297 mm in points of 1/72 inch, rounded as the browser does.
        self.assertRegex(paper.decode("latin-1"), r"/MediaBox \[0 0 59[45][\d.]* 84[12][\d.]*\]")
        pages = paper.count(b"/Type /Page\n") + paper.count(b"/Type /Page ")
        self.assertTrue(2 <= pages <= 12, f"{pages} pages")

    def test_names_heads_and_order(self):
        self.open()
        nameless = self.run_script("""
            const name = (e) => (e.getAttribute('aria-label') || e.alt || e.textContent
              || [...(e.labels || [])].map((label) => label.textContent).join('') || '').trim();
            return [...document.querySelectorAll('a, button, select, input, canvas, [role=region], [role=application]')]
              .filter((e) => !name(e)).map((e) => e.outerHTML.slice(0, 80));""")
        self.assertEqual(nameless, [])
        # Pictures have a text; the colour bar's is empty, as its numbers stand beside it.
        alts = self.run_script("return [...document.images].map((i) => [i.className, i.getAttribute('alt')])")
        self.assertGreaterEqual(len(alts), 6)
        for kind, alt in alts:
            self.assertEqual(bool(alt), kind != "bar", (kind, alt))
        for svg in self.browser.find_elements(By.CSS_SELECTOR, "svg"):
            self.assertEqual(svg.get_attribute("role"), "img")
            self.assertTrue(svg.find_element(By.CSS_SELECTOR, "title").get_attribute("textContent"))
        levels = [int(tag[1]) for tag in self.run_script(
            "return [...document.querySelectorAll('h1, h2, h3, h4')].map((h) => h.tagName)")]
        self.assertEqual(levels.count(1), 1)
        self.assertTrue(all(b - a <= 1 for a, b in zip(levels, levels[1:])), levels)
        self.assertEqual(self.run_script(
            "return [...document.querySelectorAll('th')].filter((h) => !h.scope).length"), 0)
        self.assertEqual(self.run_script(
            "return [...document.querySelectorAll('table')].filter((t) => !t.caption).length"), 0)
        self.assertEqual(self.run_script("return document.documentElement.lang"), "en")
        self.assertEqual(self.run_script("""
            const ids = [...document.querySelectorAll('[id]')].map((e) => e.id);
            return ids.filter((id, i) => ids.indexOf(id) !== i)"""), [])
        broken = self.run_script("""
            return [...document.querySelectorAll('[aria-labelledby], [aria-describedby], [for]')].flatMap((e) =>
              ['aria-labelledby', 'aria-describedby', 'for'].map((name) => e.getAttribute(name))
                .filter((id) => id && !document.getElementById(id)))""")
        self.assertEqual(broken, [])

    def test_the_tab_key_reaches_everything_and_shows_where_it_is(self):
        self.open()
        reached, unseen = set(), []
        for _ in range(80):
            ActionChains(self.browser).send_keys(Keys.TAB).perform()
            here = self.run_script("""
                const e = document.activeElement, style = getComputedStyle(e);
                return [e.tagName + '#' + e.id + '.' + e.className, style.outlineStyle !== 'none'
                  && parseFloat(style.outlineWidth) >= 2]""")
            if here[0].startswith("BODY"):
                break
            reached.add(here[0])
            if not here[1]:
                unseen.append(here[0])
        self.assertEqual(unseen, [])
        for wanted in ("SELECT#view-field.", "INPUT#view-moment.", "BUTTON#view-top.", "CANVAS#.", "A#.skip",
                       "DIV#.scroll"):
            self.assertIn(wanted, reached)


if __name__ == "__main__":
    if len(sys.argv) > 2:
        InBrowser.keep = os.path.abspath(sys.argv.pop())
    InBrowser.program = os.path.abspath(sys.argv.pop())
    unittest.main()
