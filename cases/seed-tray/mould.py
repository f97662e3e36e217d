#!/usr/bin/python3
"""Which surface is printed for the seed tray? Makes tray.stl (binary, closed, millimetres).

Run by hand after a change: /usr/bin/python3 mould.py (needs numpy). Nothing random in it; tray.stl is committed.
A block with 2 x 3 tapered cells. Each cell stands in a rectangular tile: rings from the lip down the wall to the floor,
stitched to the tile's outline. Neighbouring tiles share the points of the side between them.
"""
import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from mould_surface import Surface, check, lifted, rounded_rectangle, steepest_deg, write_stl

# mm
CELLS = (3, 2)  # along x and y
OPENING = 24.0  # side of the square opening where the lip begins to round
RIB = 4.0  # between two openings; so wide is the land around all cells as well
DEPTH = 15.0
DRAFT = 12.0  # degrees from vertical, cells and outside
LIP = 1.5  # radius of the rib's edges
FILLET = 3.0  # radius at the floor of a cell
CORNER = 7.5  # plan radius of the cells at the lip
HEIGHT = 18.0  # of the block
OUTER_CORNER, OUTER_EDGE = 5.0, 2.0  # plan radius of the block at its top, radius of its top edge

SIDE_STEPS = 8  # of a tile's side
STEP, CORNER_STEPS, ARC_STEPS = 2.2, 8, 5


def cell_section():
    """(inwards from the opening, z): lip, drafted wall, fillet."""
    lean = math.radians(DRAFT)
    turn = math.pi / 2 - lean
    lip = [(LIP * math.sin(a), HEIGHT - LIP * (1 - math.cos(a))) for a in np.linspace(0, turn, ARC_STEPS + 1)]
    floor_z = HEIGHT - DEPTH
    wall_end = floor_z + FILLET * (1 - math.cos(turn))
    inwards = lip[-1][0] + (lip[-1][1] - wall_end) * math.tan(lean)
    wall = [(lip[-1][0] + (inwards - lip[-1][0]) * t, lip[-1][1] + (wall_end - lip[-1][1]) * t)
            for t in np.linspace(0, 1, 6)[1:]]
    centre = inwards + FILLET * math.sin(turn)
    fillet = [(centre - FILLET * math.sin(a), floor_z + FILLET * (1 - math.cos(a)))
              for a in np.linspace(turn, 0, ARC_STEPS + 1)[1:]]
    return lip + wall + fillet


def outer_section():
    """(outwards from the block's top outline, z), from the foot to the flat top."""
    lean = math.radians(DRAFT)
    turn = math.pi / 2 - lean
    edge = [(OUTER_EDGE * math.sin(a), HEIGHT - OUTER_EDGE * (1 - math.cos(a)))
            for a in np.linspace(turn, 0, ARC_STEPS + 1)]
    foot = edge[0][0] + edge[0][1] * math.tan(lean)
    wall = [(foot + (edge[0][0] - foot) * t, edge[0][1] * t) for t in np.linspace(0, 1, 7)[:-1]]
    return wall + edge


class Tiles:
    """Points of the tiles' outlines, each made once."""

    def __init__(self, surface):
        self.surface, self.known = surface, {}

    def point(self, i, j):
        """i, j count steps of a tile's side from the corner of the first tile."""
        if (i, j) not in self.known:
            step = (OPENING + RIB) / SIDE_STEPS
            x, y = (step * (n - 0.5 * SIDE_STEPS * cells) for n, cells in zip((i, j), CELLS))
            self.known[i, j] = self.surface.add([(x, y, HEIGHT)])[0]
        return self.known[i, j]

    def outline(self, i, j, n, m):
        """Counter-clockwise around n x m steps from (i, j)."""
        path = [(i + k, j) for k in range(n)] + [(i + n, j + k) for k in range(m)]
        path += [(i + n - k, j + m) for k in range(n)] + [(i, j + m - k) for k in range(m)]
        return [self.point(*at) for at in path]


def build():
    surface = Surface()
    tiles = Tiles(surface)
    section = cell_section()
    for row in range(CELLS[1]):
        for column in range(CELLS[0]):
            outline = tiles.outline(column * SIDE_STEPS, row * SIDE_STEPS, SIDE_STEPS, SIDE_STEPS)
            middle = np.array([(OPENING + RIB) * (n - 0.5 * (cells - 1)) for n, cells in zip((column, row), CELLS)])
            centre = OPENING / 2 - CORNER
            assert section[-1][0] < CORNER - 0.5, "the floor needs a corner radius of its own"
            rings = [surface.add(lifted(middle + rounded_rectangle(centre, centre, CORNER - d, STEP, CORNER_STEPS), z))
                     for d, z in section]
            surface.stitch(outline, rings[0], True)
            surface.strips(rings)
            inner = surface.add(lifted(middle + rounded_rectangle(0.45 * centre, 0.45 * centre, 0.8, 2.2, 2),
                                       HEIGHT - DEPTH))
            surface.stitch(rings[-1], inner, True)
            surface.fan(inner, surface.add([(*middle, HEIGHT - DEPTH)])[0], True)

    half = [0.5 * cells * (OPENING + RIB) + RIB / 2 - OUTER_CORNER for cells in CELLS]
    rings = [surface.add(lifted(rounded_rectangle(*half, OUTER_CORNER + d, 3.4, 8), z)) for d, z in outer_section()]
    surface.strips(rings)
    around = tiles.outline(0, 0, CELLS[0] * SIDE_STEPS, CELLS[1] * SIDE_STEPS)
    surface.stitch(rings[-1], around, True)
    surface.fan(rings[0], surface.add([(0, 0, 0)])[0], False)
    return surface.arrays()


if __name__ == "__main__":
    points, triangles = build()
    check(points, triangles, smallest_deg=1.5)
    assert steepest_deg(points, triangles) > DRAFT - 0.1, "an undercut or a wall with less draft"
    write_stl(Path(__file__).with_name("tray.stl"), "seed tray mould", points, triangles)
