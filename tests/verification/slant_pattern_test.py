#!/usr/bin/python3
"""Does the wall of a drafted male block thin the way it was measured on HIPS?

Published: "Studies on the stretching behaviour of medium-gauge HIPS sheets during positive thermoforming" (abstract read;
1.5 and 2.5 mm, 130 and 140 C): along the slant the wall thins away from the mould's corner and away from the clamp,
more steeply at the corner; both grow with the depth of draw and shrink with draft; the middle of the slant is nearly
uniform. Only the pattern is held, for no numbers were read. Thinning may mean against the bought sheet or against the
corner: both are looked at.

    slant_pattern_test.py PROGRAM                 runs and judges
    slant_pattern_test.py PROGRAM --picture PNG   and draws thickness along the slant, stick and slip
"""
import argparse
import math
import struct
import subprocess
import sys
import tempfile
from pathlib import Path

import h5py
import numpy as np

TOP, SHEET, GAUGE = 40.0, 120.0, 1.5  # mm: side of the block's top, of the sheet, thickness
DEPTHS, DRAFTS = (15.0, 30.0), (5.0, 15.0)  # mm, degrees

CASE = """title = "block {depth} mm deep, draft {draft} degrees"
[sheet]
polymer = "hips"
thickness = "{gauge} mm"
outline = {{ rectangle = ["{sheet} mm", "{sheet} mm"], corner = "10 mm" }}
height = "{depth} mm"
element = "3 mm"
fine_element = "0.8 mm"
[mould]
surface = "block.stl"
unit = "mm"
friction = {friction}
[[forming.stage]]
name = "lower"
duration = "0.5 s"
pressure = "0 bar"
clamp_to = "0 mm"
[[forming.stage]]
name = "press"
duration = "1 s"
pressure = "1 bar"
[numerics]
frames = 1
"""


def block_stl(path, depth, draft):
    """A frustum; its top edges are cut off by 1 mm, as wide as a radius the trade would give it."""
    foot, cut = TOP / 2 + depth * math.tan(math.radians(draft)), 1.0
    rings = [(foot, 0.0), (TOP / 2 + cut * math.tan(math.radians(draft)), depth - cut), (TOP / 2 - cut, depth)]
    points = [(x * h, y * h, z) for h, z in rings for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    triangles = [(8, 9, 10), (8, 10, 11), (0, 2, 1), (0, 3, 2)]
    for low in (0, 4):
        for k in range(4):
            a, b = low + k, low + (k + 1) % 4
            triangles += [(a, b, b + 4), (a, b + 4, a + 4)]
    facets = b"".join(struct.pack("<12fH", *(0.0,) * 3, *(v for p in t for v in points[p]), 0) for t in triangles)
    path.write_bytes(b" " * 80 + struct.pack("<I", len(triangles)) + facets)


def slant(program, depth, draft, friction):
    """(share of the way from the corner to the foot, thickness) down the middle of a side."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        block_stl(folder / "block.stl", depth, draft)
        (folder / "case.toml").write_text(CASE.format(depth=depth, draft=draft, friction=friction, gauge=GAUGE, sheet=SHEET))
        ran = subprocess.run([program, "run", str(folder), "--out", str(folder / "results"), "--quiet"],
                             capture_output=True, text=True, stdin=subprocess.DEVNULL)
        if ran.returncode != 0:
            raise SystemExit(f"FAIL: depth {depth}, draft {draft}, {friction}: exit {ran.returncode}\n{ran.stderr}")
        with h5py.File(max((folder / "results").glob("sheet_*.h5"))) as file:
            points, thickness = file["/points_mm"][()].astype(float), file["/node/thickness_mm"][()].astype(float)
    half = TOP / 2
    on = (points[:, 0] > 0) & (np.abs(points[:, 1]) < 8) & (points[:, 2] > 0.02 * depth) & (points[:, 2] < depth - 1.0)
    on &= points[:, 0] < half + depth * math.tan(math.radians(draft)) + 1.0
    way = 1.0 - points[on, 2] / depth
    # The side is as good as even along y: a running mean over the nodes near each station.
    stations = np.linspace(0.08, 0.92, 29)
    return stations, np.array([np.average(thickness[on], weights=np.exp(-(((way - s) / 0.03) ** 2))) for s in stations])


def judge(state, curves):
    """Prints a line a claim; returns how many of those that docs/verification.md says hold do not."""
    failed = 0

    def claim(holds, text, is_held=True):
        nonlocal failed
        failed += is_held and not holds
        print(f"{'ok    ' if holds else 'FAIL  ' if is_held else 'differs'} {text}")

    sliding = state != "sticking"
    fall, thinning = {}, {}
    for (depth, draft), (s, h) in curves.items():
        here = f"depth {depth:g}, draft {draft:g}:"
        fall[depth, draft], thinning[depth, draft] = 1 - h.min() / h[0], 1 - h.min() / GAUGE
        claim(fall[depth, draft] > 0.05, f"{here} thinner away from the corner, by {100 * fall[depth, draft]:.0f} %")
        claim(h.argmin() < len(h) - 1 and h[-1] > h.min(), f"{here} thinner away from the clamp, thinnest at "
                                                          f"{s[h.argmin()]:.2f} of the slant")
        steep, rest = (h[0] - h[3]) / (s[3] - s[0]), np.ptp(h[(s > 0.35) & (s < 0.55)]) / 0.2
        shallow_slide = sliding and depth == DEPTHS[0]
        claim(steep > rest, f"{here} steeper at the corner ({steep:.2f} mm a slant) than in the middle ({rest:.2f})",
              shallow_slide)
        middle = np.ptp(h[(s > 0.25) & (s < 0.55)]) / h.mean()
        claim(middle < 0.05, f"{here} middle nearly uniform, within {100 * middle:.0f} %", sliding)
    for draft in DRAFTS:
        claim(thinning[DEPTHS[1], draft] > thinning[DEPTHS[0], draft],
              f"draft {draft:g}: thinning of the bought sheet grows with depth, {100 * thinning[DEPTHS[0], draft]:.0f} to "
              f"{100 * thinning[DEPTHS[1], draft]:.0f} %")
        claim(fall[DEPTHS[1], draft] > fall[DEPTHS[0], draft], f"draft {draft:g}: fall from the corner grows with depth",
              False)
    for depth in DEPTHS:
        claim(thinning[depth, DRAFTS[1]] < thinning[depth, DRAFTS[0]],
              f"depth {depth:g}: thinning of the bought sheet shrinks with draft")
        claim(fall[depth, DRAFTS[1]] < fall[depth, DRAFTS[0]], f"depth {depth:g}: fall from the corner shrinks with draft",
              not sliding)
    return failed


def draw(path, all_curves):
    import matplotlib
    matplotlib.use("Agg")
    import matplotlib.pyplot as plt
    figure, axes = plt.subplots(1, len(all_curves), figsize=(10, 4), sharey=True, squeeze=False)
    for axis, (name, curves) in zip(axes[0], all_curves.items()):
        for (depth, draft), (s, h) in curves.items():
            axis.plot(s, h, label=f"{depth:g} mm deep, draft {draft:g}°")
        axis.set_title(name)
        axis.set_xlabel("way down the slant, corner 0 to foot 1")
        axis.grid(alpha=0.3)
    axes[0][0].set_ylabel(f"thickness, mm, of {GAUGE} mm bought")
    axes[0][0].legend()
    figure.tight_layout()
    figure.savefig(path, dpi=110)


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("program")
    options.add_argument("--picture", type=Path)
    given = options.parse_args()
    states = {"sticking": '"stick"', "sliding, friction 0.3": "0.3"}
    all_curves = {}
    for name, friction in states.items():
        all_curves[name] = {(depth, draft): slant(given.program, depth, draft, friction)
                            for depth in DEPTHS for draft in DRAFTS}
    failed = 0
    for name, curves in all_curves.items():
        print(f"{name}:")
        failed += judge(name, curves)
    if given.picture:
        draw(given.picture, all_curves)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
