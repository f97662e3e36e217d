#!/usr/bin/python3
"""Moulds as they come out of modelling programs, each spoilt in one way: the program either refuses with one message and
a place, or runs with a warning that names the defect and a place, and forms what it would on the sound mould.

A place counts as told if one of the coordinates in the message is no farther than `near` from where the file was spoilt.
"""
import json
import math
import re
import shutil
import struct
import subprocess
import sys
import tempfile
from pathlib import Path

import h5py
import numpy as np

import small_case

N = 6  # squares along an edge of the block
PLACE = re.compile(r"\((-?[\d.]+), (-?[\d.]+), (-?[\d.]+)\) mm")


def lerp(a, b, t):
    return tuple(x + (y - x) * t for x, y in zip(a, b))


def patch(a, b, c, d, n=N):
    """The quadrangle a b c d, counter-clockwise, as 2 n^2 triangles."""
    def at(i, j):
        return lerp(lerp(a, b, i / n), lerp(d, c, i / n), j / n)
    out = []
    for i in range(n):
        for j in range(n):
            out += [(at(i, j), at(i + 1, j), at(i + 1, j + 1)), (at(i, j), at(i + 1, j + 1), at(i, j + 1))]
    return out


def frustum(bottom=12.0, top=9.0, height=4.0, floor=0.0, centre=(0.0, 0.0), n=N):
    """Closed; its faces in the order bottom, top, four sides; 2 n^2 triangles each."""
    def ring(size, z):
        return [(centre[0] + x * size / 2, centre[1] + y * size / 2, z) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    low, high = ring(bottom, floor), ring(top, floor + height)
    out = patch(low[0], low[3], low[2], low[1], n) + patch(*high, n)
    for i in range(4):
        j = (i + 1) % 4
        out += patch(low[i], low[j], high[j], high[i], n)
    return out


FACE = 2 * N * N  # triangles of a face


def flipped(triangles, which):
    return [(a, c, b) if k in which else (a, b, c) for k, (a, b, c) in enumerate(triangles)]


def without(triangles, which):
    return [t for k, t in enumerate(triangles) if k not in which]


def middle(triangle):
    return tuple(sum(p[k] for p in triangle) / 3 for k in range(3))


def moved(triangles, by):
    return [tuple(tuple(x + y for x, y in zip(p, by)) for p in t) for t in triangles]


def twisted_band(radius=5.0, half=1.5, n=24, z=2.5):
    """A Moebius strip: no way to turn its triangles makes them run alike."""
    def at(i, s):
        u = 2 * math.pi * i / n
        return ((radius + s * half * math.cos(u / 2)) * math.cos(u), (radius + s * half * math.cos(u / 2)) * math.sin(u),
                z + s * half * math.sin(u / 2))
    out = []
    for i in range(n):
        a, b = at(i, -1), at(i, 1)
        c, d = (at(i + 1, -1), at(i + 1, 1)) if i + 1 < n else (at(0, 1), at(0, -1))
        out += [(a, b, c), (b, d, c)]
    return out


def knob():
    """A plate on a post: 2.5 mm of overhang all round."""
    return frustum(5.0, 5.0, 2.0) + frustum(10.0, 10.0, 2.0, 2.0)


def split_edge(triangles):
    """One triangle of the top cut at the middle of an edge that its neighbour keeps whole."""
    k = FACE + 2 * N * 3 + 6
    a, b, c = triangles[k]
    m = lerp(a, c, 0.5)
    return triangles[:k] + [(a, b, m), (m, b, c)] + triangles[k + 1:], m


def sliver(triangles):
    """The same, with the gap closed by a triangle whose corners lie in a line but for round-off."""
    k = FACE + 2 * N * 3 + 6
    a, b, c = triangles[k]
    m = lerp(a, c, 0.5)
    return triangles[:k] + [(a, b, m), (m, b, c), (a, m, c)] + triangles[k + 1:], m


def spiked(triangles):
    """A corner of the top pulled down through the bottom and the sides: the surface passes through itself."""
    tip = triangles[FACE + 2 * (N * (N // 2) + N // 2)][0]
    to = (tip[0] + 11.0, tip[1] + 0.37, 1.1)
    return [tuple(to if p == tip else p for p in t) for t in triangles], to


def jittered(triangles, size, seed=3):
    """Each corner of each triangle off by up to `size`, so that no two are equal."""
    r = np.random.default_rng(seed)
    return [tuple(tuple(x + size * r.uniform(-1, 1) for x in p) for p in t) for t in triangles]


GOOD = frustum()
TOP = FACE + 2 * (N * (N // 2) + N // 2)  # a triangle in the middle of the top
SIDE = 3 * FACE + 2 * (N * (N // 2) + N // 2)
FIN = [((0.0, 0.0, 4.0), (3.0, 0.0, 4.0), (1.5, 0.0, 4.8))]
HALF = {k for k in range(len(GOOD)) if k % 5 < 2}
SPLIT, SPLIT_AT = split_edge(GOOD)
SLIVER, SLIVER_AT = sliver(GOOD)
SPIKED, SPIKED_TO = spiked(GOOD)
DUST = [((15.0, 15.0, 0.1), (15.1, 15.0, 0.1), (15.0, 15.1, 0.1))]

# Property, triangles, words of the warning (none: no warning may come), where, near [mm], is the shape as before?
RUNS = [
    ("sound", GOOD, [], None, 0, True),
    ("a triangle missing on top", without(GOOD, {TOP}), ["hole"], middle(GOOD[TOP]), 1.5, True),
    ("three holes", without(GOOD, {TOP, SIDE, 4 * FACE + 5}), ["3 holes"], None, 0, True),
    ("no bottom", GOOD[FACE:], ["hole"], (0, 0, 0), 1, True),
    ("a side missing", without(GOOD, set(range(2 * FACE, 3 * FACE))), ["hole"], (0, -5.25, 2), 2, True),
    ("one triangle flipped", flipped(GOOD, {TOP}), ["1 triangle that runs against"], middle(GOOD[TOP]), 1.5, True),
    ("ten triangles flipped", flipped(GOOD, set(range(FACE, FACE + 40, 4))), ["10 triangles that run against"],
     middle(GOOD[FACE]), 1.5, True),
    ("two in five flipped", flipped(GOOD, HALF), [f"{len(HALF)} triangles that run against"], middle(GOOD[0]), 1.5, True),
    ("no bottom, one flipped", flipped(GOOD[FACE:], {TOP - FACE}), ["1 triangle that runs against"], middle(GOOD[TOP]),
     1.5, True),
    ("one triangle twice", GOOD + [GOOD[TOP]], ["1 triangle on the same corners"], middle(GOOD[TOP]), 1.5, True),
    ("all triangles twice", GOOD + GOOD, [f"{len(GOOD)} triangles on the same corners"], middle(GOOD[0]), 1.5, True),
    ("one twice, the other way round", GOOD + flipped([GOOD[SIDE]], {0}), ["1 triangle on the same corners"],
     middle(GOOD[SIDE]), 1.5, True),
    ("a loose wall on top", GOOD + [tuple(GOOD[TOP][k] for k in (0, 1)) + ((0.4, 0.4, 4.6),)],
     ["at edges that more than two share"], middle(GOOD[TOP]), 2, False),
    ("two blocks through each other", GOOD + frustum(6.0, 5.0, 4.5, 0.0, (3.3, 2.1)), ["cut through"], None, 0, False),
    ("letters sunk into the block", GOOD + frustum(3.0, 2.0, 1.0, 3.6, (0.21, 0.13)), ["cut through"], None, 0, False),
    ("a block inside", GOOD + frustum(3.0, 3.0, 1.0, 1.2), ["1 closed body inside"], (0, 0, 1.7), 1.0, True),
    ("hollow", GOOD + flipped(frustum(6.0, 5.0, 2.0, 1.0), set(range(6 * FACE))), [], None, 0, True),
    ("a triangle as thin as round-off", SLIVER, [], SLIVER_AT, 1.5, True),
    ("an edge not split alike", SPLIT, ["hole"], SPLIT_AT, 1.5, True),
    ("corners equal to round-off only", jittered(GOOD, 1e-7), [], None, 0, True),
    ("facets without area", GOOD + [(GOOD[7][0], GOOD[7][1], GOOD[7][1])] * 5, [], None, 0, True),
    ("two blocks apart", moved(GOOD, (-7, 0, 0)) + moved(GOOD, (7, 0, 0)), [], None, 0, False),
    ("two blocks that touch", moved(frustum(6, 6, 4), (-3, 0, 0)) + moved(frustum(6, 6, 3), (3, 0, 0)),
     ["at edges that more than two share"], (0, 0, 2), 4, False),
    ("an undercut", knob(), ["undercut"], None, 0, False),
    ("a speck of dust beside the block", GOOD + DUST, ["hole"], (15.03, 15.03, 0.1), 0.5, True),
    ("a knife edge", frustum(6.0, 0.05, 4.0), [], None, 0, False),
    ("a very thin wall", [tuple((10 * x, 1.2 * y, z) for x, y, z in t) for t in frustum(1.0, 1.0, 3.0)], [], None, 0, False),
    ("two cones tip to tip", frustum(6.0, 1e-9, 2.0) + frustum(1e-9, 6.0, 2.0, 2.0), ["undercut"], None, 0, False),
]

# Property, triangles, what the one message must say, where, near [mm].
REFUSED = [
    ("inside out", flipped(GOOD, set(range(len(GOOD)))), ["turned inside out", "flip the normals"], (0, 0, 2), 0.5),
    ("one of two bodies inside out", moved(GOOD, (-7, 0, 0)) +
     flipped(moved(GOOD, (7, 0, 0)), set(range(len(GOOD)))), ["turned inside out"], (7, 0, 2), 0.5),
    ("a twisted band", twisted_band(), ["one side only"], (0, 0, 2.5), 2.0),
    ("a surface through itself", SPIKED, ["shows its inside"], None, 0),
    ("cracks along every edge", jittered(GOOD, 0.02), ["loose pieces"], (0, 0, 2), 7),
    ("dust above the sheet", GOOD + moved(DUST, (-15, -15, 8)), ["cut by the mould"], (0, 0, 8.1), 0.5),
    ("beside the sheet", moved(GOOD, (60, 0, 0)), ["beside the sheet"], (54, -6, 0), 0.5),
    ("below the platform", moved(GOOD, (0, 0, -5)), ["below the platform"], (-6, -6, -5), 0.5),
    ("in metres, read as mm", [tuple(tuple(x / 1000 for x in p) for p in t) for t in GOOD], ["mould.unit"], None, 0),
]


def stl(triangles):
    return b"mould".ljust(80) + struct.pack("<I", len(triangles)) + b"".join(
        struct.pack("<12fH", 0, 0, 0, *a, *b, *c, 0) for a, b, c in triangles)


# Property, bytes of the file, what the one message must say.
BROKEN = [
    ("cut short", stl(GOOD)[:-25], ["facets"]),
    ("a coordinate that is no number", stl(GOOD)[:96] + struct.pack("<f", math.nan) + stl(GOOD)[100:], ["facet 1"]),
    ("only facets without area", stl([(t[0], t[0], t[1]) for t in GOOD]), ["without area"]),
    ("nothing in it", b"", ["found"]),
]


class Bench:
    def __init__(self, program, folder):
        self.program, self.folder, self.faults, self.checked = program, Path(folder), [], 0
        small_case.write(self.folder, element="3 mm", duration="0.3 s", frames=2)

    def run(self, *arguments):
        return subprocess.run([self.program, *arguments], cwd=self.folder, capture_output=True, text=True, timeout=120)

    def fail(self, name, what, message=""):
        self.faults.append(f"{name}: {what}\n    {message.strip()}")

    def places_near(self, message, where, near):
        return any(math.dist(where, [float(x) for x in m]) <= near for m in PLACE.findall(message))

    def spoil(self, data):
        (self.folder / "block.stl").write_bytes(data)
        for name in ("out", "defects"):
            shutil.rmtree(self.folder / name, ignore_errors=True)

    def defects(self, name, triangles):
        """What check --out wrote: one row a triangle that has an area."""
        with h5py.File(self.folder / "defects" / "defects.h5") as file:
            count, corners = file["triangle/defects"][:], file["triangles"][:]
            if len(count) != len(corners) or len(corners) > len(triangles):
                self.fail(name, f"defects.h5 has {len(corners)} triangles and {len(count)} values")
            fields = {key: int((file["triangle"][key][:] > 0).sum()) for key in file["triangle"]}
        text = (self.folder / "defects" / "defects.xdmf").read_text()
        if any(f"triangle/{key}" not in text for key in fields):
            self.fail(name, "defects.xdmf leaves a field out")
        return fields

    def runs(self, name, triangles, words, where, near, same, sound):
        self.checked += 1
        self.spoil(stl(triangles))
        checked = self.run("check", ".", "--json", "--out", "defects")
        ran = self.run("run", ".", "--quiet", "--out", "out")
        if checked.returncode != 0 or ran.returncode != 0:
            return self.fail(name, f"check {checked.returncode}, run {ran.returncode}", checked.stderr + ran.stderr)
        warned = [line for line in ran.stderr.splitlines() if line.startswith("warning: block.stl: ")]
        about = [line for line in warned if all(word in line for word in words)] if words else warned
        if words and not about:
            self.fail(name, f"no warning says {words}", ran.stderr)
        if not words and warned and where is None:
            self.fail(name, "a warning", ran.stderr)
        told = checked.stderr + ran.stderr
        if words and where and not self.places_near("\n".join(about), where, near):
            self.fail(name, f"no place near {where}", told)
        if words and any(line not in checked.stderr for line in about):
            self.fail(name, "check warns of something else than run", told)
        surface = json.loads(checked.stdout)["surface"]
        fields = self.defects(name, triangles)
        if words and words != ["undercut"] and not (surface["defects"] and fields["defects"]):
            self.fail(name, "no defect in the JSON or in defects.h5", checked.stdout)
        summary = json.loads((self.folder / "out" / "summary.json").read_text())
        wall = next(f for f in summary["findings"] if f["id"] == "thinnest_wall")["value"]
        if wall is None or not 0.05 < wall < 0.75:
            return self.fail(name, f"thinnest wall {wall} of 0.75 mm", json.dumps(summary["findings"][0]))
        if same and sound is not None and abs(wall - sound) > 0.02 * sound:
            # Triangles that were cut anew, or a hole below an element, move the wall by round-off to a percent.
            self.fail(name, f"thinnest wall {wall} mm, on the sound mould {sound} mm")
        return wall

    def refused(self, name, data, says, where=None, near=0.0):
        self.checked += 1
        self.spoil(data)
        for command in (["check", ".", "--out", "defects"], ["run", ".", "--quiet", "--out", "out"]):
            ran = self.run(*command)
            errors = [line for line in ran.stderr.splitlines() if line.startswith("error: ")]
            if ran.returncode != 3 or len(errors) != 1 or ran.stdout:
                self.fail(name, f"{command[0]}: exit {ran.returncode}, {len(errors)} messages", ran.stderr)
                continue
            if any(word not in errors[0] for word in says):
                self.fail(name, f"{command[0]} does not say {says}", errors[0])
            if where and not self.places_near(errors[0], where, near):
                self.fail(name, f"{command[0]}: no place near {where}", errors[0])
        if (self.folder / "out").exists():
            self.fail(name, "a results folder was made")


def main():
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(str(Path(sys.argv[1]).resolve()), folder)
        sound = None
        for name, triangles, words, where, near, same in RUNS:
            wall = bench.runs(name, triangles, words, where, near, same, sound)
            sound = wall if sound is None else sound
        for name, triangles, says, where, near in REFUSED:
            bench.refused(name, stl(triangles), says, where, near)
        for name, data, says in BROKEN:
            bench.refused(name, data, says)
        # Twice into one folder: nothing is replaced unasked.
        bench.spoil(stl(without(GOOD, {TOP})))
        first, second = (bench.run("check", ".", "--out", "defects") for _ in range(2))
        third = bench.run("check", ".", "--out", "defects", "--force")
        if [first.returncode, second.returncode, third.returncode] != [0, 2, 0]:
            bench.fail("check twice", f"{first.returncode}, {second.returncode}, {third.returncode}", second.stderr)
    for fault in bench.faults:
        print(fault)
    if bench.checked < 40:
        print(f"only {bench.checked} moulds were tried")
    print(f"{bench.checked} moulds, {len(bench.faults)} faults")
    return 1 if bench.faults or bench.checked < 40 else 0


if __name__ == "__main__":
    sys.exit(main())
