#!/usr/bin/python3
"""Which surface is printed for the herb marker? Makes marker.stl (binary, closed, millimetres).

Run by hand after a change: /usr/bin/python3 mould.py (needs numpy). Nothing random in it; marker.stl is committed.

How it is meshed: walls and rim are rings, each an offset of the rounded outline, so that they stay smooth; the top
inside the rim is a square grid, bisected where the letters and veins need it, its nodes then moved onto the lines where
a flank begins and ends; the margin between is stitched. Every point is made once and shared by number, so the surface
is watertight by construction; the script asserts it all the same.
"""
import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from mould_surface import Surface, arc, check, lifted, rounded_rectangle, smallest_angle_deg, steepest_deg, write_stl

# Plate, mm. Length and width at the foot.
LENGTH, WIDTH, HEIGHT = 60.0, 18.0, 4.0
CORNER = 4.0  # plan radius at the foot; the offset by this much is a plain rectangle, which holds the relief
DRAFT = 12.0  # degrees from vertical
EDGE = 1.0  # radius of the top edge

# Letters: stroke measured at half height; round top edge, fillet at the foot.
LETTER = dict(height=0.5, stroke=1.2, draft=30.0, edge=0.2, fillet=0.12)
VEIN = dict(height=0.25, stroke=0.5, draft=30.0, edge=0.1, fillet=0.08)
CAP = 8.0  # letter height over all

# Mesh, mm
RIM_STEP = 0.5  # along the straight walls
CORNER_STEPS = 15  # per quarter turn
GRID = 1.0  # before bisection
FINEST_LEG = 0.12  # no triangle leg is bisected below this
HEIGHT_ERROR = 0.02  # bisect where the flat triangle misses the surface by more


# --- strokes -----------------------------------------------------------------------------------------------------

def letter_strokes(letter):
    """Centre lines in a box from (0, 0) to (width, 1); returns (width, list of polylines). All heights are 0 to 1."""
    if letter == "B":
        upper = np.vstack([[0, 1], arc((0.36, 0.76), (0.25, 0.24), 90, -90), [0, 0.52]])
        lower = np.vstack([[0, 0.52], arc((0.40, 0.26), (0.28, 0.26), 90, -90), [0, 0]])
        return 0.68, [np.array([[0, 0], [0, 1]]), upper, lower]
    if letter == "A":
        return 0.84, [np.array([[0, 0], [0.42, 1], [0.84, 0]]), np.array([[0.147, 0.35], [0.693, 0.35]])]
    if letter == "S":
        upper = arc((0.34, 0.755), (0.31, 0.245), 35, 270)
        lower = arc((0.34, 0.255), (0.33, 0.255), 90, -145)
        return 0.67, [np.vstack([upper, lower[1:]])]
    if letter == "I":
        return 0.0, [np.array([[0, 0], [0, 1]])]
    if letter == "L":
        return 0.6, [np.array([[0, 1], [0, 0], [0.6, 0]])]
    raise ValueError(f"no strokes for {letter!r}")


def word_strokes(word, left, gap):
    """Centre lines of a word, standing centred on y = 0, first outer edge at x = left; returns (lines, right edge)."""
    size = CAP - LETTER["stroke"]
    lines, x = [], left
    for letter in word:
        width, strokes = letter_strokes(letter)
        origin = np.array([x + LETTER["stroke"] / 2, -size / 2])
        lines += [origin + size * np.asarray(s, float) for s in strokes]
        x += size * width + LETTER["stroke"] + gap
    return lines, x - gap


def leaf_strokes(stalk, tip, half_width):
    """A leaf along +x or -x: outline, midrib from stalk to tip, and side veins that bend towards the tip."""
    length = tip[0] - stalk[0]

    def at(t, side):
        """Outline at t in 0..1: widest at about 0.4, pointed at the tip."""
        reach = half_width * 2.8 * t**0.62 * (1 - t) ** 0.9
        return np.array([stalk[0] + length * t, stalk[1] + side * reach])

    t = 0.5 - 0.5 * np.cos(np.linspace(0, math.pi, 41))
    lines = [np.array([[stalk[0] - 0.13 * length, stalk[1]], [tip[0], tip[1]]])]
    for side in (1, -1):
        lines.append(np.array([at(v, side) for v in t]))
        for root in (0.10, 0.27, 0.44, 0.61):
            start = np.array([stalk[0] + length * root, stalk[1]])
            end = at(min(root + 0.20, 0.93), side)
            bend = np.array([start[0] + 0.25 * (end[0] - start[0]), start[1] + 0.55 * (end[1] - start[1])])
            s = np.linspace(0, 1, 9)[:, None]
            lines.append((1 - s) ** 2 * start + 2 * s * (1 - s) * bend + s**2 * end)
    return lines


def segments(lines):
    return np.array([[*a, *b] for line in lines for a, b in zip(line[:-1], line[1:])])


def nearest(points, segs):
    """Distance to the nearest segment and the unit direction away from it."""
    best = np.full(len(points), np.inf)
    away = np.zeros((len(points), 2))
    for ax, ay, bx, by in segs:
        d = np.array([bx - ax, by - ay])
        to = points - [ax, ay]
        t = np.clip(to @ d / (d @ d), 0, 1)
        v = to - t[:, None] * d
        r = np.hypot(v[:, 0], v[:, 1])
        closer = r < best
        best[closer] = r[closer]
        away[closer] = v[closer] / np.maximum(r[closer], 1e-12)[:, None]
    return best, away


class Ridge:
    """Section of a raised stroke: height over the distance from its centre line. Flat top, arc, flank, arc, flat."""

    def __init__(self, height, stroke, draft, edge, fillet):
        lean = math.radians(draft)
        half_turn = math.tan((math.pi / 2 - lean) / 2)
        top = stroke / 2 - height / 2 * math.tan(lean)  # where the flank would meet the top
        foot = stroke / 2 + height / 2 * math.tan(lean)
        self.height, self.edge, self.fillet, self.lean, self.middle = height, edge, fillet, lean, stroke / 2
        self.edge_centre = top - edge * half_turn
        self.flank_from = top + edge * half_turn * math.sin(lean)
        self.flank_to = foot - fillet * half_turn * math.sin(lean)
        self.foot = foot + fillet * half_turn
        assert self.edge_centre > 0 and self.flank_from < self.flank_to

    def z(self, s):
        arc_top = self.height - self.edge + np.sqrt(np.maximum(0, self.edge**2 - (s - self.edge_centre) ** 2))
        flank = self.height / 2 - (s - self.middle) / math.tan(self.lean)
        arc_foot = self.fillet - np.sqrt(np.maximum(0, self.fillet**2 - (s - self.foot) ** 2))
        return np.select([s <= self.edge_centre, s <= self.flank_from, s <= self.flank_to, s <= self.foot],
                         [self.height, arc_top, flank, arc_foot], 0.0)

    def lines(self):
        """Distances at which nodes are wanted: where a piece of the section begins or ends."""
        return np.array([self.edge_centre, self.flank_from, self.flank_to, self.foot])


class Relief:
    """Height of the name and the leaf above the top of the plate."""

    def __init__(self):
        lines, right = word_strokes("BASIL", 0.0, 1.5)
        leaf_length, leaf_gap = 14.0, 2.4
        stalk = 0.13 * leaf_length
        total = right + leaf_gap + leaf_length + stalk
        shift = -total / 2 + leaf_length + stalk + leaf_gap
        self.letters = segments([line + [shift, 0] for line in lines])
        end = shift - leaf_gap - stalk
        self.veins = segments(leaf_strokes((end, 0.0), (end - leaf_length, 0.0), 4.1))
        self.parts = [(self.letters, Ridge(**LETTER)), (self.veins, Ridge(**VEIN))]

    def z(self, points):
        return np.max([ridge.z(nearest(points, segs)[0]) for segs, ridge in self.parts], axis=0)

    def is_near(self, points, reach):
        return np.any([nearest(points, segs)[0] < ridge.foot + reach for segs, ridge in self.parts], axis=0)

    def snap(self, points, reach):
        """Moves points that lie within reach of a line of the section onto it."""
        moved = points.copy()
        free = np.ones(len(points), bool)
        for segs, ridge in self.parts:
            distance, away = nearest(points, segs)
            lines = ridge.lines()
            step = lines[np.argmin(np.abs(distance[:, None] - lines), axis=1)] - distance
            here = free & (np.abs(step) < reach) & (distance > 0.05)
            moved[here] += step[here, None] * away[here]
            free &= ~here
        return moved


# --- surface -----------------------------------------------------------------------------------------------------

def ring(offset, step, corner_steps):
    """The foot outline moved inwards, counter-clockwise from above, as plan points."""
    return rounded_rectangle(LENGTH / 2 - CORNER, WIDTH / 2 - CORNER, CORNER - offset, step, corner_steps)


def wall_section():
    """(offset, z) from the foot to where the top is flat: drafted wall, then the rounded edge."""
    lean = math.radians(DRAFT)
    centre = (EDGE + (HEIGHT - EDGE) * math.sin(lean)) / math.cos(lean)
    wall_end = HEIGHT - EDGE + EDGE * math.sin(lean)
    wall = [(z * math.tan(lean), z) for z in np.linspace(0, wall_end, 8)]
    turn = np.linspace(math.pi - lean, math.pi / 2, 9)[1:]
    return wall + [(centre + EDGE * math.cos(t), HEIGHT - EDGE + EDGE * math.sin(t)) for t in turn]


def square_grid(half_x, half_y, step):
    """Right triangles (a, b, c) with the long side a-b, counter-clockwise; returns points and triangles."""
    nx, ny = round(2 * half_x / step), round(2 * half_y / step)
    points = [(-half_x + i * step, -half_y + j * step) for j in range(ny + 1) for i in range(nx + 1)]
    triangles = []
    for j in range(ny):
        for i in range(nx):
            a = j * (nx + 1) + i
            b, c, d = a + 1, a + nx + 2, a + nx + 1
            triangles += [(c, a, b), (a, c, d)] if (i + j) % 2 else [(b, d, a), (d, b, c)]
    return points, triangles


def bisect(points, triangles, wanted):
    """Halves the triangles that `wanted` names, and the neighbours needed to leave no hanging node. All stay right."""
    edge = lambda a, b: (a, b) if a < b else (b, a)
    marked = {edge(a, b) for (a, b, _), w in zip(triangles, wanted) if w}
    while True:
        more = {edge(a, b) for a, b, c in triangles
                if edge(a, b) not in marked and (edge(b, c) in marked or edge(c, a) in marked)}
        if not more:
            break
        marked |= more
    middle = {}
    for a, b in sorted(marked):
        middle[a, b] = len(points)
        points.append(((points[a][0] + points[b][0]) / 2, (points[a][1] + points[b][1]) / 2))
    result, is_new = [], []

    def halve(a, b, c, new):
        m = middle.get(edge(a, b))
        if m is None:
            result.append((a, b, c))
            is_new.append(new)
        else:
            halve(c, a, m, True)
            halve(b, c, m, True)

    for t in triangles:
        halve(*t, False)
    return result, is_new


def refine(relief, points, triangles):
    fresh = [True] * len(triangles)
    while any(fresh):
        p = np.array(points)
        t = np.array(triangles)
        leg = np.linalg.norm(p[t[:, 0]] - p[t[:, 2]], axis=1)
        todo = np.array(fresh) & (leg > 2**0.5 * FINEST_LEG * 0.97)
        a, b, c = (p[t[todo, k]] for k in range(3))
        za, zb, zc = (relief.z(q) for q in (a, b, c))
        miss = np.zeros(todo.sum())
        for wa, wb in [(0.5, 0.5), (0.5, 0), (0, 0.5), (1 / 3, 1 / 3), (0.6, 0.2), (0.2, 0.6), (0.2, 0.2)]:
            wc = 1 - wa - wb
            miss = np.maximum(miss, np.abs(relief.z(wa * a + wb * b + wc * c) - (wa * za + wb * zb + wc * zc)))
        # A coarse triangle may step right over a stroke: first halve whatever is near one.
        coarse = (leg[todo] > 0.3) & relief.is_near((a + b + c) / 3, 0.5 * leg[todo])
        wanted = np.zeros(len(t), bool)
        wanted[todo] = coarse | (miss > HEIGHT_ERROR)
        triangles, fresh = bisect(points, triangles, wanted)
    return triangles


def snap_to_lines(relief, plan, triangles):
    """Moves grid nodes onto the lines of the section; takes a move back where it would pinch a triangle."""
    p, t = np.array(plan), np.array(triangles)
    reach = np.full(len(p), np.inf)
    for k in range(3):
        side = np.linalg.norm(p[t[:, k]] - p[t[:, (k + 1) % 3]], axis=1)
        np.minimum.at(reach, t[:, k], side)
        np.minimum.at(reach, t[:, (k + 1) % 3], side)
    inside = (np.abs(p[:, 0]) < LENGTH / 2 - CORNER - 1e-9) & (np.abs(p[:, 1]) < WIDTH / 2 - CORNER - 1e-9)
    moved = np.where(inside[:, None], relief.snap(p, 0.45 * reach), p)
    for _ in range(20):
        u, v = moved[t[:, 1]] - moved[t[:, 0]], moved[t[:, 2]] - moved[t[:, 0]]
        area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        bad = (area <= 0) | (smallest_angle_deg(moved, t) < 17)
        if not bad.any():
            return moved
        nodes = np.unique(t[bad])
        moved[nodes] = p[nodes]
    return p


def flip_to_surface(relief, plan, triangles):
    """Swaps the diagonal of two neighbours where the other one lies closer to the surface, so that edges run along the
    lines of the section and not across them."""
    height = relief.z(plan)
    for _ in range(6):
        t = [list(k) for k in triangles]
        side = {}
        for n, (a, b, c) in enumerate(t):
            side[a, b], side[b, c], side[c, a] = (n, c), (n, a), (n, b)
        pairs = [(a, b, n, c, *side[b, a]) for (a, b), (n, c) in side.items() if a < b and (b, a) in side]
        pairs = np.array(sorted(pairs))  # edge a-b; triangle n with apex c; triangle m with apex d
        a, b, c, d = pairs[:, 0], pairs[:, 1], pairs[:, 3], pairs[:, 5]
        middle_ab, middle_cd = (plan[a] + plan[b]) / 2, (plan[c] + plan[d]) / 2
        miss_ab = np.abs(relief.z(middle_ab) - (height[a] + height[b]) / 2)
        miss_cd = np.abs(relief.z(middle_cd) - (height[c] + height[d]) / 2)
        after = np.concatenate([np.column_stack([c, d, b]), np.column_stack([d, c, a])])
        u, v = plan[after[:, 1]] - plan[after[:, 0]], plan[after[:, 2]] - plan[after[:, 0]]
        good = (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0] > 0) & (smallest_angle_deg(plan, after) > 17)
        n = len(pairs)
        gain = np.where(good[:n] & good[n:], miss_ab - miss_cd, 0)
        touched, flips = set(), 0
        for k in np.argsort(-gain, kind="stable"):
            n, m = pairs[k, 2], pairs[k, 4]
            if gain[k] < 1e-3:
                break
            if n in touched or m in touched:
                continue
            touched |= {n, m}
            t[n], t[m] = [c[k], d[k], b[k]], [d[k], c[k], a[k]]
            flips += 1
        triangles = [tuple(map(int, k)) for k in t]
        if not flips:
            break
    return triangles


def boundary(triangles, plan):
    """Nodes on the edge of the grid, counter-clockwise."""
    once = set()
    for a, b, c in triangles:
        for e in ((a, b), (b, c), (c, a)):
            if (e[1], e[0]) in once:
                once.discard((e[1], e[0]))
            else:
                once.add(e)
    following = dict(once)
    first = min(following, key=lambda k: (-plan[k][0], plan[k][1]))
    loop = [first]
    while following[loop[-1]] != first:
        loop.append(following[loop[-1]])
    assert len(loop) == len(once)
    return loop


def build():
    surface, relief = Surface(), Relief()
    half_x, half_y = LENGTH / 2 - CORNER, WIDTH / 2 - CORNER

    rings = [surface.add(lifted(ring(d, RIM_STEP, CORNER_STEPS), z)) for d, z in wall_section()]
    surface.strips(rings)

    plan, triangles = square_grid(half_x, half_y, GRID)
    triangles = refine(relief, plan, triangles)
    plan = snap_to_lines(relief, plan, triangles)
    triangles = flip_to_surface(relief, plan, triangles)
    top = surface.add(np.column_stack([plan, HEIGHT + relief.z(plan)]))
    surface.triangles += [tuple(top[k] for k in t) for t in triangles]
    margin = surface.add(lifted(ring(2.6, 0.8, 7), HEIGHT))
    surface.stitch(rings[-1], margin, True)
    surface.stitch(margin, [top[k] for k in boundary(triangles, plan)], True)

    plan, triangles = square_grid(half_x, half_y, 2.0)
    base = surface.add(lifted(np.array(plan), 0.0))
    surface.triangles += [(base[a], base[c], base[b]) for a, b, c in triangles]
    margin = surface.add(lifted(ring(1.2, 1.0, 7), 0.0))
    inner = surface.add(lifted(ring(2.6, 1.8, 3), 0.0))
    surface.stitch(rings[0], margin, False)
    surface.stitch(margin, inner, False)
    surface.stitch(inner, [base[k] for k in boundary(triangles, plan)], False)
    return surface.arrays()


def check_marker(p, t):
    """What only this mould must be."""
    plain = LENGTH * WIDTH * HEIGHT
    volume = check(p, t, smallest_deg=8)
    assert 0.7 * plain < volume < plain, f"volume {volume:.0f} mm^3: mis-shaped"
    assert abs(p[:, 2].max() - HEIGHT - LETTER["height"]) < 1e-5
    assert steepest_deg(p, t) > DRAFT - 0.06, "an undercut or a wall without draft"


if __name__ == "__main__":
    points, triangles = build()
    check_marker(points, triangles)
    out = Path(__file__).with_name("marker.stl")
    write_stl(out, "herb marker mould", points, triangles)
    assert out.stat().st_size < 2 * 2**20, "larger than 2 MiB"
    print(f"{out.name}: {out.stat().st_size / 1024:.0f} KiB")
