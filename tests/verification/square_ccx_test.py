#!/usr/bin/python3
"""Does an independent code blow the same square? CalculiX, thin quadratic solids, against pellicle, at one pressure.

square_ccx_test.py BIN

The deck is held first against the disc, whose answer is known (tests/data); then both codes do the square.
"""
import csv
import glob
import os
import subprocess
import sys
import tempfile
import unittest

import h5py
import numpy as np
from scipy.interpolate import CloughTocher2DInterpolator

PROGRAM = ""
DATA = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "data")
HALF_MM, THICK_MM, MODULUS_MPA = 50.0, 0.5, 0.3
CELLS = 8  # along half a side
# Where the two are compared, in quarters of a side from the centre: pole, half way to the side, half way to the corner.
PLACES = [("POLE", 0, 0), ("SIDE", 1, 0), ("CORNER", 1, 1)]
# Bulk over shear modulus 1000: the volume changes by the mean stress over the bulk modulus, below 0.1 %.
BULK_MPA = 1000 * MODULUS_MPA


def place(shape, u, v):
    """The quarter sheet: u, v from 0 to 1 onto the square, or onto the disc (the boundary onto its rim)."""
    if shape == "square":
        return HALF_MM * u, HALF_MM * v
    return HALF_MM * u * np.sqrt(1 - v * v / 2), HALF_MM * v * np.sqrt(1 - u * u / 2)


def write_deck(path, shape, pressure_mpa):
    """A quarter of the sheet in C3D20R, one layer; the pressure half on either face, so that it acts at mid-thickness."""
    n = 2 * CELLS
    number, lines = {}, ["*NODE, NSET=ALL"]
    for k in range(3):
        for j in range(n + 1):
            for i in range(n + 1):
                if (i % 2) + (j % 2) + (k % 2) > 1:
                    continue  # no nodes inside faces and cells
                number[i, j, k] = len(number) + 1
                x, y = place(shape, i / n, j / n)
                lines.append(f"{number[i, j, k]}, {x:.12g}, {y:.12g}, {(k - 1) * THICK_MM / 2:.12g}")
    lines.append("*ELEMENT, TYPE=C3D20R, ELSET=SHEET")
    corner = [(0, 0, 0), (2, 0, 0), (2, 2, 0), (0, 2, 0), (0, 0, 2), (2, 0, 2), (2, 2, 2), (0, 2, 2)]
    middle = [(1, 0, 0), (2, 1, 0), (1, 2, 0), (0, 1, 0), (1, 0, 2), (2, 1, 2), (1, 2, 2), (0, 1, 2),
              (0, 0, 1), (2, 0, 1), (2, 2, 1), (0, 2, 1)]
    element = 0
    for j in range(0, n, 2):
        for i in range(0, n, 2):
            element += 1
            nodes = [number[i + a, j + b, c] for a, b, c in corner + middle]
            lines.append(", ".join(map(str, [element] + nodes[:10])) + ",")
            lines.append(", ".join(map(str, nodes[10:])))

    def fixed(name, wanted):
        lines.append(f"*NSET, NSET={name}")
        lines.extend(str(number[key]) for key in number if wanted(key))
    # Held as a membrane is: mid-thickness stays, the edge may turn. Clamped over the thickness it would stand up to a
    # percent lower.
    fixed("RIM", lambda key: key[2] == 1 and n in key[:2])
    fixed("XSYM", lambda key: key[0] == 0)
    fixed("YSYM", lambda key: key[1] == 0)
    for name, i, j in PLACES:
        fixed(name, lambda key, i=i, j=j: key == (i * CELLS, j * CELLS, 1))
    lines += ["*MATERIAL, NAME=RUBBER", "*HYPERELASTIC, NEO HOOKE", f"{MODULUS_MPA / 2}, {2 / BULK_MPA}",
              "*SOLID SECTION, ELSET=SHEET, MATERIAL=RUBBER", "*BOUNDARY", "RIM, 1, 3", "XSYM, 1", "YSYM, 2"]
    for i, j, k in number:
        if k == 0 and n in (i, j) and (i % 2 or j % 2):
            for direction in (1, 2, 3):
                lines += ["*EQUATION", "2", f"{number[i, j, 0]}, {direction}, 1, {number[i, j, 2]}, {direction}, 1"]
    lines += [
              "*STEP, NLGEOM, INC=400", "*STATIC", "0.002, 1., 1e-8, 0.1", "*DLOAD",
              f"SHEET, P1, {pressure_mpa / 2:.12g}", f"SHEET, P2, {-pressure_mpa / 2:.12g}",
              *(line for name, _, _ in PLACES for line in (f"*NODE PRINT, NSET={name}, FREQUENCY=1000", "U")),
              "*END STEP", ""]
    with open(path, "w") as deck:
        deck.write("\n".join(lines))


def ccx(shape, pressure_mpa):
    """Where the places are at mid-thickness when blown: x, y, height in mm, a row each."""
    with tempfile.TemporaryDirectory(prefix="pellicle-ccx-") as folder:
        write_deck(os.path.join(folder, "sheet.inp"), shape, pressure_mpa)
        ran = subprocess.run(["ccx", "sheet"], cwd=folder, capture_output=True, text=True, timeout=900,
                             env={**os.environ, "OMP_NUM_THREADS": "1"})
        with open(os.path.join(folder, "sheet.dat")) as result:
            rows = [[float(word) for word in line.split()] for line in result if len(line.split()) == 4]
        if ran.returncode != 0 or len(rows) != len(PLACES):
            raise AssertionError("ccx did not come through: " + ran.stdout[-2000:])
        moved = []
        for (_, i, j), (_, ux, uy, uz) in zip(PLACES, rows):
            x, y = place(shape, i / 2, j / 2)
            moved.append([x + ux, y + uy, abs(uz)])
        return np.array(moved)


def case_text(outline, element_mm, pressure_mpa):
    """The sheet of this page, free, of this outline, blown by a pressure; also for tests/bench/calculix.py."""
    return f"""[sheet]
thickness = "{THICK_MM} mm"
outline = {{ {outline} }}
height = "60 mm"
element = "{element_mm:.6g} mm"
density = "1200 kg/m^3"
[sheet.law]
kind = "neo-hookean"
shear_modulus = "{MODULUS_MPA} MPa"
[[forming.stage]]
name = "blow"
duration = "1 s"
pressure = "{1e6 * pressure_mpa:.12g} Pa"
"""


def pellicle(pressure_mpa):
    """The same by the program: cubic interpolation between its nodes."""
    with tempfile.TemporaryDirectory(prefix="pellicle-square-") as folder:
        case = os.path.join(folder, "square.toml")
        with open(case, "w") as text:
            text.write(case_text(f'rectangle = ["{2 * HALF_MM} mm", "{2 * HALF_MM} mm"]', HALF_MM / 32, pressure_mpa))
        out = os.path.join(folder, "out")
        subprocess.run([PROGRAM, "run", case, "--out", out, "--quiet"], check=True, stdout=subprocess.DEVNULL)
        with h5py.File(sorted(glob.glob(os.path.join(out, "sheet_*.h5")))[-1]) as frame:
            flat, points = frame["node/flat_mm"][:].astype(float), frame["points_mm"][:].astype(float)
    points[:, 2] = 60 - points[:, 2]
    blown = CloughTocher2DInterpolator(flat, points)
    return blown([place("square", i / 2, j / 2) for _, i, j in PLACES])


class Ccx(unittest.TestCase):
    def test_deck_blows_the_disc_as_the_equations_do(self):
        def table(name, **wanted):
            with open(os.path.join(DATA, name)) as text:
                rows = csv.DictReader(line for line in text if not line.startswith("#"))
                return next(r for r in rows if all(float(r[key]) == value for key, value in wanted.items()))
        row = table("ref_circular_membrane_inflation.csv", alpha=0, lambda_pole=1.2)
        half = table("ref_circular_membrane_profiles.csv", alpha=0, lambda_pole=1.2, R_over_a=0.5)
        found = ccx("disc", float(row["P_a_over_mu_h0"]) * MODULUS_MPA * THICK_MM / HALF_MM)
        height, r, z = (HALF_MM * float(x) for x in (row["dome_height_over_a"], half["r_over_a"], half["z_over_a"]))
        print(f"disc, CalculiX against the equations: height {found[0, 2]:.4f} / {height:.4f} mm, "
              f"half way r {found[1, 0]:.4f} / {r:.4f} mm, z {found[1, 2]:.4f} / {z:.4f} mm")
        # A sheet one hundredth as thick as it is wide, with some bending, on its mesh: 0.2 %.
        for ours, exact in ((found[0, 2], height), (found[1, 0], r), (found[1, 2], z)):
            self.assertLess(abs(ours / exact - 1), 0.002)

    def test_square_is_the_same(self):
        pressure_mpa = 1.0 * MODULUS_MPA * THICK_MM / HALF_MM  # stretch about 1.2 at the pole
        theirs, ours = ccx("square", pressure_mpa), pellicle(pressure_mpa)
        for (name, _, _), a, b in zip(PLACES, theirs, ours):
            print(f"square, {name.lower()}: CalculiX {np.round(a, 4)}, pellicle {np.round(b, 4)} mm, apart "
                  f"{100 * np.linalg.norm(a - b) / theirs[0, 2]:.3f} % of the height")
            # What the disc shows of the deck, and 0.05 % of our own mesh.
            self.assertLess(np.linalg.norm(a - b), 0.0025 * theirs[0, 2])
        self.assertGreater(theirs[0, 2], 0.3 * HALF_MM)


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(verbosity=2)
