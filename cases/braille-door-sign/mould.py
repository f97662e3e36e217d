#!/usr/bin/python3
"""Which surface is printed for the braille sign on the potting shed's door? Makes sign.stl (binary, closed, mm).

Run by hand after a change: /usr/bin/python3 mould.py (needs numpy). Nothing random in it; sign.stl is committed.
The plate's top is cut into rectangles between the dots' centre lines; a rectangle holds one dot or none, and neighbours
share the points of the side between them.
"""
import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from mould_surface import Surface, check, lifted, rounded_rectangle, steepest_deg, write_stl

TEXT = ("potting", "shed")  # one line each, uncontracted

# Dots, mm: within 2010 ADA Standards for Accessible Design, Table 703.3.1 (base 1.5-1.6, height 0.6-0.9, dots 2.3-2.5
# apart, cells 6.1-7.6, lines 10.0-10.2; domed).
BASE, RISE = 1.6, 0.75
DOT, CELL, LINE = 2.4, 6.2, 10.1

# Plate, mm, at the foot.
LENGTH, WIDTH, HEIGHT = 60.0, 30.0, 3.0
CORNER, DRAFT, EDGE = 5.0, 12.0, 1.0  # plan radius; degrees from vertical; radius of the top edge

AROUND, RINGS = 24, 5  # triangles of a dot

# Dots of each letter: 1, 2, 3 down the left column, 4, 5, 6 down the right.
LETTERS = {"d": (1, 4, 5), "e": (1, 5), "g": (1, 2, 4, 5), "h": (1, 2, 5), "i": (2, 4), "n": (1, 3, 4, 5),
           "o": (1, 3, 5), "p": (1, 2, 3, 4), "s": (2, 3, 4), "t": (2, 3, 4, 5)}


def grid():
    """Sorted centre lines in x and y, and the set of (column, row) that hold a dot."""
    cells = max(len(line) for line in TEXT)
    x = [CELL * c + DOT * k for c in range(cells) for k in (0, 1)]
    y = [-LINE * line - DOT * k for line in range(len(TEXT)) for k in (0, 1, 2)]
    dots = set()
    for line, word in enumerate(TEXT):
        for c, letter in enumerate(word):
            for dot in LETTERS[letter]:
                dots.add((2 * c + (dot - 1) // 3, 3 * line + (dot - 1) % 3))
    x, y = np.array(x) - np.mean(x), np.array(y) - np.mean(y)
    return x, y[::-1], {(column, len(y) - 1 - row) for column, row in dots}


def borders(lines):
    """Half-way between neighbours, but no farther than half a dot's distance from a line."""
    found = []
    for k, at in enumerate(lines):
        for side in (-1, 1):
            found.append(at + side * DOT / 2)
    found = sorted(found)
    kept = [found[0]]
    for at in found[1:]:
        if at - kept[-1] > 1e-6:
            kept.append(at)
    return np.array(kept)


def dome():
    """(radius, height) of a spherical cap from its foot to just below its top."""
    r = (BASE**2 / 4 + RISE**2) / (2 * RISE)
    foot = math.asin(BASE / 2 / r)
    return [(r * math.sin(a), RISE - r + r * math.cos(a)) for a in foot * (1 - np.arange(RINGS) / RINGS)]


def wall():
    """(offset, z) from the foot to where the top is flat: drafted wall, then the rounded edge."""
    lean = math.radians(DRAFT)
    centre = (EDGE + (HEIGHT - EDGE) * math.sin(lean)) / math.cos(lean)
    end = HEIGHT - EDGE + EDGE * math.sin(lean)
    turn = np.linspace(math.pi - lean, math.pi / 2, 7)[1:]
    return ([(z * math.tan(lean), z) for z in np.linspace(0, end, 5)] +
            [(centre + EDGE * math.cos(t), HEIGHT - EDGE + EDGE * math.sin(t)) for t in turn])


class Tiles:
    """The top's rectangles; a side is cut in two so that the triangles around a dot stay stout."""

    def __init__(self, surface, x, y):
        self.surface, self.known = surface, {}
        self.x, self.y = (np.sort(np.concatenate([v, (v[1:] + v[:-1]) / 2])) for v in (x, y))

    def point(self, i, j):
        if (i, j) not in self.known:
            self.known[i, j] = self.surface.add([(self.x[i], self.y[j], HEIGHT)])[0]
        return self.known[i, j]

    def outline(self, i, j, n, m):
        path = [(i + k, j) for k in range(n)] + [(i + n, j + k) for k in range(m)]
        path += [(i + n - k, j + m) for k in range(n)] + [(i, j + m - k) for k in range(m)]
        return [self.point(*at) for at in path]


def build():
    surface = Surface()
    x, y, dots = grid()
    bx, by = borders(x), borders(y)
    tiles = Tiles(surface, bx, by)
    turn = 2 * math.pi * np.arange(AROUND) / AROUND
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    for j in range(len(by) - 1):
        for i in range(len(bx) - 1):
            outline = tiles.outline(2 * i, 2 * j, 2, 2)
            middle = np.array([(bx[i] + bx[i + 1]) / 2, (by[j] + by[j + 1]) / 2])
            held = [d for d in dots if np.hypot(*(np.array([x[d[0]], y[d[1]]]) - middle)) < 1e-6]
            if not held:
                surface.fan(outline, tiles.point(2 * i + 1, 2 * j + 1), True)
                continue
            dots -= set(held)
            rings = [surface.add(lifted(middle + r * circle, HEIGHT + z)) for r, z in dome()]
            surface.stitch(outline, rings[0], True)
            surface.strips(rings)
            surface.fan(rings[-1], surface.add([(*middle, HEIGHT + RISE)])[0], True)
    assert not dots, "a dot without its rectangle"

    half = (LENGTH / 2 - CORNER, WIDTH / 2 - CORNER)
    rings = [surface.add(lifted(rounded_rectangle(*half, CORNER - d, 1.5, 10), z)) for d, z in wall()]
    surface.strips(rings)
    around = tiles.outline(0, 0, 2 * (len(bx) - 1), 2 * (len(by) - 1))
    surface.stitch(rings[-1], around, True)
    surface.fan(rings[0], surface.add([(0, 0, 0)])[0], False)
    return surface.arrays()


if __name__ == "__main__":
    points, triangles = build()
    check(points, triangles, smallest_deg=0.8)
    assert abs(points[:, 2].max() - HEIGHT - RISE) < 1e-5
    assert steepest_deg(points, triangles) > 0, "an undercut"
    write_stl(Path(__file__).with_name("sign.stl"), "braille door sign mould", points, triangles)
