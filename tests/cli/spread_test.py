#!/usr/bin/python3
"""Does --spread put low, likely, high beside the answers, and is it told when a side run fails or is stopped?

spread_test.py BIN
"""
import json
import math
import os
import signal
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import jsonschema

sys.dont_write_bytecode = True
HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
import small_case  # noqa: E402

PROGRAM = ""
SCHEMA = json.loads((HERE.parent.parent / "docs" / "summary.schema.json").read_text())

# A deep slot between flat lands under stiff sheet: it is pressed in by a hundredth of its width, the lands touch as
# before, so depth goes as p/G (docs/theory/screening.md, 1).
SLOT = ('[[relief]]\nname = "slot"\nsource = {{ profile = "slot.csv", kind = "strip" }}\nperiodic = true\n'
        'state = {{ thickness = "0.5 mm", shear_modulus = "{modulus}", pressure = "1 bar" }}\n')
PROFILE = "x_mm,z_mm\n0,0\n1,0\n1.01,-0.3\n1.49,-0.3\n1.5,0\n2.5,0\n"


class Spread(small_case.Refusals, unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory(prefix="pellicle-spread-")
        self.root = Path(self.place.name)

    def tearDown(self):
        self.place.cleanup()

    def program(self, *words):
        return subprocess.run([PROGRAM, *map(str, words)], cwd=self.root, capture_output=True, text=True, timeout=600)

    def summary(self, *words):
        done = self.program(*words, "--json", "--quiet")
        self.assertEqual(done.returncode, 0, done.stderr)
        summary = json.loads(done.stdout)
        jsonschema.validate(summary, SCHEMA)
        return summary

    def slot(self, name, modulus):
        folder = self.root / name
        folder.mkdir()
        (folder / "case.toml").write_text(SLOT.format(modulus=modulus))
        (folder / "slot.csv").write_text(PROFILE)
        return folder

    def test_relief_in_proportion_to_pressure_over_stiffness(self):
        # Without a card G is taken within a factor of 1.5, p within 10 %, gauge within 10 %; the gauge's share is what
        # two runs with other thickness say. Proportional to p/G: up 0.5 and 0.1, down 1/3 and 0.1. Tolerance 3 % of the
        # depth: each is a cross-section, solved to a percent.
        def depth(folder):
            return self.summary("imprint", folder, "--out", f"{folder}-out")["reliefs"][0]["capture"]
        likely = self.summary("imprint", self.slot("slot", "20 MPa"), "--spread", "--out", "spread-out")
        relief = likely["reliefs"][0]
        gauge = []
        for name, thickness in (("thin", "0.45 mm"), ("thick", "0.55 mm")):
            folder = self.slot(name, "20 MPa")
            text = (folder / "case.toml").read_text().replace("0.5 mm", thickness)
            (folder / "case.toml").write_text(text)
            gauge.append(depth(folder) / relief["capture"] - 1)
        up = math.hypot(0.5, 0.1, max(*gauge, 0))
        down = math.hypot(1 / 3, 0.1, min(*gauge, 0))
        self.assertGreater(relief["capture"], 1e-3)
        self.assertAlmostEqual(relief["capture_high"] / relief["capture"], 1 + up, delta=0.03)
        self.assertAlmostEqual(relief["capture_low"] / relief["capture"], 1 - down, delta=0.03)
        self.assertEqual(relief["moved_by"], "stiffness of the hot sheet")
        finding = next(f for f in likely["findings"] if f["id"] == "relief_slot")
        self.assertLess(finding["low"], finding["value"])
        self.assertEqual(likely["spread"]["side_runs"], 7)
        self.assertEqual(likely["spread"]["element_mm"], 0)

    def test_run_has_bands_on_every_finding_with_a_value(self):
        case = small_case.write(str(self.root / "case"))
        plain = self.summary("run", case, "--out", "plain")
        with_bands = self.summary("run", case, "--spread", "--out", "bands")
        self.assertNotIn("spread", plain)
        self.assertNotIn("low", plain["findings"][0])
        self.assertGreater(len(with_bands["findings"]), 5)
        told = " ".join(with_bands["spread"]["remarks"])
        banded = 0
        for before, after in zip(plain["findings"], with_bands["findings"], strict=True):
            self.assertEqual(before["value"], after["value"], "the answer itself stays")
            if after["value"] is None or f"finding {after['id']}: no band" in told:
                continue
            self.assertLessEqual(after["low"], after["value"])
            self.assertGreaterEqual(after["high"], after["value"])
            banded += 1
        self.assertGreater(banded, 5)
        wall = next(f for f in with_bands["findings"] if f["id"] == "mean_wall")
        # Gauge counts in full: 10 % either way at least.
        self.assertLess(wall["low"], 0.905 * wall["value"])
        self.assertEqual(with_bands["spread"]["element_mm"], 4.5)
        page = (self.root / "bands" / "report.html").read_text()
        self.assertIn('<section id="spread"', page)
        self.assertNotIn('<section id="spread"', (self.root / "plain" / "report.html").read_text())
        text = self.program("run", case, "--spread", "--out", "text", "--quiet").stdout
        self.assertIn("moved most by", text)

    def test_the_resin_moves_the_mould_and_nothing_is_formed_for_it(self):
        case = small_case.write(str(self.root / "case"), element="4 mm", mould='resin = "standard"\nwall = "1.5 mm"')
        summary = self.summary("run", case, "--spread", "--out", "out")
        spread = summary["spread"]
        names = [number["name"] for number in spread["numbers"]]
        for name in ("strength of the resin", "modulus of the resin", "heat conductivity of the sheet",
                     "heat passed to the mould where they touch", "friction of the part on the mould"):
            self.assertIn(name, names)
        # Likely, stiffness 2, temperature 2, gauge 2, pressure 2, friction 1: no heat is followed.
        self.assertEqual(spread["formed"], 10)
        self.assertEqual(spread["side_runs"], spread["wanted"])
        self.assertGreater(spread["wanted"], 40)
        stress = next(f for f in summary["findings"] if f["id"] == "mould_stress")
        self.assertLess(stress["limit_low"], stress["limit"])
        self.assertGreater(stress["limit_high"], stress["limit"])
        # Near its deflection temperature the resin bears what its temperature lets it, before all else.
        self.assertTrue({stress["limit_moved_by"], *stress["limit_moved_too"]} <= set(names))
        tear = next(f for f in summary["findings"] if f["id"] == "tear")
        self.assertEqual((tear["limit_low"], tear["limit_high"]), (2.6, 6.0))  # the card's
        text = self.program("run", case, "--spread", "--out", "text", "--quiet").stdout
        self.assertIn("mould_stress, its limit", text)
        self.assertIn("What to measure first", text)

    def test_stopped_side_runs_leave_a_finished_run(self):
        case = small_case.write(str(self.root / "case"), element="1 mm")
        out = self.root / "out"
        process = subprocess.Popen([PROGRAM, "run", case, "--spread", "--out", str(out)], stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, text=True)
        for line in process.stderr:
            if "side run" in line:
                break
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=300)
        self.assertEqual(process.returncode, 130, errors)
        summary = json.loads((out / "summary.json").read_text())
        self.assertTrue(summary["spread"]["stopped"])
        self.assertNotIn("low", summary["findings"][0])
        self.assertTrue(any("was stopped after" in warning for warning in summary["warnings"]))
        self.assertFalse((out / "checkpoint.h5").exists())

    def test_law_of_the_case_says_how_far_it_may_be_off(self):
        case = Path(small_case.write(str(self.root / "case")))
        text = (case / "case.toml").read_text()
        law = '[sheet.law]\nkind = "neo-hookean"\nshear_modulus = "0.3 MPa"\nspread = {}\n'
        (case / "case.toml").write_text(text.replace("[mould]", law.format(1.2) + "[mould]"))
        numbers = self.summary("run", case, "--spread", "--out", "out")["spread"]["numbers"]
        self.assertEqual((numbers[0]["low"], numbers[0]["high"]), ("0.25 MPa", "0.36 MPa"))
        (case / "case.toml").write_text(text.replace("[mould]", law.format(0.5) + "[mould]"))
        self.refused(self.program("check", case), 2, "sheet.law.spread", "1 to 10")


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv[1])
    unittest.main(argv=sys.argv[:1])
