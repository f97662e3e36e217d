"""How do tests look at a report? A small run's report.html, opened from disk by Chromium without a window."""
import base64
import io
import os
import subprocess
import sys
import tempfile
import unittest

import matplotlib.image
from selenium import webdriver
from selenium.webdriver.common.by import By

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "cli"))
import small_case  # noqa: E402

RELIEF = """
[[relief]]
name = "word"
source = { text = "I", size = "3 mm", depth = "0.3 mm" }
grid = "0.05 mm"
state = { thickness = "0.5 mm", shear_modulus = "100 MPa", pressure = "1 bar" }
"""

# Ratio of every visible text to what lies behind it, WCAG 2.1: (L1 + 0.05) / (L2 + 0.05).
CONTRAST = """
const linear = (v) => v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4;
const light = (c) => 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
const parts = (text) => (text.match(/[\\d.]+/g) || []).map(Number);
const behind = (element) => {
  for (; element; element = element.parentElement) {
    const c = parts(getComputedStyle(element).backgroundColor);
    if (c.length === 3 || c[3] > 0.9) return c;
  }
  return [255, 255, 255];
};
const found = [];
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walker.nextNode()) {
  const text = walker.currentNode.textContent.trim(), element = walker.currentNode.parentElement;
  if (!text || element.closest("script, style, [hidden], option, details:not([open]) > :not(summary)")) continue;
  const style = getComputedStyle(element);
  if (style.display === "none" || !element.getClientRects().length) continue;
  const inSvg = element.closest("svg"), a = light(parts(inSvg ? style.fill : style.color));
  const b = light(inSvg ? parts(getComputedStyle(inSvg.querySelector("rect")).fill) : behind(element));
  found.push([(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), text.slice(0, 50), parseFloat(style.fontSize)]);
}
return found;
"""


def pixels(png):
    """Height x width x 4, from 0 to 1."""
    return matplotlib.image.imread(io.BytesIO(png), format="png")


def coloured_share(picture):
    """Share of pixels that are neither grey nor white: the sheet's colours."""
    rgb = picture[..., :3]
    return float(((rgb.max(axis=2) - rgb.min(axis=2)) > 0.1).mean())


class InBrowser(unittest.TestCase):
    program, keep = "", None  # the program; a folder for screenshots

    @classmethod
    def setUpClass(cls):
        # A blank and an accent in the path, as on the desks of our users.
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle kräuter ")
        case = small_case.write(os.path.join(cls.place.name, "block"), title="Block < 5 & more", frames=6)
        with open(os.path.join(case, "case.toml"), "a", encoding="utf-8") as file:
            file.write(RELIEF)
        out = os.path.join(cls.place.name, "results")
        subprocess.run([cls.program, "run", case, "--out", out, "--quiet"], check=True, stdout=subprocess.DEVNULL)
        cls.page = "file://" + os.path.join(out, "report.html").replace(" ", "%20")
        cls.start()

    @classmethod
    def start(cls):
        options = webdriver.ChromeOptions()
        for word in ("--headless=new", "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
                     "--hide-scrollbars", "--window-size=1600,1000"):
            options.add_argument(word)
        options.binary_location = "/usr/bin/chromium"
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        cls.browser = webdriver.Chrome(service=webdriver.chrome.service.Service("/usr/bin/chromedriver"),
                                       options=options)
        cls.browser.set_script_timeout(60)

    @classmethod
    def tearDownClass(cls):
        cls.browser.quit()
        cls.place.cleanup()

    def open(self, width=1600, dark=False):
        """A fresh page of this width. The logs before it are dropped."""
        send = self.browser.execute_cdp_cmd
        send("Emulation.setDeviceMetricsOverride",
             {"width": width, "height": 1000, "deviceScaleFactor": 1, "mobile": width < 500})
        send("Emulation.setEmulatedMedia",
             {"media": "", "features": [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]})
        for kind in ("browser", "performance"):
            self.browser.get_log(kind)
        self.browser.get(self.page)
        self.drawn()

    def run_script(self, text, *arguments):
        return self.browser.execute_script(text, *arguments)

    def drawn(self):
        """Waits for two pictures of the screen: what was asked for before is then drawn."""
        self.browser.execute_async_script(
            "const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() => done()));")

    def canvas_pixels(self, name):
        """What the live canvas shows, and nothing else: the picture behind and the marks before it are hidden."""
        self.run_script("document.querySelector('#view .still').style.visibility = 'hidden';"
                        "document.querySelectorAll('#view .mark').forEach((mark) => mark.style.visibility = 'hidden');")
        self.drawn()
        png = self.browser.find_element(By.CSS_SELECTOR, "#view canvas").screenshot_as_png
        if self.keep:
            with open(os.path.join(self.keep, name + ".png"), "wb") as file:
                file.write(png)
        return pixels(png)

    def keep_page(self, name):
        if not self.keep:
            return
        size = self.run_script("return [document.documentElement.clientWidth, document.documentElement.scrollHeight]")
        with open(os.path.join(self.keep, name + ".png"), "wb") as file:
            file.write(self.shot({"x": 0, "y": 0, "width": size[0], "height": size[1], "scale": 1}))

    def shot(self, clip):
        """PNG of a part of the page, in px of the page."""
        return base64.b64decode(self.browser.execute_cdp_cmd(
            "Page.captureScreenshot", {"captureBeyondViewport": True, "clip": clip})["data"])
