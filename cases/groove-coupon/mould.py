#!/usr/bin/python3
"""Which surface is printed for the groove coupon? Makes coupon.stl (binary, closed, millimetres).

Run by hand after a change: /usr/bin/python3 mould.py (needs numpy). Nothing random in it; coupon.stl is committed.
A plate with straight grooves, open at both ends so that resin drains and air leaves. The plate is cut into boxes along
all its walls; faces between a full box and an empty one are its skin, so neighbours share their points.
"""
import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from mould_surface import Surface, check, steepest_deg, write_stl

# mm. A groove is 1.5 times as deep as wide, at least half a millimetre: the sheet must not reach its floor.
WIDTHS = (0.2, 0.3, 0.5, 0.8, 1.2, 2.0)
DEEP, LEAST = 1.5, 0.5
LAND = 2.5  # to either side of a groove, in its widths: it acts as one far from others
LENGTH, HEIGHT = 28.0, 5.0  # along the grooves; of the plate
MARGIN = 4.0  # beside the outermost lands
DRAFT = 8.0  # degrees from vertical, of the plate's sides
ALONG = 2.0  # length of the pieces that grooves are cut into


def layout():
    """Borders in x, and the top of the plate between them."""
    borders, tops, x = [0.0], [HEIGHT], MARGIN
    for width in WIDTHS:
        x += LAND * width
        borders += [x, x + width]
        tops += [HEIGHT - max(LEAST, DEEP * width), HEIGHT]
        x += width + LAND * width
    borders.append(x + MARGIN)
    borders = np.array(borders)
    return borders - borders[-1] / 2, np.array(tops)


def build():
    x, tops = layout()
    y = np.linspace(-LENGTH / 2, LENGTH / 2, round(LENGTH / ALONG) + 1)
    z = np.array(sorted({0.0, *tops}))
    full = np.zeros((len(x) + 1, len(y) + 1, len(z) + 1), bool)  # boxes, with a rim of empty ones
    full[1:-1, 1:-1, 1:-1] = (z[1:] <= tops[:, None] + 1e-9)[:, None, :]

    surface, numbers = Surface(), {}

    def point(i, j, k):
        if (i, j, k) not in numbers:
            lean = (HEIGHT - z[k]) * math.tan(math.radians(DRAFT))
            px = x[i] + lean * (int(i == len(x) - 1) - int(i == 0))
            py = y[j] * (1 + 2 * lean / LENGTH)
            numbers[i, j, k] = surface.add([(px, py, z[k])])[0]
        return numbers[i, j, k]

    for axis in range(3):
        ahead = np.roll(full, -1, axis)
        for i, j, k in np.argwhere(full != ahead):
            # The face between box (i, j, k) and the next one along the axis: corners at its far side.
            low = [i - 1, j - 1, k - 1]
            low[axis] += 1
            one, two = [(1, 2), (2, 0), (0, 1)][axis]
            corners = []
            for a, b in ((0, 0), (1, 0), (1, 1), (0, 1)):
                at = list(low)
                at[one] += a
                at[two] += b
                corners.append(point(*at))
            a, b, c, d = corners if full[i, j, k] else corners[::-1]
            surface.triangles += [(a, b, c), (a, c, d)]
    return surface.arrays()


if __name__ == "__main__":
    points, triangles = build()
    check(points, triangles, smallest_deg=1.5)
    assert abs(steepest_deg(points, triangles)) < 1e-3, "grooves have upright walls, the sides lean"
    write_stl(Path(__file__).with_name("coupon.stl"), "groove coupon", points, triangles)
