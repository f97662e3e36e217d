#!/usr/bin/python3
"""Does `export` write a closed part and a scaled mould, and refuse what is no finished result? Does the case that `new`
makes run at once?

export_test.py BIN
"""
import collections
import fcntl
import json
import os
import re
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import time
import unittest

import h5py
import numpy as np

sys.dont_write_bytecode = True
import small_case

PROGRAM = ""


def read_stl(path):
    """(triangles, 3, 3) in the file's numbers, as f32."""
    with open(path, "rb") as file:
        data = file.read()
    count, = struct.unpack_from("<I", data, 80)
    assert len(data) == 84 + 50 * count, path
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
    return np.frombuffer(data, record, count, 84)["corners"]


def volume(triangles):
    a, b, c = (triangles[:, k].astype(float) for k in range(3))
    return np.einsum("ij,ij->", a, np.cross(b, c)) / 6


class OnResults(unittest.TestCase, small_case.Refusals):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle-export-")
        cls.root = cls.place.name
        cls.block = cls.formed("block")

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    @classmethod
    def program(cls, *arguments):
        return subprocess.run([PROGRAM, *arguments], cwd=cls.root, capture_output=True, text=True, timeout=600)

    @classmethod
    def formed(cls, name, edit=lambda text: text, **changes):
        """Results of a small case whose text went through `edit`."""
        case = small_case.write(os.path.join(cls.root, name + "-case"), **changes)
        path = os.path.join(case, "case.toml")
        with open(path, encoding="utf-8") as file:
            text = edit(file.read())
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        out = os.path.join(cls.root, name)
        done = cls.program("run", case, "--quiet", "--out", out)
        assert done.returncode == 0, done.stderr
        return out

    def copy(self, name):
        out = os.path.join(self.root, name)
        shutil.copytree(self.block, out)
        return out

    def exported(self, results, *options):
        done = self.program("export", results, "--json", "--out", results + "-exported", *options)
        self.assertEqual(done.returncode, 0, done.stderr)
        return json.loads(done.stdout), results + "-exported", done.stderr

    def closed_volume(self, triangles):
        """Of a surface that has every edge twice, once each way; by coordinates, as a reader of STL sees it."""
        edges = collections.Counter()
        for corners in triangles:
            points = [p.tobytes() for p in corners]
            self.assertEqual(len(set(points)), 3)
            edges.update((points[k], points[(k + 1) % 3]) for k in range(3))
        self.assertEqual(set(edges.values()), {1})
        self.assertTrue(all((b, a) in edges for a, b in edges))
        return volume(triangles)

    @staticmethod
    def last_frame(results):
        """Area times thickness of the whole sheet [mm3], and its area [mm2]."""
        name = sorted(n for n in os.listdir(results) if n.startswith("sheet_") and n.endswith(".h5"))[-1]
        with h5py.File(os.path.join(results, name), "r") as frame:
            corners = frame["points_mm"][:].astype(float)[frame["triangles"][:]]
            thickness = frame["triangle/thickness_mm"][:]
        area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
        return float(area @ thickness), float(area.sum())

    # What is written.

    def test_a_free_dome_is_closed_and_holds_the_sheet(self):
        free = re.compile(r"\[mould\].*?\n\n", re.S)
        dome = self.formed("dome", lambda text: free.sub("", text).replace("1 bar", "0.05 bar"), element="2 mm")
        told, out, _ = self.exported(dome)
        self.assertEqual(os.listdir(out), ["part.stl"])
        self.assertIsNone(told["mould_scaled"])
        self.assertIn("no mould surface", told["mould_not_written"])
        part = read_stl(os.path.join(out, "part.stl"))
        self.assertEqual(len(part), told["part"]["triangles"])
        held, area = self.last_frame(dome)
        # The free face is on the hollow side: smaller by 2 h/R, so that the solid is by h/R = 0.7 mm / 50 mm.
        self.assertAlmostEqual(self.closed_volume(part) / held, 1.0, delta=0.02)
        self.assertAlmostEqual(told["part"]["volume_mm3"] / held, 1.0, delta=0.02)
        self.assertAlmostEqual(told["part"]["mould_face_mm2"] / area, 1.0, delta=1e-6)  # f32 of the frame
        self.assertAlmostEqual(told["part"]["mean_thickness_mm"] * area / held, 1.0, delta=0.02)
        self.assertEqual(told["part"]["turned_triangles"], 0)
        said = self.program("export", dome, "--out", out, "--force")
        self.assertIn("not written: mould_scaled.stl: the case has no mould surface", said.stdout)

    def test_a_part_over_a_block_ends_at_the_mould(self):
        told, out, _ = self.exported(self.block)
        self.assertEqual(sorted(os.listdir(out)), ["mould_scaled.stl", "part.stl"])
        part = read_stl(os.path.join(out, "part.stl"))
        self.assertGreater(self.closed_volume(part), 0.0)
        # Whole triangles over the mould's outline, 6 mm from the middle, and the free face by a thickness beyond.
        self.assertLessEqual(np.abs(part[:, :, :2]).max(), 6.0 + 0.75)
        self.assertGreaterEqual(part[:, :, 2].max(), 4.0 + 0.3)
        self.assertLess(part[:, :, 2].max(), 4.0 + 0.75 + 1e-3)

    def test_the_mould_is_larger_by_what_the_finding_says(self):
        told, out, _ = self.exported(self.block, "--force")
        with open(os.path.join(self.block, "summary.json"), encoding="utf-8") as file:
            finding = next(f for f in json.load(file)["findings"] if f["id"] == "shrinkage")
        scale = 1 + finding["value"] / 100
        self.assertGreater(scale, 1.001)
        self.assertAlmostEqual(told["mould_scaled"]["scale"], scale, delta=1e-8)  # nine digits of JSON
        mould = read_stl(os.path.join(out, "mould_scaled.stl"))
        self.assertEqual(len(mould), 12)
        before = volume(np.array(small_case.block()))
        self.assertAlmostEqual(self.closed_volume(mould) / (before * scale**3), 1.0, delta=1e-6)  # f32
        for axis, (low, high) in enumerate(((-6, 6), (-6, 6), (0, 4))):
            self.assertAlmostEqual(mould[:, :, axis].min(), low * scale, delta=1e-5)
            self.assertAlmostEqual(mould[:, :, axis].max(), high * scale, delta=1e-5)

    def test_without_a_number_for_shrinkage_there_is_no_scaled_mould(self):
        law = 'density = "1250 kg/m^3"\nlaw = { kind = "neo-hookean", shear_modulus = "0.3 MPa" }\n'
        results = self.formed("law", lambda text: re.sub(r'polymer .*\n', law, text))
        told, out, _ = self.exported(results)
        self.assertEqual(os.listdir(out), ["part.stl"])
        self.assertEqual((told["mould_scaled"], told["mould_not_written"]), (None, "the finding shrinkage has no number"))

    def test_the_trim_of_the_case_cuts_the_part(self):
        trim = '[part]\ntrim = [["-4 mm", "-4 mm"], ["4 mm", "-4 mm"], ["4 mm", "4 mm"], ["-4 mm", "4 mm"]]\n'
        results = self.formed("loop", limits=trim, element="1.5 mm")
        _, out, _ = self.exported(results)
        part = read_stl(os.path.join(out, "part.stl"))
        self.closed_volume(part)
        near = part[(part[:, :, 2] < 4.0 + 1e-3).all(axis=1)]  # the top face of the block is 4.5 mm to each side
        self.assertGreater(len(near), 20)
        self.assertLessEqual(np.abs(near[:, :, :2]).max(), 4.0)

    def test_a_free_face_that_crosses_itself_is_told(self):
        results = self.formed("thick", lambda text: text.replace('"0.75 mm"', '"4 mm"').replace("1 bar", "10 bar"),
                              limits='[part]\ntrim = { height = "0 mm" }\n', element="1 mm")
        told, out, warned = self.exported(results)
        self.assertGreater(told["part"]["turned_triangles"], 0)
        self.assertIn("for viewing and measuring, not for machining", warned)
        self.closed_volume(read_stl(os.path.join(out, "part.stl")))
        self.assertEqual(self.exported(results, "--force", "--quiet")[2], "")

    def test_by_default_it_goes_beside_the_working_directory(self):
        done = self.program("export", "block/")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("block-stl/part.stl", done.stdout)
        self.refused(self.program("export", "block"), 2, "--force")
        with open(os.path.join(self.root, "block-stl", "part.stl"), "wb") as file:
            file.write(b"solid mine")
        self.refused(self.program("export", "block", "--force"), 2, "'part.stl'")
        shutil.rmtree(os.path.join(self.root, "block-stl"))

    # What is refused.

    def test_what_is_no_finished_result_is_refused(self):
        os.mkdir(os.path.join(self.root, "empty"))
        self.refused(self.program("export", "nowhere"), 2, "'nowhere'", "No such file")
        self.refused(self.program("export", "block/case.toml"), 2, "Not a directory")
        self.refused(self.program("export", "empty"), 2, "no results")
        self.refused(self.program("export", "block-case"), 2, "no results")
        alone = self.copy("alone")
        for name in os.listdir(alone):
            if name.startswith("sheet"):
                os.remove(os.path.join(alone, name))
        self.refused(self.program("export", alone), 2, "reliefs alone")
        self.refused(self.program("export", "block", "--out", "block"), 2, "which this run reads")
        self.assertFalse([name for name in os.listdir(self.root) if name.endswith(("empty-stl", "alone-stl"))])

    def test_a_run_that_goes_on_or_was_stopped_is_refused(self):
        case = small_case.write(os.path.join(self.root, "long-case"), element="1 mm", duration="5 s")
        out = os.path.join(self.root, "long")
        process = subprocess.Popen([PROGRAM, "run", case, "--quiet", "--out", out], stderr=subprocess.DEVNULL)
        while not os.path.exists(os.path.join(out, "history.csv")):
            self.assertIsNone(process.poll(), "ended before its first frame")
            time.sleep(0.01)
        process.send_signal(signal.SIGSTOP)  # or it might finish meanwhile
        self.refused(self.program("export", out), 2, "a run that is writing here now")
        process.send_signal(signal.SIGINT)
        process.send_signal(signal.SIGCONT)
        self.assertEqual(process.wait(timeout=300), 130)
        self.refused(self.program("export", out), 2, "no summary.json", "pellicle resume")

    def test_two_may_read(self):
        handle = os.open(self.block, os.O_RDONLY)
        fcntl.flock(handle, fcntl.LOCK_SH)
        self.exported(self.block, "--force")
        os.close(handle)

    def test_damaged_files_are_refused_by_name(self):
        def cut(path):
            with open(path, "r+b") as file:
                file.truncate(os.path.getsize(path) // 2)

        def spoil(path):
            with h5py.File(path, "r+") as frame:
                frame["node/thickness_mm"][3] = np.nan

        frames = sorted(n for n in os.listdir(self.block) if n.startswith("sheet_") and n.endswith(".h5"))
        for number, (name, damage, word) in enumerate((
                (frames[-1], cut, "a file written by this program, whole"), (frames[-1], spoil, "a thickness of nan mm"),
                ("mould.h5", cut, "a file written by this program, whole"), ("summary.json", cut, "no summary"),
                ("mould.h5", os.remove, "no mould.h5"), ("case.toml", os.remove, "no case.toml"),
                ("case.toml", cut, "case.toml"))):
            with self.subTest(f"{name} {damage.__name__}"):
                results = self.copy(f"damaged{number}")
                damage(os.path.join(results, name))
                self.refused(self.program("export", results), 2, word)
                self.assertFalse(os.path.exists(os.path.join(self.root, f"damaged{number}-stl")))

    # A case to start from.

    def test_a_new_case_runs_at_once(self):
        made = self.program("new", "label")
        self.assertEqual((made.returncode, made.stderr), (0, ""))
        self.assertEqual(sorted(os.listdir(os.path.join(self.root, "label"))), ["case.toml", "mould.stl"])
        commands = [line.split() for line in made.stdout.splitlines() if line.startswith("  pellicle ")]
        self.assertEqual([c[1] for c in commands], ["check", "run", "export"])
        for command in commands:
            done = self.program(*command[1:], *(["--quiet"] if command[1] != "export" else []))
            self.assertEqual(done.returncode, 0, done.stderr)
        self.assertGreater(self.closed_volume(read_stl(os.path.join(self.root, "label-results-stl", "part.stl"))), 0.0)
        with open(os.path.join(self.root, "label-results", "summary.json"), encoding="utf-8") as file:
            summary = json.load(file)
        self.assertNotIn("fail", {f["verdict"] for f in summary["findings"]}, summary["findings"])
        self.assertEqual(summary["not_used_yet"], [])
        self.assertEqual([r["name"] for r in summary["reliefs"]], ["word"])
        self.assertLessEqual({"cooling", "layer_lines", "relief_word", "shrinkage"}, {f["id"] for f in summary["findings"]})

    def test_the_keys_that_are_switched_off_are_good_too(self):
        folder = os.path.join(self.root, "all-keys")
        self.assertEqual(self.program("new", folder).returncode, 0)
        path = os.path.join(folder, "case.toml")
        with open(path, encoding="utf-8") as file:
            text, switched = re.subn(r"^# (?=\w+ +=)", "", file.read(), flags=re.M)
        self.assertEqual(switched, 7)
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        done = self.program("check", folder, "--json")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual(json.loads(done.stdout)["not_used_yet"], [])

    def test_nothing_is_overwritten_by_a_new_case(self):
        for name, words in (("block", "something of this name"), ("block/case.toml", "something of this name"),
                            ("none/label", "No such file"), (".", "no name"), ("", "no name")):
            self.refused(self.program("new", name), 2, words)
        os.symlink("nowhere", os.path.join(self.root, "link"))
        self.refused(self.program("new", "link"), 2, "something of this name")
        self.assertIn("'a b-results'", self.program("new", "a b").stdout)


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(verbosity=2)
