#!/usr/bin/python3
"""Which surface is printed for the cone cavity? Makes cavity.stl (binary, closed, millimetres).

Run by hand after a change: /usr/bin/python3 mould.py (needs numpy). Nothing random in it; cavity.stl is committed.
A round block with a conical hole; the lip and the foot of the cone are sharp, as in the closed form the case is held
against.
"""
import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from mould_surface import Surface, check, lifted, steepest_deg, write_stl

# mm
OPENING = 40.0  # diameter at the top
WALL = 60.0  # degrees from the sheet's plane
DEPTH = 24.0
BLOCK = 70.0  # diameter of the block: wider than the free sheet, which lies on it from the start
HEIGHT = 27.0
AROUND = 128  # triangles around: the chords stay within 0.006 mm of the cone


def ring(radius):
    t = 2 * math.pi * np.arange(AROUND) / AROUND
    return radius * np.column_stack([np.cos(t), np.sin(t)])


def split(section, pieces):
    """Each piece of the section in so many, or the triangles become long."""
    s = np.array(section)
    parts = [s[k] + (s[k + 1] - s[k]) * j / pieces for k in range(len(s) - 1) for j in range(pieces)]
    return parts + [s[-1]]


def build():
    surface = Surface()
    floor = OPENING / 2 - DEPTH / math.tan(math.radians(WALL))
    assert floor > 2
    # From the foot of the block up its side, across its top, down the cone and to the middle of the floor.
    section = [(BLOCK / 2, 0.0), (BLOCK / 2, HEIGHT), (OPENING / 2, HEIGHT), (floor, HEIGHT - DEPTH)]
    section = split(section, 5) + [(floor / 2, HEIGHT - DEPTH)]
    rings = [surface.add(lifted(ring(r), z)) for r, z in section]
    surface.strips(rings)
    surface.fan(rings[-1], surface.add([(0, 0, HEIGHT - DEPTH)])[0], True)
    surface.fan(rings[0], surface.add([(0, 0, 0)])[0], False)
    return surface.arrays()


if __name__ == "__main__":
    points, triangles = build()
    check(points, triangles, smallest_deg=1.2)
    assert abs(steepest_deg(points, triangles)) < 1e-3, "the side of the block is its steepest wall, upright"
    write_stl(Path(__file__).with_name("cavity.stl"), "cone cavity mould", points, triangles)
