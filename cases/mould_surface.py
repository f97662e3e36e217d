"""How do the mould scripts of these cases build a surface that is closed by construction? Needs numpy only.

Points are made once and triangles name them by number, so neighbours share their points; what a script builds is
checked before it is written (closed, oriented outwards, no slivers) and written as binary STL in millimetres.
"""
import math
import struct

import numpy as np


def arc(centre, radii, start, end, steps=14):
    """Points of an ellipse arc; angles in degrees, counter-clockwise from +x."""
    t = np.radians(np.linspace(start, end, steps + 1))
    return np.column_stack([centre[0] + radii[0] * np.cos(t), centre[1] + radii[1] * np.sin(t)])


def rounded_rectangle(x, y, radius, step, corner_steps):
    """Plan points counter-clockwise from above: corners of `radius` about (+-x, +-y), sides cut into about `step`."""
    corners = [((x, y), 0), ((-x, y), 90), ((-x, -y), 180), ((x, -y), 270)]
    points = []
    for k, (centre, angle) in enumerate(corners):
        points += list(arc(centre, (radius, radius), angle, angle + 90, corner_steps))
        end, following = points[-1], corners[(k + 1) % 4]
        nxt = arc(following[0], (radius, radius), following[1], following[1], 1)[0]
        steps = max(1, round(math.dist(end, nxt) / step))
        points += [end + (nxt - end) * j / steps for j in range(1, steps)]
    return np.array(points)


def lifted(plan, z):
    """Plan points at one height."""
    return np.column_stack([plan, np.full(len(plan), z)])


class Surface:
    """Points made once, triangles by number, counter-clockwise seen from outside."""

    def __init__(self):
        self.points, self.triangles = [], []

    def add(self, xyz):
        first = len(self.points)
        self.points += [tuple(map(float, p)) for p in xyz]
        return list(range(first, len(self.points)))

    def stitch(self, outer, inner, outward_up):
        """Closes the band between two closed rings of different counts (both counter-clockwise from above)."""
        p = np.array(self.points)
        o, i = p[outer][:, :2], p[inner][:, :2]
        # Start at the closest pair, then always take the shorter of the two possible diagonals.
        start = int(np.argmin(np.hypot(*(i - o[0]).T)))
        inner = inner[start:] + inner[:start]
        n, m, a, b = len(outer), len(inner), 0, 0
        while a < n or b < m:
            oa, on = outer[a % n], outer[(a + 1) % n]
            ib, inn = inner[b % m], inner[(b + 1) % m]
            across = np.linalg.norm(p[on] - p[ib]), np.linalg.norm(p[oa] - p[inn])
            if b == m or (a < n and across[0] <= across[1]):
                t, a = (oa, on, ib), a + 1
            else:
                t, b = (oa, inn, ib), b + 1
            self.triangles.append(t if outward_up else (t[0], t[2], t[1]))

    def strip(self, lower, upper):
        """Quads between two rings of equal count, cut along the shorter diagonal."""
        p = np.array(self.points)
        n = len(lower)
        for k in range(n):
            a, b, c, d = lower[k], lower[(k + 1) % n], upper[(k + 1) % n], upper[k]
            if np.linalg.norm(p[a] - p[c]) <= np.linalg.norm(p[b] - p[d]):
                self.triangles += [(a, b, c), (a, c, d)]
            else:
                self.triangles += [(a, b, d), (b, c, d)]

    def strips(self, rings):
        """The skin through several rings of equal count, each above or inside the one before."""
        for lower, upper in zip(rings[:-1], rings[1:]):
            self.strip(lower, upper)

    def fan(self, ring, apex, outward_up):
        """Closes a ring to one point."""
        n = len(ring)
        for k in range(n):
            a, b = ring[k], ring[(k + 1) % n]
            self.triangles.append((a, b, apex) if outward_up else (b, a, apex))

    def arrays(self):
        return np.array(self.points, np.float32), np.array(self.triangles)


def smallest_angle_deg(p, t):
    angles = []
    for k in range(3):
        u, v = p[t[:, (k + 1) % 3]] - p[t[:, k]], p[t[:, (k + 2) % 3]] - p[t[:, k]]
        cos = (u * v).sum(1) / np.linalg.norm(u, axis=1) / np.linalg.norm(v, axis=1)
        angles.append(np.degrees(np.arccos(np.clip(cos, -1, 1))))
    return np.min(angles, axis=0)


def check(p, t, smallest_deg):
    """What a mould must be before it is printed or pressed on; returns its volume in mm^3."""
    assert len(np.unique(p, axis=0)) == len(p), "two points in one place"
    assert len(np.unique(t)) == len(p), "a point no triangle uses"
    used = {}
    for a, b, c in t:
        for e in ((a, b), (b, c), (c, a)):
            used[e] = used.get(e, 0) + 1
    assert all(n == 1 and (b, a) in used for (a, b), n in used.items()), "not closed, or turned inside out in places"
    q = p.astype(float)
    a, b, c = (q[t[:, k]] for k in range(3))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6
    assert volume > 0, "oriented inwards"
    angle = smallest_angle_deg(q, t)
    assert angle.min() > smallest_deg, f"sliver of {angle.min():.1f} degrees at {q[t[angle.argmin()]].mean(0)}"
    assert q[:, 2].min() == 0, "it does not stand on z = 0"
    edges = np.linalg.norm(b - a, axis=1)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    print(f"{len(p)} points, {len(t)} triangles, {area.sum():.0f} mm^2, {volume:.0f} mm^3, box "
          f"{np.ptp(q, axis=0).round(3)} mm, smallest angle {angle.min():.1f} deg, edges {edges.min():.3f} to "
          f"{edges.max():.2f} mm")
    return volume


def steepest_deg(p, t):
    """Angle from vertical of the steepest triangle that does not lie in z = 0; negative is an undercut."""
    q = p.astype(float)
    normal = np.cross(q[t[:, 1]] - q[t[:, 0]], q[t[:, 2]] - q[t[:, 0]])
    upward = normal[:, 2] / np.linalg.norm(normal, axis=1)
    return math.degrees(math.asin(upward[~(q[t][:, :, 2] == 0).all(1)].min()))


def write_stl(path, title, p, t):
    q = p.astype(float)
    normal = np.cross(q[t[:, 1]] - q[t[:, 0]], q[t[:, 2]] - q[t[:, 0]])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    record = np.zeros(len(t), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    record["normal"], record["corners"] = normal, p[t]
    header = f"{title}, millimetres".encode().ljust(80, b" ")
    path.write_bytes(header + struct.pack("<I", len(t)) + record.tobytes())
