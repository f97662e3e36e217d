#!/usr/bin/python3
"""Can everybody use report.html? axe-core (MPL-2.0) looks at the page with all its rules: narrow and wide, light and
dark, with everything folded open, with and without the view. It is fetched by `.ci/install test`; without it this fails.

accessibility_test.py BIN ROOT    the program, the checkout with build/axe
"""
import json
import os
import sys
import unittest
from pathlib import Path

sys.dont_write_bytecode = True
from browser import InBrowser  # noqa: E402

ROOT = Path()
# Returns what breaks a rule, what a person has to look at, and how many rules were met.
ASK = """
const done = arguments[arguments.length - 1];
const brief = (rules) => rules.map((rule) =>
  [rule.id, rule.help, ...rule.nodes.map((node) => node.target.join(" ") + ": " + node.failureSummary)]);
axe.run(document).then((found) => done({ version: axe.version, broken: brief(found.violations),
  unsure: brief(found.incomplete), met: found.passes.length }), (problem) => done({ problem: String(problem) }));
"""


# What the checker leaves open, in these words: report_test.py computes the contrast of every text.
LEFT_OPEN = ("color-contrast", r"could not be determined|too short to determine")


class Accessibility(InBrowser):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        folder = ROOT / "build/axe/node_modules/axe-core"
        if not (folder / "axe.min.js").is_file():
            raise AssertionError("axe-core is not in build/axe: run `bash .ci/install test` where there is a network")
        cls.checker = (folder / "axe.min.js").read_text(encoding="utf-8")
        pinned = json.loads((ROOT / "tests/viewer/axe/package-lock.json").read_text())["packages"]
        cls.version = pinned["node_modules/axe-core"]["version"]

    def ask(self):
        self.run_script(self.checker)
        found = self.browser.execute_async_script(ASK)
        self.assertNotIn("problem", found)
        self.assertEqual(found["version"], self.version)
        return found

    def clean(self, found):
        self.assertEqual(found["broken"], [])
        for rule, _, *places in found["unsure"]:
            self.assertEqual(rule, LEFT_OPEN[0], places)
            for place in places:
                self.assertRegex(place, LEFT_OPEN[1])
        self.assertGreater(found["met"], 30)

    def test_every_width_and_light(self):
        looked_at = 0
        for width in (360, 1600):
            for dark in (False, True):
                with self.subTest(width=width, dark=dark):
                    self.open(width, dark)
                    self.run_script("document.querySelectorAll('details').forEach((part) => { part.open = true })")
                    self.clean(self.ask())
                    looked_at += 1
        self.assertEqual(looked_at, 4)

    def test_without_the_view(self):
        script = self.browser.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {
            "source": "const kept = HTMLCanvasElement.prototype.getContext;"  # the checker itself reads colours with one
                      "HTMLCanvasElement.prototype.getContext = function (kind, ...rest) {"
                      "return kind === 'webgl2' ? null : kept.call(this, kind, ...rest); };"})
        try:
            self.open()
            self.assertNotIn("live", self.browser.find_element("id", "view").get_attribute("class"))
            self.clean(self.ask())
        finally:
            self.browser.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument",
                                         {"identifier": script["identifier"]})

    def test_faults_would_be_seen(self):
        seeded = {
            "select-name": "document.querySelector('#view-field').closest('label').replaceWith("
                           "document.querySelector('#view-field'))",
            "image-alt": "document.querySelector('img.still').removeAttribute('alt');"
                         "document.querySelector('#view').classList.remove('live')",
            "color-contrast": "document.querySelector('.facts').style.color = '#eeeeee'",
            "html-has-lang": "document.documentElement.removeAttribute('lang')",
            "svg-img-alt": "document.querySelector('svg title').remove()",
        }
        for rule, fault in seeded.items():
            with self.subTest(rule):
                self.open()
                self.run_script(fault)
                self.assertIn(rule, [broken[0] for broken in self.ask()["broken"]])


if __name__ == "__main__":
    ROOT = Path(sys.argv.pop()).resolve()
    InBrowser.program = os.path.abspath(sys.argv.pop())
    unittest.main()
