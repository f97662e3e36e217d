#!/usr/bin/python3
"""Which pictures of a result do the pages for users show? Made from a result folder by Chromium and ParaView.

pictures.py RESULTS FOLDER [page]    writes report_answer.png, report_view.png, paraview.png; with `page` the whole page
"""
import os
import subprocess
import sys
from pathlib import Path

from PIL import Image
from selenium.webdriver.common.by import By

sys.dont_write_bytecode = True
from browser import InBrowser  # noqa: E402


class Pictures(InBrowser):
    @classmethod
    def of(cls, results):
        cls.page = "file://" + str((results / "report.html").resolve()).replace(" ", "%20")
        cls.start()
        return cls()

    def taken(self, path, left, top, width, height):
        shot = self.shot({"x": left, "y": top, "width": width, "height": height, "scale": 1})
        path.write_bytes(shot)
        smaller(path)

    def rectangle(self, css):
        return self.run_script("const r = document.querySelector(arguments[0]).getBoundingClientRect();"
                               "return [r.left + scrollX, r.top + scrollY, r.width, r.height]", css)

    def answer(self, path):
        """The top of the page to the end of the answer."""
        self.open(1200)
        left, top, width, height = self.rectangle("#answer")
        self.taken(path, 0, 0, 1200, top + height + 16)

    def view(self, path):
        self.open(1200)
        self.browser.find_element(By.ID, "view-mould").click()
        self.drawn()
        left, top, width, height = self.rectangle("#view")
        self.taken(path, left, top, width, height)

    def whole(self, path):
        self.open(1200)
        width, height = self.run_script("return [document.documentElement.clientWidth,"
                                        "document.documentElement.scrollHeight]")
        self.taken(path, 0, 0, width, height)


def smaller(path):
    Image.open(path).convert("RGB").save(path, optimize=True)


def main(results, folder, *more):
    pages = Pictures.of(results)
    try:
        if "page" in more:
            return pages.whole(folder / f"{results.name}.png")
        pages.answer(folder / "report_answer.png")
        pages.view(folder / "report_view.png")
    finally:
        pages.browser.quit()
    paper = (folder / "paraview.png").resolve()
    subprocess.run(["pvpython", str(results / "open.py"), str(paper)], check=True,
                   env={key: value for key, value in os.environ.items() if key != "DISPLAY"})
    smaller(paper)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), *sys.argv[3:])
