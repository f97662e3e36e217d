#!/usr/bin/python3
"""Do `pellicle chart` and `pellicle calibrate` answer as they say? Tables, files, JSON, and every option's refusal.

chart_test.py BIN CASES
"""
import csv
import json
import subprocess
import sys
import tempfile
import tomllib
import unittest
import xml.etree.ElementTree
from pathlib import Path

sys.dont_write_bytecode = True
import small_case

PROGRAM, CASES = "", Path()
FEW = ["--pressure", "2 bar,4bar", "--thickness", "0.75 mm", "--depth", "0.2 mm, 0.1 mm"]


def run(*arguments):
    return subprocess.run([PROGRAM, *map(str, arguments)], capture_output=True, text=True, timeout=900,
                          stdin=subprocess.DEVNULL)


class WithCase(small_case.Refusals, unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory(prefix="pellicle-chart-")
        self.root = Path(self.place.name)
        self.case = small_case.write(str(self.root / "case"))

    def tearDown(self):
        self.place.cleanup()


class Chart(WithCase):
    def test_files_table_and_json_say_the_same(self):
        out = self.root / "out"
        ran = run("chart", self.case, *FEW, "--out", out)
        self.assertEqual((ran.returncode, ran.stderr), (0, ""))
        self.assertEqual(sorted(p.name for p in out.iterdir()), ["chart.csv", "chart.svg"])
        with open(out / "chart.csv", newline="") as file:
            rows = list(csv.DictReader(file))
        self.assertEqual(len(rows), 2 * 3 * 2)  # pressures, moduli of the card, depths
        self.assertEqual({r["shear_modulus_MPa"] for r in rows}, {"0.2", "0.45", "1"})
        self.assertEqual({r["model"] for r in rows}, {"section"})
        width = {(r["pressure_MPa"], r["shear_modulus_MPa"], r["depth_mm"]): float(r["narrowest_stroke_mm"]) for r in rows}
        compared = 0
        for (p, g, d), w in width.items():  # deeper, stiffer and less pressed strokes have to be wider
            for other in ((p, g, "0.2"), (p, "1", d), ("0.2", g, d)):
                if other != (p, g, d):
                    self.assertGreater(width[other], w)
                    compared += 1
        self.assertGreater(compared, 15)
        # p/G is all that counts: 2 bar on 0.2 MPa and 4 bar on 0.4 MPa would be one; here 2/0.45 < 4/0.45 < 2/0.2.
        self.assertLess(width["0.2", "0.2", "0.1"], width["0.4", "0.45", "0.1"])
        for w in (width["0.2", "0.45", "0.2"], width["0.4", "0.2", "0.1"]):
            self.assertIn(f"{w:.2f}", ran.stdout)
        told = json.loads(run("chart", self.case, *FEW, "--json").stdout)
        self.assertEqual(len(told["strokes"]), len(rows))
        for stroke, row in zip(told["strokes"], rows):
            self.assertAlmostEqual(stroke["narrowest_stroke_mm"], float(row["narrowest_stroke_mm"]), delta=1e-5)
            self.assertEqual(stroke["model"], row["model"])

    def test_picture_is_xml_with_a_curve_a_pressure(self):
        out = self.root / "out"
        self.assertEqual(run("chart", self.case, *FEW, "--out", out, "--quiet").returncode, 0)
        text = (out / "chart.svg").read_text()
        self.assertNotIn("script", text)
        tree = xml.etree.ElementTree.fromstring(text)
        words = [t.text for t in tree.iter("{http://www.w3.org/2000/svg}text")]
        for word in ("2 bar", "4 bar", "width of the stroke (mm)", "depth of the stroke (mm)", "sheet of 0.75 mm"):
            self.assertIn(word, words)
        curves = [p for p in tree.iter("{http://www.w3.org/2000/svg}path") if p.get("stroke-linejoin")]
        self.assertEqual(len(curves), 2)

    def test_stretch_thins_the_sheet_and_a_share_asks_for_less(self):
        few = ["--pressure", "4 bar", "--thickness", "0.75 mm", "--depth", "0.2 mm", "--json"]
        plain, part = (json.loads(run("chart", self.case, *few, *more).stdout)["strokes"][1]
                       for more in ([], ["--share", "0.5"]))
        half = json.loads(run("chart", self.case, *few[:4], "--depth", "0.1 mm", "--json").stdout)["strokes"][1]
        self.assertLess(part["narrowest_stroke_mm"], plain["narrowest_stroke_mm"])
        # Two curves with other points between: 2 %.
        self.assertAlmostEqual(part["narrowest_stroke_mm"] / half["narrowest_stroke_mm"], 1.0, delta=0.02)
        stretched = json.loads(run("chart", self.case, *few, "--stretch", "1.25, 1.2").stdout)
        self.assertEqual((stretched["stretch_across"], stretched["stretch_along"]), (1.25, 1.2))
        self.assertAlmostEqual(stretched["strokes"][1]["thickness_mm"], 0.75 / 1.5)

    def test_earlier_results_stay_without_force_and_others_files_always(self):
        out = self.root / "out"
        self.assertEqual(run("chart", self.case, *FEW, "--out", out).returncode, 0)
        before = (out / "chart.csv").read_bytes()
        self.refused(run("chart", self.case, *FEW, "--out", out), 2, "earlier run", "--force")
        self.assertEqual(run("chart", self.case, *FEW, "--out", out, "--force").returncode, 0)
        self.assertEqual((out / "chart.csv").read_bytes(), before)
        (out / "chart.csv").write_text("mine")
        self.refused(run("chart", self.case, *FEW, "--out", out, "--force"), 2, "chart.csv")
        self.assertEqual((out / "chart.csv").read_text(), "mine")

    def test_wrong_options_are_refused_in_one_line(self):
        for option, value, word in (("--pressure", "2", "without a unit"), ("--pressure", "2 mm", "a length"),
                                    ("--pressure", "0 bar", "0.01 bar"), ("--pressure", "1 bar,", "--pressure"),
                                    ("--thickness", "20 mm", "0.05 mm"), ("--depth", "9 mm", "0.01 mm"),
                                    ("--stretch", "1.2", "two"), ("--stretch", "9,9", "0.5 to 4"),
                                    ("--stretch", "0.9, 1.2", "across^2 along = 0.972"),
                                    ("--stretch", "a,b", "number"), ("--share", "1.5", "0.1 to 1"),
                                    ("--share", "nan", "--share")):
            self.refused(run("chart", self.case, f"{option}={value}"), 2, word)


    def test_pressures_beyond_the_curves_are_told_in_bar(self):
        # Curves are for p/G of 0.01 to 10; gas of 1 to 6 bar on sheet of 0.03 MPa is 3.3 to 20.
        self.set_modulus("0.03 MPa")
        few = ["--thickness", "0.75 mm", "--depth", "0.1 mm", "--json"]
        ran = run("chart", self.case, *few)
        self.assertEqual(ran.returncode, 0, ran.stderr)
        self.assertIn("warning: --pressure: left out 4 bar, 5 bar, 6 bar", ran.stderr)
        self.assertEqual([s["pressure_MPa"] for s in json.loads(ran.stdout)["strokes"]], [0.1, 0.2, 0.3])
        self.assertEqual(run("chart", self.case, *few, "--quiet").stderr, "")
        self.refused(run("chart", self.case, *few, "--pressure", "2 bar, 5 bar"), 2, "--pressure: found 5 bar",
                           "0.003 bar to 3 bar")
        self.set_modulus("5 kPa")
        self.refused(run("chart", self.case, *few), 2, "--pressure", "1 bar, 2 bar", "0.0005 bar to 0.5 bar")

    def test_depths_beyond_the_curves_name_their_option(self):
        self.refused(run("chart", self.case, "--depth", "5 mm", "--thickness", "0.06 mm", "--stretch", "2, 1"), 2,
                           "--depth: found 5 mm in sheet of 0.03 mm", "100 thicknesses")

    def set_modulus(self, text):
        file = Path(self.case) / "case.toml"
        before = file.read_text().split("[sheet.law]")[0]
        file.write_text(f'{before}[sheet.law]\nkind = "neo-hookean"\nshear_modulus = "{text}"\n')


class Calibrate(WithCase):
    def test_the_example_gives_back_what_it_was_made_with(self):
        coupon, out = CASES / "groove-coupon", self.root / "out"
        ran = run("calibrate", coupon, coupon / "measured_example.csv", "--out", out, "--json")
        self.assertEqual((ran.returncode, ran.stderr), (0, ""))
        told = json.loads(ran.stdout)
        modulus = told["shear_modulus_MPa"]
        # Made with 0.38 MPa: noise of 2 % over six grooves, meshes 1 %.
        self.assertAlmostEqual(modulus["likely"] / 0.38, 1.0, delta=0.03)
        self.assertTrue(modulus["low"] < 0.38 < modulus["high"])
        self.assertEqual((told["used"], told["outliers"], len(told["grooves"])), (6, 0, 6))
        card = tomllib.loads((out / "card.toml").read_text())["petg-measured"]
        self.assertEqual(told["card_toml"], (out / "card.toml").read_text())
        self.assertRegex(card["shear_modulus"]["source"], r"measured on a groove coupon, \d{4}-\d\d-\d\d: 6 of 6")
        self.assertAlmostEqual(float(card["shear_modulus"]["likely"].split()[0]), modulus["likely"], delta=6e-4)
        # The lines to paste are a law that the program takes.
        text = (Path(self.case) / "case.toml").read_text() + told["law_toml"]
        (Path(self.case) / "case.toml").write_text(text)
        checked = run("check", self.case, "--json", "--quiet")
        self.assertEqual(checked.returncode, 0, checked.stderr)
        values = {v["key"]: v for v in json.loads(checked.stdout)["values"]}
        self.assertEqual(values["sheet.law.shear_modulus"]["origin"], "case")

    def test_what_is_not_used_is_warned_of(self):
        table = self.root / "grooves.csv"
        table.write_text("width_mm,depth_mm,edge_radius_mm,floor_mm,pressure_bar\n0.8,0.2,0.05,2,3\n"
                         "1.0,0.29,0.05,2,3\n0.9,0.30,0.05,0.3,3\n")
        ran = run("calibrate", self.case, table)
        self.assertEqual(ran.returncode, 0, ran.stderr)
        self.assertIn("warning: groove 3, 0.9 mm wide: the sheet reached the floor", ran.stderr)
        self.assertIn("median of 2 grooves", ran.stdout)
        self.assertIn("[sheet.law]", ran.stdout)
        self.assertIn("run --spread takes the band", ran.stdout)
        self.assertNotIn("forming window", ran.stderr)
        text = (Path(self.case) / "case.toml").read_text()
        (Path(self.case) / "case.toml").write_text(text.replace("140 °C", "60 °C"))
        self.assertIn("forming window", run("calibrate", self.case, table).stderr)  # the case is doubted as by check
        self.assertEqual([p.name for p in self.root.iterdir() if p.is_dir()], ["case"])

    def test_wrong_tables_are_refused_in_one_line(self):
        table = self.root / "grooves.csv"
        for text, word in (("", "no groove"), ("width_mm,depth\n", "unknown column"), ("width_mm,depth_mm\n1,x\n", ":2"),
                           ("width_mm,depth_mm\n0.5,0.1\n", "1 that can be used"),
                           ("width_mm,depth_mm,floor_mm\n0.5,0.1,0.1\n0.5,0.1,1\n", "groove 1: the sheet reached")):
            table.write_text(text)
            self.refused(run("calibrate", self.case, table), 2, word)
        self.refused(run("calibrate", self.case, self.root / "none.csv"), 2, "no such file")
        self.refused(run("calibrate", self.case), 2, "MEASURED")


if __name__ == "__main__":
    PROGRAM, CASES = sys.argv[1], Path(sys.argv[2])
    unittest.main(argv=sys.argv[:1])
