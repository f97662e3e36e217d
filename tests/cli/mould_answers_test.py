#!/usr/bin/python3
"""Are load, undercuts, grip and the verdicts on a printed mould right through `pellicle run`, files and all?

mould_answers_test.py BIN
"""
import json
import math
import os
import re
import subprocess
import sys
import tempfile
import unittest

import h5py
import numpy as np

sys.dont_write_bytecode = True
HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
import small_case  # noqa: E402

PROGRAM = ""
DOWN = 'name     = "press"\nclamp_to = "0 mm"'  # the clamp comes down to the platform while the gas presses


def turned(profile, facets=96):
    """Triangles of a profile of (radius, height) turned about z, walked with the outside on the right; mm."""
    rings = [[(r * math.cos(2 * math.pi * j / facets), r * math.sin(2 * math.pi * j / facets), z)
              for j in range(facets)] for r, z in profile]
    triangles = []
    for (r0, _), (r1, _), one, two in zip(profile, profile[1:], rings, rings[1:]):
        for j in range(facets):
            k = (j + 1) % facets
            if r1 > 0:
                triangles.append((one[j], two[j], two[k]))
            if r0 > 0:
                triangles.append((one[j], two[k], one[k]))
    return triangles


class MouldAnswers(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle-mould-")
        cls.root = cls.place.name

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    def run_case(self, triangles=None, is_lowered=False, **changes):
        """Findings by their ids, the last frame's file and what the program warned of."""
        case = small_case.write(os.path.join(self.root, self._testMethodName), **changes)
        if triangles is not None:
            small_case.write_stl(os.path.join(case, "block.stl"), triangles)
        if is_lowered:
            path = os.path.join(case, "case.toml")
            with open(path, encoding="utf-8") as file:
                text = file.read()
            with open(path, "w", encoding="utf-8") as file:
                file.write(text.replace('name     = "press"', DOWN))
        out = case + "-out"
        done = subprocess.run([PROGRAM, "run", case, "--json", "--quiet", "--out", out], text=True, capture_output=True,
                              timeout=600)
        self.assertEqual(done.returncode, 0, done.stderr)
        frames = sorted(name for name in os.listdir(out) if re.fullmatch(r"sheet_\d{4}\.h5", name))
        return ({each["id"]: each for each in json.loads(done.stdout)["findings"]}, os.path.join(out, frames[-1]),
                done.stderr)

    def test_the_load_is_pressure_times_the_area_seen_from_above(self):
        """A sheet that lies flat on a plate wider than itself, from start to end: nothing but the gas presses, on the
        disc inside the clamp. Contact is no less than the gas and a mean that comes and goes by some percent."""
        plate = small_case.block(bottom=52.0, top=50.0, height=4.0)
        findings, frame, _ = self.run_case(plate, pressure="3 bar", height="4.05 mm", element="2 mm",
                                           mould='resin = "standard"\nwall = "6 mm"\n')
        newtons = re.search(r"(\d+) N straight down in all", findings["mould_stress"]["why"])
        self.assertIsNotNone(newtons, findings["mould_stress"]["why"])
        with h5py.File(frame, "r") as file:
            points, triangles = file["/node/flat_mm"][()], file["/triangles"][()]
        a, b, c = (points[triangles[:, k]] for k in range(3))
        area_mm2 = 0.5 * np.abs(np.cross(b - a, c - a)).sum()
        self.assertAlmostEqual(area_mm2, math.pi * 20.0**2, delta=0.01 * math.pi * 20.0**2)  # a polygon of 2 mm sides
        self.assertAlmostEqual(float(newtons[1]), 0.3 * area_mm2, delta=0.02 * 0.3 * area_mm2)
        # A shell thicker than its mould is high leaves no hollow, and nothing in it bends or is filled.
        self.assertIn("leaves nothing inside this mould", findings["mould_stress"]["why"])
        self.assertIn("solid block", findings["mould_deflection"]["why"])
        self.assertNotIn("plaster", findings["mould_stress"]["advice"])
        # Nothing of it is thin: told in words and numbers, and no limit without a number.
        slender = findings["mould_slender"]
        self.assertEqual((slender["value"], slender["limit"], slender["verdict"]), (None, None, "pass"))
        self.assertRegex(slender["why"], r"thinner than 4 mm")
        self.assertRegex(findings["mould_buckling"]["why"], r"thinner than 4 mm and higher than 1\.5 times")
        # Without mould.temperature heat is not followed; the answer to the skin is, at the place touched first.
        self.assertEqual(len(findings["mould_shock"]["place_mm"]), 3)

    def test_a_mushroom_holds_the_part_where_and_as_deep_as_it_stands_over_it(self):
        """Cap of 7 mm, stem of 6.4 mm: wherever the sheet has gone in below the cap, the way out is the rest of the cap's
        radius; sixteen directions find it up to 2 % too long, 96 flats are up to 0.004 mm within the circle."""
        mushroom = turned([(0, 6), (7, 6), (7, 3.5), (6.4, 3.5), (6.4, 0), (0, 0)])
        findings, _, _ = self.run_case(mushroom, is_lowered=True, pressure="4 bar", height="6.5 mm",
                                       element='2 mm"\nfine_element = "0.5 mm', duration="0.6 s")
        undercut = findings["undercut"]
        x, y, z = undercut["place_mm"]
        depth = undercut["value"]
        self.assertTrue(0.1 < depth < 0.6 * 1.02, undercut)
        self.assertAlmostEqual(math.hypot(x, y) + depth, 7.0, delta=0.02 * depth + 0.005)
        self.assertTrue(0.0 < z < 3.5, undercut)
        self.assertNotEqual(undercut["verdict"], "pass")
        # PETG yields at 4 % (its card): the depth that would be so much of the ring's half width is the limit.
        self.assertAlmostEqual(undercut["limit"], 0.04 * math.hypot(x, y), delta=0.01)
        self.assertEqual(undercut["verdict"] == "fail", depth > undercut["limit"])

    def test_a_braille_dot_steeper_than_a_hemisphere_is_told_and_the_part_that_stays_above_it_is_free(self):
        """1.6 mm wide and 0.9 mm high (2010 ADA Standards, Table 703.3.1, at its ends): 0.094 mm more than a hemisphere
        of 0.806 mm; ten times as large, for the mould is not warned of below 0.01 mm. What stands over is told of the
        mould at the middle of its triangles, the lowest a third of a ring up. The sheet does not go in below it."""
        r, high, rings = 8.06, 9.0, 24
        foot = math.acos((r - high) / r)
        dot = [(r * math.sin(foot * i / rings), high - r * (1 - math.cos(foot * i / rings))) for i in range(rings)]
        dot += [(math.sqrt(r * r - (high - r) ** 2), 0.0), (0, 0)]
        findings, _, warned = self.run_case(turned(dot), height="9.5 mm")
        told = re.search(r"an undercut of (\S+) mm\^2, up to (\S+) mm deep, deepest at \((\S+), (\S+), (\S+)\) mm",
                         warned)
        self.assertIsNotNone(told, warned)
        area, depth, x, y, z = map(float, told.groups())
        hidden = sum(math.pi * (r0 + r1) * math.hypot(r1 - r0, z1 - z0)
                     for (r0, z0), (r1, z1) in zip(dot, dot[1:-1]) if r1 < r0 and z1 < z0)
        self.assertAlmostEqual(area, hidden, delta=0.01 * hidden)  # 96 flats and three digits
        most = r - dot[-2][0]  # 0.055 mm
        self.assertTrue(0.5 * most < depth < 1.02 * most, told[0])  # two thirds of the lowest ring are below that middle
        self.assertTrue(0.0 < z < 0.3, told[0])
        self.assertAlmostEqual(math.hypot(x, y), r - depth, delta=0.02)  # digits of the place, and flats
        undercut = findings["undercut"]
        self.assertEqual((undercut["value"], undercut["verdict"]), (0, "pass"))
        self.assertIn("nothing of the mould stands over it", undercut["why"])

    def test_a_drafted_cone_is_gripped_as_by_a_ring_that_has_shrunk_on(self):
        """docs/theory/demould.md: a wall of draft d is pressed by E e h cos d/R; a lid pulls its rim onto the wall with
        E e h/(1 - nu) tan(b/2) of the turn b. h and the area that touches are those of the last frame; the rims of what
        touches count half a thickness too far, 3 to 3.5 % (there), and the frame's own edges are as coarse again."""
        draft, high, top = math.radians(3), 8.0, 7.0
        cone = turned([(0, high), (top, high), (top + high * math.tan(draft), 0), (0, 0)])
        findings, frame, _ = self.run_case(cone, is_lowered=True, pressure="4 bar", height="8.5 mm",
                                           element='2 mm"\nfine_element = "0.35 mm', duration="0.6 s")
        with h5py.File(frame, "r") as file:
            points, triangles, h = (file[name][()] for name in ("/points_mm", "/triangles", "/triangle/thickness_mm"))
            gap = file["/node/gap_mm"][()]
        a, b, c = (points[triangles[:, k]] for k in range(3))
        normal = np.cross(b - a, c - a)
        area = 0.5 * np.linalg.norm(normal, axis=1)
        level, middle = normal[:, 2] / (2 * area), (a + b + c) / 3
        r = np.hypot(middle[:, 0], middle[:, 1])
        touches = (gap[triangles] < 0.075).all(axis=1)  # a tenth of the bought thickness
        wall, rim = touches & (np.abs(level) < 0.3), touches & (level > 0.9) & (middle[:, 2] > 7.8) & (r > 5.5)
        self.assertGreater(wall.sum(), 300)
        self.assertGreater(rim.sum(), 50)
        # Card of PETG: 2.1 GPa, nu 0.39, 68e-6/K from 77 to 20 degrees C; the mould follows by 0.3 of 90e-6/K.
        stiff, nu, strain = 2100.0, 0.39, (68e-6 - 0.3 * 90e-6) * 57.0
        holds = 0.2 * math.cos(draft) - math.sin(draft)
        on_wall = stiff * strain * math.cos(draft) * holds * (h[wall] * area[wall] / r[wall]).sum()
        lid_pulls = stiff * strain * h[rim].mean() / (1 - nu) * math.tan((math.pi / 2 - draft) / 2)
        expected = on_wall + 2 * math.pi * top * lid_pulls * holds
        release = findings["release"]
        self.assertAlmostEqual(release["value"], expected, delta=0.07 * expected)
        self.assertEqual(release["unit"], "N")
        self.assertLess(math.hypot(*release["place_mm"][:2]), top + high * math.tan(draft) + 0.1)
        self.assertAlmostEqual(findings["draft"]["value"], 3.0, delta=0.01)  # 96 flats


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main()
