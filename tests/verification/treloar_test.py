#!/usr/bin/python3
"""Does the program blow up the rubber disc that Treloar measured?

treloar_test.py BIN [--plot FILE.svg]

L. R. G. Treloar, Trans. Faraday Soc. 40 (1944) 59, Table I (tests/data): a clamped disc, 25 mm across and 0.82 mm thick,
pressure against the stretch at the pole. Laws: neo-Hookean with 4.0 kg/cm^2, Treloar's value for the same rubber in
simple elongation, and Ogden's three terms (Proc. R. Soc. A 326 (1972) 565), fitted to elongation, shear and the biaxial
stresses of this table; both from memory. No number here was fitted to a pressure.
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

PROGRAM, PLOT = "", None
DATA = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "data", "treloar1944_table1_inflation.csv")
KG_CM2 = 98066.5  # Pa
LAWS = {
    "neo-Hookean, 4.0 kg/cm2": (f'kind = "neo-hookean"\nshear_modulus = "{4.0 * KG_CM2} Pa"', 14.4),
    "Ogden 1972": ('kind = "ogden"\nmu = [{}]\nalpha = [1.3, 5.0, -2.0]'.format(
        ", ".join(f'"{x * KG_CM2:.9g} Pa"' for x in (6.3, 0.012, -0.1))), 24),
}
# Readings below a stretch of 1.15 scatter by more than the laws differ.
LEAST = 1.15


def measured():
    with open(DATA) as text:
        rows = list(csv.DictReader(line for line in text if not line.startswith("#")))
    return np.array([[float(row["lambda"]), float(row["P_kPa"])] for row in rows])


def blown(law, volume_mL):
    """Stretch at the pole and pressure in kPa, frame by frame."""
    with tempfile.TemporaryDirectory(prefix="pellicle-treloar-") as folder:
        case = os.path.join(folder, "disc.toml")
        with open(case, "w") as text:
            text.write(f"""[sheet]
thickness = "0.82 mm"
outline = {{ disc = "25 mm" }}
height = "60 mm"
element = "0.625 mm"
density = "950 kg/m^3"
[sheet.law]
{law}
[[forming.stage]]
name = "blow"
duration = "1 s"
volume = "{volume_mL} mL"
[numerics]
frames = 120
""")
        out = os.path.join(folder, "out")
        subprocess.run([PROGRAM, "run", case, "--out", out, "--quiet"], check=True, stdout=subprocess.DEVNULL)
        path = []
        for name in sorted(glob.glob(os.path.join(out, "sheet_*.h5")))[1:]:
            with h5py.File(name) as frame:
                pole = np.argmin(np.hypot(*frame["node/flat_mm"][:].T))
                path.append([frame["node/stretch_1"][pole], 1e3 * frame.attrs["pressure_MPa"]])
        return np.array(path)


def plot(paths, table):
    import matplotlib
    matplotlib.use("svg")
    matplotlib.rcParams["svg.hashsalt"] = "treloar"
    from matplotlib import pyplot
    figure, axes = pyplot.subplots(figsize=(6.4, 4.2), layout="constrained")
    axes.plot(*table.T, "o", color="black", label="Treloar 1944, Table I")
    for (name, path), style, colour in zip(paths.items(), ("-", "--"), ("#1b6ca8", "#b5541c")):
        axes.plot(*path.T, style, color=colour, label=name)
    axes.set(xlabel="stretch at the pole", ylabel="pressure, kPa", xlim=(1, 4.6), ylim=(0, 56))
    axes.legend(frameon=False)
    figure.savefig(PLOT, metadata={"Date": None, "Creator": None})


class Treloar(unittest.TestCase):
    def test_pressure_against_stretch(self):
        table, paths = measured(), {}
        table_used = table[table[:, 0] > LEAST]
        self.assertEqual(len(table_used), 12)
            # What a neo-Hookean law leaves, known for this table: -8 to +13 %, in whole percents. Ogden's law is within
        # -5 and +6 % of the table's biaxial stresses from here on; the rest is in the shape of the bubble, whose radius
        # at the pole was larger than a membrane of either law has at that stretch.
        bands = {"neo-Hookean, 4.0 kg/cm2": (-0.085, 0.135), "Ogden 1972": (-0.03, 0.16)}
        for name, (law, volume_mL) in LAWS.items():
            path = paths[name] = blown(law, volume_mL)
            self.assertGreater(path[-1, 0], table[-1, 0], f"{name} ends at a stretch of {path[-1, 0]:.2f}")
            self.assertTrue((np.diff(path[:, 0]) > 0).all())
            misfit = np.interp(table_used[:, 0], *path.T) / table_used[:, 1] - 1
            print(f"{name}: {100 * misfit.min():+.1f} to {100 * misfit.max():+.1f} %, rms "
                  f"{100 * np.sqrt((misfit ** 2).mean()):.1f} %, largest pressure {path[:, 1].max():.1f} kPa "
                  f"(measured {table[:, 1].max():.1f})")
            self.assertGreater(misfit.min(), bands[name][0])
            self.assertLess(misfit.max(), bands[name][1])
        if PLOT:
            plot(paths, table)


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    if "--plot" in sys.argv:
        PLOT = sys.argv.pop(sys.argv.index("--plot") + 1)
        sys.argv.remove("--plot")
    unittest.main(verbosity=2)
