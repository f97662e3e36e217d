#!/usr/bin/python3
"""Draws where the pace of the rule shows: thickness against a run 8 times slower, in the flat sheet.

pace_map.py FOLDER OUT.png     FOLDER: what test_verification wrote with PELLICLE_PACE_MAP=FOLDER
"""
import sys

import matplotlib
import numpy as np

matplotlib.use("agg")
from matplotlib import pyplot  # noqa: E402

if __name__ == "__main__":
    folder, out = sys.argv[1:]
    figure, panes = pyplot.subplots(1, 3, figsize=(9.5, 3.3), layout="constrained")
    for name, axes in zip(("cup", "cone", "sphere"), panes):
        x, y, difference = np.loadtxt(f"{folder}/{name}.csv", delimiter=",", skiprows=1).T
        drawn = axes.tricontourf(x, y, np.clip(100 * np.abs(difference), 1e-4, None), cmap="cividis",
                                 levels=np.logspace(-3, 0, 13), norm=matplotlib.colors.LogNorm(1e-3, 1), extend="both")
        axes.set(title=name, aspect="equal", xlabel="x, mm")
    panes[0].set_ylabel("y, mm")
    bar = figure.colorbar(drawn, ax=panes, label="difference in thickness, %", ticks=[1e-3, 1e-2, 1e-1, 1])
    bar.ax.set_yticklabels(["0.001", "0.01", "0.1", "1"])
    figure.savefig(out, dpi=90, metadata={"Software": None})
