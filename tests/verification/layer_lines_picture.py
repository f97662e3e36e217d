#!/usr/bin/python3
"""Draws how high layer lines show on either face of the sheet, against the angle of the surface from the build plane.

layer_lines_picture.py FOLDER OUT.png     FOLDER: what test_solver wrote with PELLICLE_LAYER_LINES=FOLDER
"""
import sys

import matplotlib
import numpy as np

matplotlib.use("agg")
from matplotlib import pyplot  # noqa: E402

if __name__ == "__main__":
    folder, out = sys.argv[1:]
    figure, axes = pyplot.subplots(figsize=(6.5, 4.2), layout="constrained")
    for layer_um, colour in ((100, "#D55E00"), (50, "#0072B2"), (25, "#009E73")):
        angle, height, mould_face, free_face = np.loadtxt(f"{folder}/{layer_um}.csv", delimiter=",", skiprows=1).T
        axes.plot(angle, height, ":", color=colour, linewidth=1, label=f"step of a {layer_um / 1000:g} mm layer")
        axes.plot(angle, mould_face, color=colour, label="face that met the mould")
        axes.plot(angle, free_face, "--", color=colour, label="free face")
    axes.set(xlabel="angle of the surface from the build plane (degrees)", ylabel="highest less lowest point (um)",
             xlim=(0, 90), ylim=(0, None))
    axes.grid(True, linewidth=0.3)
    axes.legend(frameon=False, fontsize="small")
    figure.savefig(out, dpi=110, metadata={"Software": None})
