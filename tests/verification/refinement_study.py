#!/usr/bin/python3
"""What does refinement cost, and how right is it? Refined and even sheets against one that is finer still.

    refinement_study.py PROGRAM [CASE ...]      prints the table of docs/verification.md; up to half an hour a case

Thickness at the nodes of each sheet, weighted by their area of the flat sheet, against the finer one there, away from
contact lines: no closer than 2 mm to a triangle with both touching and free nodes in the finer one. Cost is
element_updates of the summary. An even sheet is one without refinement; the coarsest even one that is within 1 % rms and 3 % at worst is what
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
    "herb-marker": (0.4, (0.5, 0.6, 0.7, 1.0), ((2.0, 0.4), (2.0, 0.5))),
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


def contact_lines(result):
    """Middles of the triangles that are on the mould in part."""
    touched = result["touched"][result["corners"]]
    mixed = touched.any(axis=1) & ~touched.all(axis=1)
    return result["flat"][result["corners"][mixed]].mean(axis=1)


def flat_areas(result):
    """Of each node, a third of its triangles."""
    a, b, c = (result["flat"][result["corners"][:, k]] for k in range(3))
    area = 0.5 * np.abs((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]))
    return np.bincount(result["corners"].ravel(), np.repeat(area / 3.0, 3), len(result["flat"]))


def error(result, truth, lines):
    """rms and worst relative error of thickness away from contact lines, and the share of the sheet that is."""
    value = truth(*result["flat"].T).filled(np.nan)
    area = flat_areas(result)
    away = np.isfinite(value) & (cKDTree(lines).query(result["flat"])[0] > AWAY_MM if len(lines) else True)
    off = result["thickness"][away] / value[away] - 1.0
    return np.sqrt(np.average(off ** 2, weights=area[away])), np.abs(off).max(), area[away].sum() / area.sum()


def study(program, case):
    finest, even, refined = STUDIES[case]
    reference = run(program, case, finest, finest)
    truth = tri.LinearTriInterpolator(tri.Triangulation(*reference["flat"].T, reference["corners"]), reference["thickness"])
    lines = contact_lines(reference)
    print(f"{case}: reference {finest} mm, {reference['elements']} triangles, {reference['updates']:.3g} updates", flush=True)
    best = None
    for element, fine in [(e, e) for e in even] + list(refined):
        result = run(program, case, element, fine)
        rms, worst, share = error(result, truth, lines)
        is_even, is_good = element == fine, rms <= RMS and worst <= WORST
        if is_even and is_good and (best is None or result["updates"] < best):
            best = result["updates"]
        ratio = f", 1/{best / result['updates']:.1f} of the coarsest even one" if best and not is_even else ""
        print(f"  {element} mm" + ("" if is_even else f" down to {fine} mm") + f": {result['elements']} triangles, "
              f"{result['updates']:.3g} updates, {100 * rms:.2f} % rms, {100 * worst:.2f} % at worst"
              f"{'' if is_good else ' (too much)'}{ratio}; {100 * share:.0f} % of the sheet", flush=True)


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("program", type=lambda p: str(Path(p).resolve()))
    options.add_argument("case", nargs="*", default=list(STUDIES), choices=list(STUDIES))
    given = options.parse_args()
    for case in given.case:
        study(given.program, case)


if __name__ == "__main__":
    sys.exit(main())
