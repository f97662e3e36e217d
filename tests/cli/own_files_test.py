#!/usr/bin/python3
"""Are the files a case brings along, a card of its own and a map of the heater, found, kept, told of and never deleted?
And does a case without any card come to its end?

own_files_test.py PROGRAM
"""
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
import unittest
from pathlib import Path

sys.dont_write_bytecode = True
import small_case

PROGRAM = ""
HERE = Path(__file__).resolve().parent
TENSILE = HERE.parent.parent / "cases" / "cards" / "tensile_example.csv"
VARY = '[[vary]]\nkey = "sheet.thickness"\nvalues = ["0.5 mm", "0.75 mm"]\n'
HEAT = 'resin = "standard"\ntemperature = "30 °C"'
MAP = '3 mm"\ntemperature_map = { table = "heater.csv" }\nclamp_temperature = "90 °C"\ncold_rim = "3 mm'
PRINTED = 'resin = "high-temperature"\nwall = "1 mm"\ncycle = { hold = "20 s", open = "5 min" }'


class OwnFiles(small_case.Refusals, unittest.TestCase):
    def setUp(self):
        place = tempfile.TemporaryDirectory(prefix="pellicle-own-")
        self.addCleanup(place.cleanup)
        self.root = Path(place.name)

    def program(self, *words):
        return subprocess.run([PROGRAM, *map(str, words)], cwd=self.root, capture_output=True, text=True, timeout=600)

    def ran(self, *words):
        done = self.program(*words)
        self.assertEqual(done.returncode, 0, done.stderr)
        return done

    def case(self, card=None, heater=None, **changes):
        """`card`: what sheet.polymer says; `heater`: rows of the map."""
        case = Path(small_case.write(str(self.root / "case"), **changes))
        if card:
            text = (case / "case.toml").read_text()
            (case / "case.toml").write_text(text.replace('polymer     = "petg"', f'polymer     = "{card}"'))
        if heater:
            (case / "heater.csv").write_text("x_mm,y_mm,temperature_C\n" + heater)
        return case

    def make_card(self):
        """A folder that `fit` has written: card/card.toml and card/fit.svg."""
        self.ran("fit", TENSILE, "--like", "petg", "--out", "card", "--quiet")
        return (self.root / "card" / "card.toml").read_text()

    def test_a_sweep_finds_them_from_the_folders_of_its_cases(self):
        card = self.make_card()
        case = self.case("mine.toml", "-20,0,130\n20,0,150\n0,20,140\n", element=MAP, mould=HEAT, limits=VARY)
        (case / "mine.toml").write_text(card)
        done = self.ran("sweep", case, "--out", "sweep", "--quiet", "--jobs", "1", "--threads", "1")
        self.assertIn("2 of 2 cases done", done.stdout)
        for folder in ("001", "002"):
            self.assertEqual((self.root / "sweep" / folder / "results" / "sheet_card.toml").read_text(), card)

    def test_a_run_goes_on_with_the_card_it_began_with_alone(self):
        card = self.make_card()
        case = self.case("../card/card.toml", element="1 mm", duration="2 s")
        process = subprocess.Popen([PROGRAM, "run", str(case), "--quiet", "--out", "out", "--save-every", "0 s"],
                                   cwd=self.root, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        out, end = self.root / "out", time.monotonic() + 300
        while not (out / "checkpoint.h5").exists():
            self.assertLess(time.monotonic(), end)
            time.sleep(0.02)
        process.send_signal(signal.SIGTERM)
        _, stderr = process.communicate(timeout=300)
        self.assertEqual(process.returncode, 130, stderr)
        kept = out / "sheet_card.toml"
        self.assertEqual(kept.read_text(), card)
        kept.write_text(card.replace('likely = "0.32', 'likely = "0.33'))
        self.assertNotEqual(kept.read_text(), card)
        before = sorted((path.name, path.stat().st_mtime_ns) for path in out.iterdir())
        self.refused(self.program("resume", "out", "--quiet"), 2, "sheet_card.toml", "another card", "run the case again")
        self.assertEqual(sorted((path.name, path.stat().st_mtime_ns) for path in out.iterdir()), before)
        kept.write_text(card)
        self.ran("resume", "out", "--quiet")
        self.assertTrue((out / "report.html").exists())

    def test_force_never_takes_a_case_with_its_card(self):
        card = self.make_card()
        case = self.case("sheet_card.toml")
        (case / "sheet_card.toml").write_text(card)
        (case / "block.stl").unlink()  # what is left has names of results
        other = small_case.write(str(self.root / "other"))
        self.refused(self.program("run", other, "--quiet", "--out", case, "--force"), 2, "case.toml")
        self.assertEqual(sorted(path.name for path in case.iterdir()), ["case.toml", "sheet_card.toml"])

    def test_no_command_deletes_the_card_it_reads(self):
        card = self.make_card()
        case = self.case("../card/card.toml")
        grooves = self.root / "grooves.csv"
        grooves.write_text("width_mm,depth_mm,edge_radius_mm,floor_mm,pressure_bar\n0.8,0.2,0.05,2,3\n"
                           "1.0,0.29,0.05,2,3\n")
        few = ["--pressure", "2 bar", "--thickness", "0.75 mm", "--depth", "0.2 mm"]
        for words in (["calibrate", case, grooves], ["check", case], ["chart", case, *few], ["run", case]):
            self.refused(self.program(*words, "--quiet", "--out", "card", "--force"), 2, "card.toml", "which this run reads")
            self.assertEqual((self.root / "card" / "card.toml").read_text(), card)
        with open(case / "case.toml", encoding="utf-8") as file:
            text = file.read()
        (case / "case.toml").write_text(text.replace("../card/card.toml", "petg"))
        self.ran("check", case, "--quiet", "--out", "card", "--force")  # of those that do not read it it is the result

    def test_check_reads_the_map_of_the_heater(self):
        case = self.case(None, "-20,0,100\n20,0,120\n0,20,110\n", element=MAP, mould=HEAT)
        told = json.loads(self.ran("check", case, "--json", "--quiet").stdout)
        # Moving least squares of an even slope is that slope: 110 °C in the middle of the disc.
        words = "sheet.temperature_map has a mean of 110 °C over the sheet, sheet.temperature is 140 °C"
        self.assertEqual(sum(warning.startswith(words) for warning in told["warnings"]), 1, told["warnings"])
        (case / "heater.csv").write_text("x_mm,y_mm,temperature_C\n-20,0,hot\n")
        self.refused(self.program("check", case, "--quiet"), 2, "heater.csv:2")

    def test_a_law_without_a_card_comes_to_its_end_on_a_printed_mould(self):
        law = 'density = "1.2 g/cm^3"\n[sheet.law]\nkind = "neo-hookean"\nshear_modulus = "0.3 MPa"\n'
        case = self.case(mould=PRINTED)
        text = (case / "case.toml").read_text().replace('polymer     = "petg"\n', "").replace("\n[mould]", law + "\n[mould]")
        (case / "case.toml").write_text(text)
        findings = {f["id"]: f for f in json.loads(self.ran("run", case, "--json", "--out", "out").stdout)["findings"]}
        self.assertIn("no card", findings["mould_temperature"]["why"])
        page = (self.root / "out" / "report.html").read_text()
        self.assertIn('id="mould_stress"', page)
        self.assertNotIn('id="mould_peak"', page)


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(verbosity=2)
