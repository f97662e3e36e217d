#!/usr/bin/env python3
"""Does a run that was stopped or killed, and gone on with, end with the same bytes as one that was left alone?

resume_test.py PROGRAM
"""
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest

import h5py
import numpy

import small_case

PROGRAM = ""

RELIEF = """
[[relief]]
name   = "word"
at     = ["0 mm", "0 mm"]
source = { text = "I", size = "3 mm", depth = "0.2 mm" }
"""


def seconds_so_far(folder):
    with h5py.File(os.path.join(folder, "checkpoint.h5")) as file:
        return float(file.attrs["seconds"])


class Resume(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle-resume-")
        cls.root = cls.place.name
        # Two stages, elements that are cut on the way, and a relief on the formed sheet.
        hold = '[[forming.stage]]\nname = "hold, \\"firmly\\""\nduration = "0.2 s"\npressure = "2 bar"\n' + RELIEF
        cls.case = small_case.write(os.path.join(cls.root, "block"), element='2.5 mm"\nfine_element = "1.2 mm',
                                    pressure="2 bar", duration="3 s", limits=hold)
        cls.whole = os.path.join(cls.root, "whole")
        start = time.monotonic()
        done = cls.run_program("run", cls.case, "--quiet", "--out", cls.whole)
        cls.seconds = time.monotonic() - start
        assert done.returncode == 0, done.stderr
        cls.expected = cls.files(cls.whole)

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    @classmethod
    def run_program(cls, *words):
        return subprocess.run([PROGRAM, *words], cwd=cls.root, text=True, capture_output=True, timeout=600)

    @staticmethod
    def files(folder):
        """Bytes of every file; the summary without its seconds."""
        found = {}
        for name in sorted(os.listdir(folder)):
            with open(os.path.join(folder, name), "rb") as file:
                found[name] = file.read()
        summary = json.loads(found["summary.json"])
        del summary["seconds"]
        found["summary.json"] = summary
        found.pop("report.html")  # holds the seconds, and moments as exact as the files have them
        return found

    def begin(self, *words, save_every="0 s"):
        return subprocess.Popen([PROGRAM, *words, "--quiet", "--save-every", save_every], cwd=self.root, text=True,
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE)

    def wait_for_frame(self, process, folder, index):
        """By what is on disk, for a machine that is busy now and then keeps no time."""
        while process.poll() is None and not os.path.exists(os.path.join(folder, f"sheet_{index:04}.h5")):
            time.sleep(0.01)
        self.assertIsNone(process.poll(), "it ended before it could be stopped")

    def test_ten_stops_and_kills_change_no_byte(self):
        moments = random.Random(4711)
        interrupted, resumed = 0, 0
        for number in range(10):
            kind = (signal.SIGTERM, signal.SIGKILL)[number % 2]
            out = os.path.join(self.root, f"cut-{number}")
            process = self.begin("run", self.case, "--out", out)
            if number > 1:
                self.wait_for_frame(process, out, moments.randrange(18))
            time.sleep(moments.uniform(0.0, 0.05) * self.seconds)
            process.send_signal(kind)
            process.communicate(timeout=300)
            if process.returncode == 0:
                continue  # it had just finished
            interrupted += 1
            if not os.path.exists(os.path.join(out, "checkpoint.h5")):
                self.assertLess(process.returncode, 0)  # ended by the signal itself, before the first of them
                done = self.run_program("run", self.case, "--quiet", "--force", "--out", out)
            else:
                resumed += 1
                done = self.run_program("resume", out, "--quiet")
            self.assertEqual(done.returncode, 0, done.stderr)
            found = self.files(out)
            self.assertEqual(found.keys(), self.expected.keys())
            for name, content in self.expected.items():
                self.assertTrue(found[name] == content, f"{name} after {kind.name} number {number}")
        self.assertGreaterEqual(interrupted, 6, "moments that come too late show nothing")
        self.assertGreaterEqual(resumed, 4)

    def test_again_and_again_and_somewhere_else(self):
        out = os.path.join(self.root, "often")
        case = shutil.copytree(self.case, os.path.join(self.root, "gone"))
        process = self.begin("run", case, "--out", out)
        self.wait_for_frame(process, out, 4)
        process.send_signal(signal.SIGINT)
        _, stderr = process.communicate(timeout=300)
        self.assertEqual(process.returncode, 130, stderr)
        self.assertIn("pellicle resume", stderr)
        legs = [seconds_so_far(out)]
        shutil.rmtree(case)
        moved = os.path.join(self.root, "moved")
        os.rename(out, moved)
        process = self.begin("resume", moved)
        self.wait_for_frame(process, moved, 10)
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=300)
        self.assertEqual(process.returncode, 130)
        legs.append(seconds_so_far(moved))
        done = self.run_program("resume", moved, "--json")
        self.assertEqual(done.returncode, 0, done.stderr)
        summary = json.loads(done.stdout)
        legs.append(summary.pop("seconds"))
        # Each leg comes on top of those before; one alone would be a third or so of what is told.
        self.assertEqual(len(legs), 3)
        self.assertTrue(0.0 < legs[0] < legs[1] < legs[2], legs)
        self.assertEqual(summary, self.expected["summary.json"])
        self.assertEqual(len(summary["stages"]), 2)
        self.assertEqual([relief["name"] for relief in summary["reliefs"]], ["word"])

    def test_an_uneven_sheet_that_hangs_goes_on_without_its_case(self):
        heat = 'resin = "standard"\ntemperature = "30 °C"'
        keys = ('4 mm"\nfine_element = "2 mm"\ntemperature_map = { table = "heater.csv" }\ncold_rim = "3 mm"\n'
                'clamp_temperature = "90 °C"\nsag = true\ndelay = "0.1 s')
        case = small_case.write(os.path.join(self.root, "uneven"), element=keys, height="9 mm", mould=heat,
                                duration="0.6 s")
        with open(os.path.join(case, "heater.csv"), "w", encoding="utf-8") as file:
            file.write("x_mm,y_mm,temperature_C\n-20,0,130\n20,0,150\n0,20,140\n0,-20,140\n")
        whole, out = os.path.join(self.root, "uneven-whole"), os.path.join(self.root, "uneven-cut")
        start = time.monotonic()
        done = self.run_program("run", case, "--quiet", "--out", whole)
        self.assertEqual(done.returncode, 0, done.stderr)
        seconds = time.monotonic() - start
        for share in (0.5, 0.3, 0.15):  # late, or earlier where it had just finished
            process = self.begin("run", case, "--force", "--out", out)
            time.sleep(share * seconds)
            process.send_signal(signal.SIGTERM)
            process.communicate(timeout=300)
            if process.returncode == 130:
                break
        self.assertEqual(process.returncode, 130)
        shutil.rmtree(case)
        done = self.run_program("resume", out, "--quiet")
        self.assertEqual(done.returncode, 0, done.stderr)
        expected, found = self.files(whole), self.files(out)
        self.assertEqual(found.keys(), expected.keys())
        for name, content in expected.items():
            self.assertTrue(found[name] == content, name)
        with h5py.File(os.path.join(whole, "sheet_0000.h5")) as file:
            flat, points = file["/node/flat_mm"][:], file["/points_mm"][:]
            warm = file["/node/temperature_C"][:]
        right = (flat[:, 0] > 8) & (numpy.abs(flat[:, 1]) < 4) & (flat[:, 0] < 14)
        left = (flat[:, 0] < -8) & (numpy.abs(flat[:, 1]) < 4) & (flat[:, 0] > -14)
        self.assertGreater(warm[right].mean() - warm[left].mean(), 5.0)
        self.assertGreater(points[:, 2].max() - points[:, 2].min(), 1.0)
        with open(os.path.join(whole, "history.csv"), encoding="utf-8") as file:
            columns, *rows = (line.strip().split(",") for line in file)
        self.assertGreater(float(rows[-1][columns.index("gravity_J")]), 0.0)

    def test_a_sheet_that_hangs_weighs_the_same_when_it_goes_on(self):
        press = '[[forming.stage]]\nname = "press on"\nduration = "1 s"\npressure = "1 bar"\n'
        cut_short = 0
        for kind, mould in (("cold", ""), ("warm", 'resin = "high-temperature"\ntemperature = "30 °C"')):
            # The clamp comes down at 0 bar, frames 1 to 7; then gas.
            case = small_case.write(os.path.join(self.root, "hangs-" + kind), height='9 mm"\nsag = true\ndelay = "0 s',
                                    element="2 mm", mould=mould, duration="0.5 s",
                                    pressure='0 bar"\nclamp_to = "4 mm', limits=press)
            whole, out = (os.path.join(self.root, kind + end) for end in ("-whole", "-cut"))
            done = self.run_program("run", case, "--quiet", "--out", whole)
            self.assertEqual(done.returncode, 0, done.stderr)
            expected = self.files(whole)
            with h5py.File(os.path.join(whole, "sheet_0000.h5")) as file:
                self.assertGreater(numpy.ptp(file["/points_mm"][:, 2]), 0.5, "it does not hang")
            for frame in (1, 4, 7, 12):
                process = self.begin("run", case, "--out", out, save_every="30 s")
                while process.poll() is None and not os.path.exists(os.path.join(out, f"sheet_{frame:04d}.h5")):
                    time.sleep(0.002)
                process.send_signal(signal.SIGTERM)
                process.communicate(timeout=300)
                if process.returncode == 130:  # else it had just finished
                    cut_short += 1
                    done = self.run_program("resume", out, "--quiet")
                    self.assertEqual(done.returncode, 0, done.stderr)
                found = self.files(out)
                self.assertEqual(found.keys(), expected.keys())
                for name, content in expected.items():
                    self.assertTrue(found[name] == content, f"{kind}: {name}, stopped after frame {frame}")
                shutil.rmtree(out)
        self.assertGreaterEqual(cut_short, 6, "moments that come too late show nothing")

    def refused(self, folder, *parts):
        before = {name: os.stat(os.path.join(folder, name)).st_mtime_ns for name in os.listdir(folder)} \
            if os.path.isdir(folder) else None
        done = self.run_program("resume", folder, "--quiet")
        self.assertEqual(done.returncode, 2, done.stderr)
        self.assertEqual(done.stdout, "")
        self.assertEqual(done.stderr.count("\n"), 1, done.stderr)
        for part in parts:
            self.assertIn(part, done.stderr)
        if before is not None:
            self.assertEqual(before, {name: os.stat(os.path.join(folder, name)).st_mtime_ns
                                      for name in os.listdir(folder)})

    def test_what_cannot_be_gone_on_with_is_told_and_left(self):
        self.refused(os.path.join(self.root, "nowhere"), "no such folder")
        self.refused(self.whole, "no checkpoint.h5", "the run there is finished")
        self.refused(self.case, "no checkpoint.h5", "run the case again")
        out = os.path.join(self.root, "spoilt")
        process = self.begin("run", self.case, "--out", out)
        while process.poll() is None and not os.path.exists(os.path.join(out, "sheet_0002.h5")):
            time.sleep(0.01)
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=300)
        self.assertEqual(process.returncode, 130)
        checkpoint = os.path.join(out, "checkpoint.h5")
        shutil.copy(checkpoint, checkpoint + ".keep")
        with h5py.File(checkpoint, "r+") as file:
            old = file["/polymers_toml"][:]
            del file["/polymers_toml"]
            file["/polymers_toml"] = numpy.append(old, numpy.int8(10))
        self.refused(out, "other cards", "run the case again")
        with h5py.File(checkpoint, "r+") as file:
            file.attrs["format_version"] = numpy.int32(1)
        self.refused(out, "another format version")
        os.replace(checkpoint + ".keep", checkpoint)
        os.rename(os.path.join(out, "sheet_0000.h5"), os.path.join(out, "sheet_0099.h5"))
        self.refused(out, "sheet_0000.h5")

    def test_the_time_between_checkpoints_is_a_time(self):
        for bad, part in (("10", "s"), ("3 mm", "time"), ("-1 s", "0 s or more")):
            done = self.run_program("run", self.case, "--quiet", "--out", "none", f"--save-every={bad}")
            self.assertEqual(done.returncode, 2, done.stderr)
            self.assertIn("--save-every", done.stderr)
            self.assertIn(part, done.stderr)
            self.assertFalse(os.path.exists(os.path.join(self.root, "none")))


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(verbosity=2)
