#!/usr/bin/python3
"""Is report.html whole, complete and content with itself? Of a small run, of reliefs alone, and when run again.

report_test.py BIN
"""
import html.parser
import json
import os
import re
import subprocess
import sys
import tempfile
import unittest

sys.dont_write_bytecode = True
HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
import small_case  # noqa: E402

PROGRAM = ""
MOST_BYTES = 5_000_000  # what one still sends by mail without a second thought
VOID = {"meta", "link", "img", "input", "br"}
RELIEF = """
[[relief]]
name = "word"
source = { text = "I", size = "3 mm", depth = "0.3 mm" }
grid = "0.05 mm"
state = { thickness = "0.5 mm", shear_modulus = "100 MPa", pressure = "1 bar" }
"""


class Reader(html.parser.HTMLParser):
    """Collects text, attributes and ids; fails on a tag that is not closed where it should be."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.ids, self.attributes, self.texts, self.faults = [], [], [], [], []
        self.feed(text)
        self.close()
        self.faults += [f"{tag} stays open" for tag in self.open]

    def handle_starttag(self, tag, attrs):
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        self.ids += [value for name, value in attrs if name == "id"]
        if tag not in VOID and not self.get_starttag_text().endswith("/>"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> at {self.getpos()}")

    def handle_data(self, data):
        if not self.open or self.open[-1] not in ("script", "style"):
            self.texts.append(data)


def addresses(reader, text):
    """Everything a browser would go and get."""
    named = [value for _, name, value in reader.attributes if name in ("src", "href", "srcset", "action", "poster")]
    return named + re.findall(r"url\(([^)]*)\)", text) + re.findall(r"@import\s+\S+", text)


class Report(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle-report-")
        cls.case = small_case.write(os.path.join(cls.place.name, "block"), title="Block < 5 & more",
                                    limits='[limits]\nmin_thickness = "0.74 mm"\n')
        cls.out = os.path.join(cls.place.name, "results")
        subprocess.run([PROGRAM, "run", cls.case, "--out", cls.out, "--quiet"], check=True, stdout=subprocess.DEVNULL)
        with open(os.path.join(cls.out, "report.html"), encoding="utf-8") as file:
            cls.text = file.read()
        with open(os.path.join(cls.out, "summary.json"), encoding="utf-8") as file:
            cls.summary = json.load(file)
        cls.reader = Reader(cls.text)

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    def test_every_tag_is_closed_and_no_id_is_there_twice(self):
        self.assertEqual(self.reader.faults, [])
        self.assertEqual(len(self.reader.ids), len(set(self.reader.ids)))
        self.assertTrue(Reader("<p><b></p>").faults, "the check can fail")

    def test_every_finding_is_there(self):
        words = " ".join(" ".join(self.reader.texts).split())
        self.assertGreater(len(self.summary["findings"]), 8)
        for number, finding in enumerate(self.summary["findings"], 1):
            self.assertIn(f"finding-{number}", self.reader.ids)
            for key in ("id", "question", "why", "uncertainty", "advice"):
                self.assertIn(" ".join(finding[key].split()), words, finding["id"])
            if finding["place_mm"]:
                x, y, z = finding["place_mm"]
                # The last digit may be rounded the other way: summary.json has nine, the page one.
                pattern = r"at \((-?[\d.]+), (-?[\d.]+), (-?[\d.]+)\) mm"
                self.assertTrue(any(max(abs(float(a) - b) for a, b in zip(found, (x, y, z))) < 0.051
                                    for found in re.findall(pattern, words)), finding["id"])
        for question in ("Does the sheet form a sound wall?", "Does the detail come out?", "Does the air get out?",
                         "Do the layer lines of the print show?", "Does the mould bear it?",
                         "Does the part come off, and to size?"):
            self.assertIn(question, words)

    def test_a_broken_limit_is_the_verdict(self):
        words = " ".join(self.reader.texts)
        self.assertIn("fail", {f["verdict"] for f in self.summary["findings"]})
        self.assertRegex(words, "Change it first|Do not print it")
        self.assertIn("limit 0.74 mm", words)

    def test_it_asks_for_nothing(self):
        found = addresses(self.reader, self.text)
        self.assertGreater(len(found), 10)
        for address in found:
            self.assertRegex(address.strip("'\" "), r"^(#|data:)")
        self.assertNotRegex(self.text, r"fetch\(|XMLHttpRequest|WebSocket|importScripts|sendBeacon")
        outside = Reader('<img src="http://example.org/a.png" />')
        self.assertEqual(addresses(outside, ""), ["http://example.org/a.png"], "the check can fail")

    def test_pictures_and_plots_are_labelled(self):
        images = [tag for tag, _, _ in self.reader.attributes if tag == "img"]
        alts = [value for tag, name, value in self.reader.attributes if tag == "img" and name == "alt"]
        self.assertGreater(len(set(alts)), 2)
        sources = [value for tag, name, value in self.reader.attributes if tag == "img" and name == "src"]
        self.assertEqual(len(alts), len(sources))
        self.assertGreater(len(images), 4)
        self.assertEqual(self.text.count('role="img"'), self.text.count("<svg "))
        self.assertGreaterEqual(self.text.count("<svg "), 4)

    def test_small_and_with_the_case_and_the_cards(self):
        self.assertLess(os.path.getsize(os.path.join(self.out, "report.html")), MOST_BYTES)
        words = "".join(self.reader.texts)
        with open(os.path.join(self.case, "case.toml"), encoding="utf-8") as file:
            self.assertIn(file.read(), words)
        for text in ("sheet.law.shear_modulus", "from memory", "relief valve", "stiffness"):
            self.assertIn(text, words)

    def test_force_replaces_report_and_script(self):
        done = subprocess.run([PROGRAM, "run", self.case, "--out", self.out, "--quiet", "--force"],
                              stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        with open(os.path.join(self.out, "report.html"), encoding="utf-8") as file:
            again = file.read()
        seconds = r"[\d.]+ s; energy closes"
        self.assertEqual(re.sub(seconds, "", again), re.sub(seconds, "", self.text), "same run, same page")
        self.assertEqual([name for name in os.listdir(self.out) if name.endswith(".tmp")], [])

    def test_a_script_of_another_stays(self):
        out = os.path.join(self.place.name, "other")
        os.makedirs(out)
        with open(os.path.join(out, "open.py"), "w", encoding="utf-8") as file:
            file.write("print('mine')\n")
        done = subprocess.run([PROGRAM, "run", self.case, "--out", out, "--quiet", "--force"],
                              stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        self.assertEqual(done.returncode, 2)
        self.assertIn("open.py", done.stderr)

    def test_reliefs_alone_have_a_page_too(self):
        case = os.path.join(self.place.name, "relief")
        os.makedirs(case)
        with open(os.path.join(case, "case.toml"), "w", encoding="utf-8") as file:
            file.write('title = "Word"\n' + RELIEF)
        out = os.path.join(self.place.name, "relief-results")
        subprocess.run([PROGRAM, "imprint", case, "--out", out, "--quiet"], check=True, stdout=subprocess.DEVNULL)
        with open(os.path.join(out, "report.html"), encoding="utf-8") as file:
            reader = Reader(file.read())
        self.assertEqual(reader.faults, [])
        self.assertIn("relief-1", reader.ids)
        self.assertNotIn("view", reader.ids)
        self.assertIn("Nothing was formed", " ".join(reader.texts))


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop())
    unittest.main()
