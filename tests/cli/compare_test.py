#!/usr/bin/python3
"""Does `pellicle compare` tell what differs between two results, and between a result and measured walls?

compare_test.py BIN
"""
import csv
import glob
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest

import h5py
import numpy as np

sys.dont_write_bytecode = True
HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
import report_test  # noqa: E402
import small_case  # noqa: E402

PROGRAM = ""
MOULD = re.compile(r"\[mould\].*?\n\n", re.S)
ERROR_MM = 0.005


def last_frame(results):
    name = sorted(glob.glob(os.path.join(results, "sheet_*.h5")))[-1]
    with h5py.File(name) as frame:
        return {"points": frame["points_mm"][:].astype(float), "flat": frame["node/flat_mm"][:].astype(float),
                "wall": frame["node/thickness_mm"][:].astype(float), "triangles": frame["triangles"][:]}


def picked(sheet, radius_mm=12.0, every=7):
    """Numbers of some nodes on and round the block."""
    near = np.flatnonzero(np.hypot(*sheet["points"][:, :2].T) < radius_mm)
    return near[::every]


class Compare(small_case.Refusals, unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle-compare-")
        cls.root = cls.place.name
        cls.block = cls.formed("block", element="2 mm")
        cls.thicker = cls.formed("thicker", lambda text: text.replace('"0.75 mm"', '"0.825 mm"'), element="2 mm")

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    @classmethod
    def formed(cls, name, change=lambda text: text, **changes):
        """Results of the little case, its text changed."""
        case = small_case.write(os.path.join(cls.root, name + "-case"), **changes)
        path = os.path.join(case, "case.toml")
        with open(path, encoding="utf-8") as file:
            text = file.read()
        with open(path, "w", encoding="utf-8") as file:
            file.write(change(text))
        out = os.path.join(cls.root, name)
        subprocess.run([PROGRAM, "run", case, "--quiet", "--out", out], check=True, stdout=subprocess.DEVNULL)
        return out

    @classmethod
    def dome(cls, name, gauge):
        """A free bubble of one volume."""
        law = 'density = "1250 kg/m^3"\nlaw = { kind = "neo-hookean", shear_modulus = "0.3 MPa" }\n'
        return cls.formed(name, lambda text: re.sub(r"polymer .*\n", law, MOULD.sub("", text)).replace(
            'pressure = "1 bar"', 'volume = "8 cm^3"').replace('"0.75 mm"', f'"{gauge} mm"'), height="30 mm")

    def program(self, *arguments):
        return subprocess.run([PROGRAM, "compare", *arguments], cwd=self.root, capture_output=True, text=True,
                              timeout=600)

    def told(self, *arguments):
        done = self.program(*arguments, "--json")
        self.assertEqual(done.returncode, 0, done.stderr)
        return json.loads(done.stdout)

    def table(self, name, header, rows):
        path = os.path.join(self.root, name)
        with open(path, "w", encoding="utf-8") as file:
            file.write(header + "\n" + "".join(",".join(str(cell) for cell in row) + "\n" for row in rows))
        return path

    def walls_of(self, results, name, factor=1.0, offset_mm=0.0, noise=True):
        """A table as if measured on a part like that in `results`."""
        sheet, random = last_frame(results), np.random.default_rng(5)
        rows = [(*sheet["points"][i], sheet["wall"][i] * factor + offset_mm + noise * ERROR_MM * random.normal(), ERROR_MM)
                for i in picked(sheet)]
        self.assertGreater(len(rows), 12)
        return self.table(name, "x_mm,y_mm,z_mm,thickness_mm,thickness_error_mm", rows)

    # Two results.

    def test_a_result_differs_from_itself_in_nothing(self):
        out = os.path.join(self.root, "itself")
        told = self.told(self.block, self.block, "--out", out)
        self.assertEqual((told["changes"], told["notes"]), ([], []))
        self.assertGreater(len(told["answers"]), 8)
        self.assertEqual({a["turned"] for a in told["answers"]}, {"same"})
        self.assertEqual({a["change"] for a in told["answers"] if a["change"] is not None}, {0})
        for where in ("part", "sheet"):
            self.assertEqual([told["wall"][where][k] for k in ("mean_mm", "rms_mm", "worst_mm")], [0, 0, 0])
        self.assertEqual(told["wall"]["ratio"], 1)
        self.assertEqual(sorted(os.listdir(out)), ["compare.h5", "compare.html", "compare.xdmf"])
        with h5py.File(os.path.join(out, "compare.h5")) as file:
            self.assertEqual(np.abs(file["node/thickness_b_less_a_mm"][:]).max(), 0)
            self.assertEqual(np.abs(file["node/touched_b_less_a"][:]).max(), 0)
            depth = file["node/stroke_depth_b_less_a_mm"][:]
            self.assertEqual(np.nanmax(np.abs(depth)), 0)
            self.assertGreater(np.isfinite(depth).sum(), 3)

    def test_a_free_dome_of_one_volume_is_as_much_thicker_as_its_gauge(self):
        one, other = self.dome("dome1", 1.0), self.dome("dome2", 1.1)
        told = self.told(one, other)
        # The membrane's balance is linear in the gauge, so the shape for a volume is one. What is left is how still the
        # run is at its end, below 1e-3 of the wall.
        self.assertAlmostEqual(told["wall"]["ratio"], 1.1, delta=1e-3)
        a, b = last_frame(one), last_frame(other)
        self.assertLess(a["wall"].min(), 0.9, "it is stretched")
        np.testing.assert_allclose(b["wall"] / a["wall"], 1.1, rtol=3e-3)
        self.assertEqual(told["wall"]["part"]["area_share"], 1)
        self.assertEqual([(c["key"], c["a"], c["b"]) for c in told["changes"]],
                         [("sheet.thickness", "1 mm", "1.1 mm")])

    def test_two_meshes_of_one_case_tell_the_same_walls(self):
        finer = self.formed("finer", element="1.3 mm")
        told = self.told(self.block, finer)
        self.assertIn("sheet.element", [c["key"] for c in told["changes"]])
        self.assertNotEqual(len(last_frame(self.block)["wall"]), len(last_frame(finer)["wall"]))
        # Over the sheet the volume is one: what thins here is thicker there. 2 mm on a block of 9 mm is coarse.
        self.assertLess(abs(told["wall"]["sheet"]["mean_mm"]), 0.02)
        self.assertGreater(told["wall"]["sheet"]["rms_mm"], 0)
        self.assertEqual(told["wall"]["sheet"]["area_share"], 1, "the rims cover each other")
        self.assertEqual(told["notes"], [])

    def test_a_linear_field_would_be_read_right(self):
        """The walls of B at A's nodes, by a second route: barycentric by numpy in the flat sheet."""
        finer = self.formed("finer2", element="1.7 mm")
        out = os.path.join(self.root, "second-route")
        self.told(self.block, finer, "--out", out)
        a, b = last_frame(self.block), last_frame(finer)
        with h5py.File(os.path.join(out, "compare.h5")) as file:
            in_b = file["node/thickness_b_mm"][:]
        corners = b["flat"][b["triangles"]]
        edge1, edge2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        area = edge1[:, 0] * edge2[:, 1] - edge1[:, 1] * edge2[:, 0]
        checked = 0
        for i in range(0, len(a["flat"]), 5):
            p = a["flat"][i] - corners[:, 0]
            u = (p[:, 0] * edge2[:, 1] - p[:, 1] * edge2[:, 0]) / area
            v = (edge1[:, 0] * p[:, 1] - edge1[:, 1] * p[:, 0]) / area
            inside = np.flatnonzero((u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9))
            if not len(inside):
                continue
            t = inside[0]
            wall = b["wall"][b["triangles"][t]] @ (1 - u[t] - v[t], u[t], v[t])
            self.assertAlmostEqual(wall, in_b[i], delta=1e-6)  # f32
            checked += 1
        self.assertGreater(checked, 40)

    def test_verdicts_and_keys_that_changed_are_told(self):
        strict = self.formed("strict", limits='[limits]\nmin_thickness = "0.7 mm"\n', element="2 mm")
        told = self.told(self.block, strict)
        self.assertEqual([(c["key"], c["a"], c["b"]) for c in told["changes"]],
                         [("limits.min_thickness", None, "0.7 mm")])
        self.assertEqual({a["id"] for a in told["answers"] if a["turned"] == "worse"}, {"thinnest_wall"})
        back = self.told(strict, self.block)
        self.assertEqual({a["id"] for a in back["answers"] if a["turned"] == "better"}, {"thinnest_wall"})
        said = self.program(self.block, strict).stdout
        self.assertIn("Worse in B: 1 (thinnest_wall)", said)
        self.assertRegex(said, r"limits\.min_thickness +not given -> 0\.7 mm")

    def test_another_mould_of_the_same_name_is_told(self):
        case = small_case.write(os.path.join(self.root, "lower-case"), element="2 mm")
        small_case.write_stl(os.path.join(case, "block.stl"), small_case.block(height=3.5))
        out = os.path.join(self.root, "lower")
        subprocess.run([PROGRAM, "run", case, "--quiet", "--out", out], check=True, stdout=subprocess.DEVNULL)
        told = self.told(self.block, out)
        self.assertEqual(told["changes"], [])
        self.assertEqual(len(told["notes"]), 1)
        self.assertIn("another surface", told["notes"][0])
        self.assertIn("up to 0.5 mm apart", told["notes"][0])

    def test_a_larger_sheet_is_compared_where_both_are(self):
        wide = self.formed("wide", lambda text: text.replace('disc = "40 mm"', 'disc = "50 mm"'), element="2 mm")
        told = self.told(wide, self.block)
        self.assertTrue(any("outside B's" in note for note in told["notes"]))
        share = told["wall"]["sheet"]["area_share"]
        self.assertAlmostEqual(share, (40 / 50) ** 2, delta=0.08)  # an element of 2 mm round a rim of 40 mm
        self.assertEqual(self.told(self.block, wide)["wall"]["sheet"]["area_share"], 1)

    def test_another_version_is_told_and_its_unknown_keys_do_no_harm(self):
        old = os.path.join(self.root, "old")
        shutil.copytree(self.block, old)
        path = os.path.join(old, "summary.json")
        with open(path, encoding="utf-8") as file:
            text = file.read()
        with open(path, "w", encoding="utf-8") as file:
            file.write(re.sub(r'"program_version": "[^"]+"', '"program_version": "0.0.7"', text, count=1))
        notes = self.told(self.block, old)["notes"]
        self.assertEqual(len(notes), 1)
        self.assertIn("B of 0.0.7", notes[0])
        with open(os.path.join(old, "case.toml"), "a", encoding="utf-8") as file:
            file.write("\n[later]\nkey = 1\n")
        told = self.told(self.block, old)
        self.assertTrue(any("not read by this version" in note for note in told["notes"]))
        self.assertEqual(told["wall"]["sheet"]["worst_mm"], 0)

    def test_the_page_is_whole_and_asks_for_nothing(self):
        out = os.path.join(self.root, "page")
        done = self.program(self.block, self.thicker, "--out", out)
        self.assertIn("compare.html", done.stdout)
        with open(os.path.join(out, "compare.html"), encoding="utf-8") as file:
            text = file.read()
        reader = report_test.Reader(text)
        self.assertEqual(reader.faults, [])
        self.assertEqual(len(reader.ids), len(set(reader.ids)))
        found = report_test.addresses(reader, text)
        self.assertGreater(len(found), 10)
        for address in found:
            self.assertRegex(address.strip("'\" "), r"^(#|data:)")
        words = " ".join(reader.texts)
        for part in ("sheet.thickness", "0.825 mm", "thinnest_wall", "Where they differ", "The mark: largest on the part"):
            self.assertIn(part, words)
        self.assertLess(len(text), report_test.MOST_BYTES)
        self.assertEqual(self.program(self.block, self.thicker, "--out", out, "--force").returncode, 0)
        with open(os.path.join(out, "compare.html"), encoding="utf-8") as file:
            self.assertEqual(file.read(), text, "same results, same page")

    # Measured walls.

    def test_walls_put_into_the_table_come_back(self):
        told = self.told(self.block, self.walls_of(self.block, "same.csv", noise=False))
        self.assertEqual(told["counted"], len(told["points"]))
        self.assertLess(max(abs(p["error_mm"]) for p in told["points"]), 1e-6)  # f32 of the frame
        self.assertLess(max(p["distance_mm"] for p in told["points"]), 1e-5)
        self.assertFalse(told["factor_seen"] or told["pattern_seen"])

    def test_an_offset_is_found_at_every_point(self):
        table = self.walls_of(self.block, "offset.csv", offset_mm=-0.03, noise=False)
        told = self.told(self.block, table)
        self.assertAlmostEqual(told["mean_mm"], 0.03, delta=1e-6)
        self.assertAlmostEqual(told["rms_mm"], 0.03, delta=1e-6)
        out = os.path.join(self.root, "offset")
        self.told(self.block, table, "--out", out)
        with open(os.path.join(out, "compare.csv"), encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        self.assertEqual(len(rows), told["counted"])
        for row in rows:
            self.assertAlmostEqual(float(row["error_mm"]), 0.03, delta=2e-6)
            self.assertRegex(row["point"], r"^offset\.csv:\d+$")
        self.assertEqual(sorted(os.listdir(out)), ["compare.csv", "compare.html"])
        with open(os.path.join(out, "compare.html"), encoding="utf-8") as file:
            reader = report_test.Reader(file.read())
        self.assertEqual(reader.faults, [])
        self.assertEqual(len(reader.ids), len(set(reader.ids)))
        words = " ".join(" ".join(reader.texts).split())
        self.assertIn("of the predicted", words)
        self.assertIn("+0.030 mm", words)

    def test_a_factor_is_read_as_the_gauge(self):
        told = self.told(self.block, self.walls_of(self.block, "factor.csv", factor=0.92))
        self.assertTrue(told["factor_low"] < 0.92 < told["factor_high"], told["factor"])
        self.assertTrue(told["factor_seen"])
        self.assertFalse(told["pattern_seen"])
        said = self.program(self.block, os.path.join(self.root, "factor.csv")).stdout
        self.assertRegex(said, r"A sheet of 0\.\d+ mm in place of 0\.75 mm has that factor")

    def test_a_place_between_nodes_and_beside_the_sheet(self):
        sheet = last_frame(self.block)
        # On a level triangle on top of the block, 0.4 mm above it: the mean of its corners, 0.4 mm away.
        top = next(t for t in sheet["triangles"] if (np.abs(sheet["points"][t][:, 2] - 4.0) < 2e-3).all())
        middle = sheet["points"][top].mean(axis=0) + (0, 0, 0.4)
        told = self.told(self.block, self.table("between.csv", "x_mm,y_mm,z_mm,thickness_um", [(*middle, 500)]))
        point = told["points"][0]
        self.assertAlmostEqual(point["predicted_mm"], sheet["wall"][top].mean(), delta=1e-5)
        self.assertAlmostEqual(point["distance_mm"], 0.4, delta=2e-3)
        self.assertEqual(point["measured_mm"], 0.5)

    def test_a_mark_of_the_flat_sheet_is_followed(self):
        sheet = last_frame(self.block)
        node = picked(sheet)[3]
        rows = [(*sheet["flat"][node], sheet["wall"][node], *(sheet["points"][node] + (0, 0.7, 0))), (500, 0, 0.5, 0, 0, 0)]
        told = self.told(self.block, self.table("mark.csv", "flat_x_mm,flat_y_mm,thickness_mm,x_mm,y_mm,z_mm", rows))
        self.assertLess(abs(told["points"][0]["error_mm"]), 1e-6)
        self.assertAlmostEqual(told["points"][0]["distance_mm"], 0.7, delta=1e-4)
        self.assertIn("beside the flat sheet", told["points"][1]["left_out"])
        self.assertEqual(told["counted"], 1)

    def test_a_point_far_from_the_sheet_is_left_out_with_its_reason(self):
        rows = [(0, 0, 4, 0.7), (0, 0, 8, 0.7), (0, 0, 6.5, 0.7)]
        table = self.table("far.csv", "x_mm,y_mm,z_mm,thickness_mm", rows)
        told = self.told(self.block, table)
        self.assertEqual([p["left_out"] for p in told["points"]], ["", "4 mm from the sheet", "2.5 mm from the sheet"])
        self.assertEqual(self.told(self.block, table, "--within", "3 mm")["counted"], 2)
        self.refused(self.program(self.block, self.table("all.csv", "x_mm,y_mm,z_mm,thickness_mm", rows[1:])), 2,
                     "all.csv:2", "4 mm from the sheet, as all 2 points are", "--within")
        self.refused(self.program(self.block, table, "--within", "3"), 2, "--within", "unit")
        self.refused(self.program(self.block, table, "--within", "-3 mm"), 2, "more than 0 mm")

    def test_causes_put_in_are_named(self):
        told = self.told(self.block, self.walls_of(self.thicker, "gauge.csv"), "--explain", "--quiet")
        causes = {c["name"]: c for c in told["causes"]}
        self.assertEqual(set(causes), {"gauge", "stiffness", "friction"})
        self.assertEqual(causes["gauge"]["verdict"], "explains")
        self.assertTrue(causes["gauge"]["low"] < 0.825 < causes["gauge"]["high"], causes["gauge"])
        self.assertTrue(any(note.startswith("temperature: it changes nothing") for note in told["notes"]))
        slid = self.formed("slid", lambda text: text.replace('"stick"', "0.3"), element="2 mm")
        told = self.told(self.block, self.walls_of(slid, "slid.csv"), "--explain", "--quiet")
        causes = {c["name"]: c for c in told["causes"]}
        self.assertTrue(told["pattern_seen"])
        self.assertEqual(causes["friction"]["verdict"], "explains")
        self.assertAlmostEqual(causes["friction"]["best"], 1.0, delta=0.15)  # one step is all the way
        self.assertNotEqual(causes["stiffness"]["verdict"], "explains")
        self.assertGreater(causes["gauge"]["left"], 3 * causes["friction"]["left"])

    def test_a_hotter_sheet_is_read_off_its_walls(self):
        heat = 'resin = "high-temperature"\ntemperature = "30 °C"'
        base = self.formed("warm", mould=heat, element="2 mm")
        hotter = self.formed("hotter", lambda text: text.replace("140 °C", "146 °C"), mould=heat, element="2 mm")
        told = self.told(base, self.walls_of(hotter, "hotter.csv", noise=False), "--explain", "--quiet")
        causes = {c["name"]: c for c in told["causes"]}
        self.assertEqual(set(causes), {"gauge", "stiffness", "temperature", "friction"})
        hot = causes["temperature"]
        # One step is 5 K, so 6 K is a fifth beyond what was formed: as much of it may be bent.
        self.assertAlmostEqual(hot["best"], 146, delta=1.2)
        self.assertLess(hot["left"], 0.5 * min(causes[name]["left"] for name in ("gauge", "friction")))

    def mapped(self, name, hotter_C):
        """Results of the warm block under a heater that is hotter by so much on the right than on the left."""
        table = "x_mm,y_mm,temperature_C\n" + "".join(
            f"{x},{y},{140 + hotter_C * x / 40}\n" for x in (-20, 20) for y in (-20, 20))
        os.makedirs(os.path.join(self.root, name + "-case"), exist_ok=True)
        with open(os.path.join(self.root, name + "-case", "heater.csv"), "w", encoding="utf-8") as file:
            file.write(table)
        results = self.formed(
            name, lambda text: text.replace("[mould]", 'temperature_map = { table = "heater.csv" }\n[mould]', 1),
            mould='resin = "high-temperature"\ntemperature = "30 °C"', element="2 mm")
        with open(os.path.join(results, "sheet_temperature_map.csv"), encoding="utf-8") as file:
            self.assertEqual(file.read(), table, "kept as it was read")
        return results

    def test_an_uneven_heater_is_kept_and_read_back(self):
        results = self.mapped("uneven", 24)
        table = self.walls_of(results, "uneven.csv", noise=False)
        told = self.told(results, table, "--explain", "--quiet")
        # Formed again under the same map it is the same sheet; under an even heater it was not, and said so.
        self.assertEqual(told["notes"], [])
        self.assertIn("temperature", [c["name"] for c in told["causes"]])
        even = self.formed("even", mould='resin = "high-temperature"\ntemperature = "30 °C"', element="2 mm")
        a, b = last_frame(results), last_frame(even)
        self.assertEqual(len(a["wall"]), len(b["wall"]))
        self.assertGreater(np.sqrt(np.mean(np.log(a["wall"] / b["wall"]) ** 2)), 0.005, "the map changes the walls")

        other = self.mapped("uneven2", -24)
        said = "sheet.temperature_map is another file in B than in A"
        self.assertEqual(self.told(results, other)["notes"], [said])
        again = os.path.join(self.root, "uneven3")
        shutil.copytree(results, again)
        self.assertEqual(self.told(results, again)["notes"], [])
        os.remove(os.path.join(again, "sheet_temperature_map.csv"))  # as an older version left it
        notes = self.told(results, again)["notes"]
        self.assertEqual(len(notes), 1)
        self.assertIn("not known: B has kept none", notes[0])
        self.refused(self.program(again, table, "--explain", "--quiet"), 2, "no sheet_temperature_map.csv",
                     "run the case again")
        self.assertEqual(self.program(again, table).returncode, 0, "without --explain nothing is formed")

    def test_where_a_volume_drives_the_sheet_walls_cannot_tell_the_stiffness(self):
        # The shape for a volume, and so the wall, is one for every modulus; the gauge is one factor of all walls.
        results = self.dome("dome3", 1.0)
        sheet = last_frame(results)
        rows = [(*sheet["flat"][i], 0.95 * sheet["wall"][i]) for i in range(0, len(sheet["wall"]), 12)]
        told = self.told(results, self.table("dome.csv", "flat_x_mm,flat_y_mm,thickness_mm", rows), "--explain", "--quiet")
        causes = {c["name"]: c for c in told["causes"]}
        self.assertEqual(set(causes), {"gauge", "stiffness"})
        self.assertEqual(causes["stiffness"]["verdict"], "cannot tell")
        self.assertLess(causes["stiffness"]["response"], 1e-3)
        self.assertAlmostEqual(causes["gauge"]["response"], np.log(1.05), delta=1e-3)
        self.assertAlmostEqual(causes["gauge"]["best"], 0.95, delta=0.002)
        self.assertEqual(causes["gauge"]["verdict"], "explains")
        self.assertTrue(any(note.startswith("friction: there is no mould") for note in told["notes"]))

    # What is refused.

    def test_what_is_no_finished_result_is_refused(self):
        os.mkdir(os.path.join(self.root, "empty"))
        for pair in (("empty", self.block), (self.block, "empty")):
            self.refused(self.program(*pair), 2, "'empty'", "no results")
        self.refused(self.program("nowhere", self.block), 2, "'nowhere'", "No such file")
        self.refused(self.program(self.block, "nowhere"), 2, "nowhere", "no such file")
        self.refused(self.program(self.block, self.thicker, "--explain"), 2, "--explain", "measured walls")
        self.refused(self.program(self.block, self.thicker, "--within", "1 mm"), 2, "--within")
        self.refused(self.program(self.block, self.thicker, "--out", self.thicker), 2, "which this run reads")
        self.refused(self.program(self.block, self.table("bad.csv", "x_mm,y_mm,z_mm,thickness_mm", [(0, 0, 4, "thin")])),
                     2, "bad.csv:2", "thickness_mm")

    def test_a_run_that_was_stopped_is_refused(self):
        case = small_case.write(os.path.join(self.root, "long-case"), element="1 mm", duration="5 s")
        out = os.path.join(self.root, "long")
        process = subprocess.Popen([PROGRAM, "run", case, "--quiet", "--out", out], stderr=subprocess.DEVNULL)
        while not os.path.exists(os.path.join(out, "history.csv")):
            self.assertIsNone(process.poll(), "ended before its first frame")
            time.sleep(0.01)
        process.send_signal(signal.SIGINT)
        self.assertEqual(process.wait(timeout=300), 130)
        self.refused(self.program(self.block, out), 2, "no summary.json", "pellicle resume")

    def test_files_of_others_stay(self):
        out = os.path.join(self.root, "mine")
        os.mkdir(out)
        with open(os.path.join(out, "compare.csv"), "w", encoding="utf-8") as file:
            file.write("my own\n")
        table = self.walls_of(self.block, "again.csv")
        self.refused(self.program(self.block, table, "--out", out, "--force"), 2, "'compare.csv'")


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(verbosity=2)
