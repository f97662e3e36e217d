#!/usr/bin/python3
"""What does refinement cost, and how right is it? Refined and even sheets against one that is finer still.

    refinement_study.py PROGRAM [CASE ...]      prints the table of docs/verification.md; up to half an hour a case

Thickness over the flat sheet, sampled at points half an element apart and weighted alike, away from contact lines: no
closer than 2 mm to a triangle with both touching and free nodes in the reference. Cost is element_updates of the
summary. An even sheet is one without refinement; the coarsest even one that is within 1 % rms and 3 % at worst is what
the refined one must beat five times over.
"""
import argparse
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import h5py
import matplotlib.tri as tri
import numpy as np
from scipy.spatial import cKDTree

ROOT = Path(__file__).resolve().parents[2]
# Case: reference element, even elements to try, (element, fine_element) to try; mm.
STUDIES = {
    "herb-marker": (0.4, (0.7, 1.0, 1.4), ((3.0, 0.7), (3.0, 0.5))),
    "seed-tray": (0.7, (1.0, 1.4, 2.0), ((4.0, 0.7), (4.0, 1.0))),
    "cone-cavity": (0.25, (0.7, 1.0, 1.4), ((3.0, 0.7), (2.0, 0.5))),
}
AWAY_MM, RMS, WORST = 2.0, 0.01, 0.03


def with_elements(text, element, fine):
    text = re.sub(r"(?m)^fine_element *=.*\n", "", text)
    text = re.sub(r"(?m)^rim_element *=.*\n", "", text)
    text, count = re.subn(r"(?m)^element *=.*$", f'element = "{element} mm"\nfine_element = "{fine} mm"', text)
    assert count == 1
    return text


def run(program, case, element, fine):
    """Points of the flat sheet, triangles, thickness, touched nodes, updates."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file in (ROOT / "cases" / case).iterdir():
            if file.is_file():
                (folder / file.name).write_bytes(file.read_bytes())
        (folder / "case.toml").write_text(with_elements((folder / "case.toml").read_text(), element, fine))
        out = folder / "results"
        ran = subprocess.run([program, "run", str(folder), "--out", str(out), "--quiet"], capture_output=True, text=True)
        if ran.returncode != 0:
            raise SystemExit(f"{case}, {element} / {fine} mm: exit {ran.returncode}\n{ran.stderr}")
        summary = json.loads((out / "summary.json").read_text())
        with h5py.File(max(out.glob("sheet_*.h5"))) as frame:
            return {"flat": frame["node/flat_mm"][()].astype(float), "corners": frame["triangles"][()],
                    "thickness": frame["node/thickness_mm"][()].astype(float),
                    "touched": ~np.isnan(frame["node/touched_s"][()]) & (frame["node/gap_mm"][()] < 0.01),
                    "updates": summary["element_updates"], "elements": summary["final_elements"]}


def sampled(result, points):
    mesh = tri.Triangulation(*result["flat"].T, result["corners"])
    return tri.LinearTriInterpolator(mesh, result["thickness"])(*points.T).filled(np.nan)


def stations(reference, spacing):
    """Even points of the flat sheet away from contact lines."""
    low, high = reference["flat"].min(axis=0), reference["flat"].max(axis=0)
    grid = np.stack(np.meshgrid(*(np.arange(a + spacing, b, spacing) for a, b in zip(low, high))), -1).reshape(-1, 2)
    touched = reference["touched"][reference["corners"]]
    mixed = touched.any(axis=1) & ~touched.all(axis=1)
    lines = reference["flat"][reference["corners"][mixed]].mean(axis=1)
    return grid[cKDTree(lines).query(grid)[0] > AWAY_MM] if len(lines) else grid


def study(program, case):
    finest, even, refined = STUDIES[case]
    reference = run(program, case, finest, finest)
    points = stations(reference, 0.5 * max(even))
    truth = sampled(reference, points)
    print(f"{case}: reference {finest} mm, {reference['elements']} triangles, {reference['updates']:.3g} updates; "
          f"{len(points)} points away from contact lines", flush=True)
    best = None
    for element, fine in [(e, e) for e in even] + list(refined):
        result = run(program, case, element, fine)
        off = sampled(result, points) / truth - 1.0
        off = off[np.isfinite(off)]
        rms, worst = np.sqrt(np.mean(off ** 2)), np.abs(off).max()
        is_even, is_good = element == fine, rms <= RMS and worst <= WORST
        if is_even and is_good and (best is None or result["updates"] < best):
            best = result["updates"]
        share = f", 1/{best / result['updates']:.1f} of the coarsest even one" if best and not is_even else ""
        print(f"  {element} mm" + ("" if is_even else f" down to {fine} mm") + f": {result['elements']} triangles, "
              f"{result['updates']:.3g} updates, {100 * rms:.2f} % rms, {100 * worst:.2f} % at worst"
              f"{'' if is_good else ' (too much)'}{share}", flush=True)


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("program", type=lambda p: str(Path(p).resolve()))
    options.add_argument("case", nargs="*", default=list(STUDIES), choices=list(STUDIES))
    given = options.parse_args()
    for case in given.case:
        study(given.program, case)


if __name__ == "__main__":
    sys.exit(main())
