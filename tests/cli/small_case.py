"""Which little case do tests of the command line run? A drafted block under a coarse disc: a second or less.

`write` makes the folder and takes lines that replace or add to the default ones. `Refusals` knows how the program says
no.
"""
import os
import struct

CASE = """title = "{title}"

[sheet]
polymer     = "petg"
thickness   = "0.75 mm"
outline     = {{ disc = "40 mm" }}
height      = "{height}"
temperature = "140 °C"
element     = "{element}"

[mould]
surface  = "block.stl"
unit     = "mm"
platform = true
friction = "stick"
{mould}

[[forming.stage]]
name     = "press"
duration = "{duration}"
pressure = "{pressure}"

{limits}
[numerics]
frames  = {frames}
threads = 1
"""

DEFAULTS = {"title": "Small block", "height": "5 mm", "element": "3 mm", "duration": "0.5 s", "pressure": "1 bar",
            "mould": "",
            "limits": "", "frames": 20}


class Refusals:
    """Beside unittest.TestCase."""

    def refused(self, done, exit_code, *words):
        """One line on stderr with these words besides warnings, nothing on stdout."""
        self.assertEqual(done.returncode, exit_code, done.stdout + done.stderr)
        self.assertEqual(done.stdout, "")
        lines = [line for line in done.stderr.splitlines() if not line.startswith("warning: ")]
        self.assertEqual(len(lines), 1, done.stderr)
        self.assertTrue(lines[0].startswith("error: "), done.stderr)
        for word in words:
            self.assertIn(word, lines[0])


def block(bottom=12.0, top=9.0, height=4.0):
    """Triangles of a closed frustum standing on z = 0, seen counter-clockwise from outside; mm."""
    low = [(x * bottom / 2, y * bottom / 2, 0.0) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    high = [(x * top / 2, y * top / 2, height) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    triangles = [(low[0], low[2], low[1]), (low[0], low[3], low[2]), (high[0], high[1], high[2]),
                 (high[0], high[2], high[3])]
    for i in range(4):
        j = (i + 1) % 4
        triangles += [(low[i], low[j], high[j]), (low[i], high[j], high[i])]
    return triangles


def write_stl(path, triangles):
    with open(path, "wb") as file:
        file.write(b"block".ljust(80) + struct.pack("<I", len(triangles)))
        for a, b, c in triangles:
            file.write(struct.pack("<12fH", 0, 0, 0, *a, *b, *c, 0))


def write(folder, **changes):
    """Makes `folder` with case.toml and block.stl; returns the folder."""
    unknown = set(changes) - set(DEFAULTS)
    assert not unknown, unknown
    os.makedirs(folder, exist_ok=True)
    with open(os.path.join(folder, "case.toml"), "w", encoding="utf-8") as file:
        file.write(CASE.format(**(DEFAULTS | changes)))
    write_stl(os.path.join(folder, "block.stl"), block())
    return folder
