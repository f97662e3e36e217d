#!/usr/bin/python3
"""Does `pellicle verify` judge honestly? Its table, its JSON, its exit codes, and the cases it runs.

verify_test.py BIN          the quick problems as they are shipped, and coarse ones that must be off
verify_test.py BIN --full   all problems as they are shipped
"""
import glob
import json
import os
import subprocess
import sys
import tempfile
import tomllib
import unittest

import h5py
import numpy

sys.dont_write_bytecode = True
PROGRAM = ""
COARSE = ["verify", "free-disc-neo-hookean", "sticking-sphere-neo-hookean", "--elements", "8", "--quiet"]


def run(*arguments, folder=None):
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, cwd=folder, timeout=3000)


def checks_of(test, result):
    """All checks, each held to what it says of itself."""
    checks = [c for p in result["problems"] for c in p["checks"]]
    test.assertEqual(result["checks"], len(checks))
    for c in checks:
        test.assertEqual(c["verdict"], "ok" if abs(c["error"]) <= c["allowed"] else "off", c)
        test.assertTrue(c["source"], c)
        if c["expected"] is not None:
            test.assertAlmostEqual(c["error"], c["found"] / c["expected"] - 1, delta=1e-7 + 1e-6 * abs(c["error"]))
    test.assertEqual(result["off"], sum(c["verdict"] == "off" for c in checks))
    return checks


class Quick(unittest.TestCase):
    def test_shipped_problems_are_right(self):
        ran = run("verify", "--quick", "--json", "--quiet")
        self.assertEqual(ran.returncode, 0, ran.stdout + ran.stderr)
        result = json.loads(ran.stdout)
        self.assertEqual(result["elements_on_radius"], 40)
        checks = checks_of(self, result)
        self.assertGreaterEqual(len(checks), 8)
        self.assertEqual(ran.stderr, "")

    def test_a_coarse_mesh_is_off_and_exits_4(self):
        ran = run(*COARSE, "--json")
        self.assertEqual(ran.returncode, 4, ran.stdout + ran.stderr)
        result = json.loads(ran.stdout)
        self.assertGreater(result["off"], 0)
        checks_of(self, result)
        table = run(*COARSE)
        self.assertEqual(table.returncode, 4)
        self.assertIn("OFF", table.stdout)
        self.assertIn(f"{result['checks'] - result['off']} of {result['checks']} checks ok", table.stdout)

    def test_cases_stay_and_run_by_hand_to_the_same_answer(self):
        with tempfile.TemporaryDirectory(prefix="pellicle-verify-") as place:
            out = os.path.join(place, "kept")
            ran = run("verify", "sticking-sphere-neo-hookean", "--elements", "10", "--json", "--quiet", "--out", out)
            self.assertIn(ran.returncode, (0, 4), ran.stderr)
            case = os.path.join(out, "sticking-sphere-neo-hookean")
            with open(os.path.join(case, "case.toml"), "rb") as text:
                told = tomllib.load(text)
            # The defaults, and nothing but them: no pace, no limit, no count of frames.
            self.assertIn(told.get("numerics"), (None, {"trapped_air": False}))  # closed forms know of no air
            self.assertEqual(set(told["sheet"]), {"thickness", "outline", "height", "element", "density", "law"})
            again = run("run", case, "--out", os.path.join(place, "r"), "--quiet")
            self.assertEqual(again.returncode, 0, again.stderr)
            with h5py.File(sorted(glob.glob(os.path.join(place, "r", "sheet_*.h5")))[-1]) as frame:
                swept_mL = 1e-3 * frame.attrs["swept_volume_mm3"]
                self.assertTrue(numpy.isfinite(frame["node/thickness_mm"][:]).all())
            volume = next(c for c in json.loads(ran.stdout)["problems"][0]["checks"] if c["name"] == "swept volume")
            self.assertAlmostEqual(volume["found"], swept_mL, delta=1e-6 * swept_mL)

    def test_nothing_is_left_behind(self):
        with tempfile.TemporaryDirectory(prefix="pellicle-verify-") as place:
            ran = subprocess.run([PROGRAM, *COARSE], capture_output=True, cwd=place, env={**os.environ, "TMPDIR": place},
                                 timeout=600)
            self.assertEqual(ran.returncode, 4)
            self.assertEqual(os.listdir(place), [])


class Full(unittest.TestCase):
    def test_shipped_problems_are_right(self):
        ran = run("verify", "--json", "--quiet")
        print(ran.stdout)
        self.assertEqual(ran.returncode, 0, ran.stderr)
        result = json.loads(ran.stdout)
        names = {p["problem"] for p in result["problems"]}
        for part in ("free-disc", "small-load", "sliding-cone", "sliding-cup", "sliding-sphere", "sticking-cone",
                     "sticking-cylinder", "sticking-sphere", "sticking-trench"):
            self.assertTrue(any(n.startswith(part) for n in names), part)
        self.assertGreaterEqual(len(checks_of(self, result)), 40)


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    wanted = "Full" if "--full" in sys.argv else "Quick"
    sys.argv = [a for a in sys.argv if a != "--full"] + [wanted]
    unittest.main(verbosity=2)
