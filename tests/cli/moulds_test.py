#!/usr/bin/python3
"""The same block in every kind of mould file: `check` reads the same box from it and `run` forms the same wall. A unit
that is missing, contradicts the file or looks wrong, a file cut short and an unknown ending are told in one message.

    moulds_test.py PROGRAM BLOCK.STEP     BLOCK.STEP: small_case.block() as a solid, written by Open CASCADE
"""
import io
import json
import re
import shutil
import struct
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import small_case

BLOCK = small_case.block()
POINTS = sorted({p for t in BLOCK for p in t})
FACES = [tuple(POINTS.index(p) for p in t) for t in BLOCK]


def stl():
    return b"block".ljust(80) + struct.pack("<I", len(BLOCK)) + b"".join(
        struct.pack("<12fH", 0, 0, 0, *(x for p in t for x in p), 0) for t in BLOCK)


def ascii_stl():
    body = "".join("facet normal 0 0 0\nouter loop\n" + "".join("vertex %r %r %r\n" % p for p in t) + "endloop\nendfacet\n"
                   for t in BLOCK)
    return ("solid block\n" + body + "endsolid block\n").encode()


def obj():
    return ("".join("v %r %r %r\n" % p for p in POINTS) + "".join("f %d %d %d\n" % tuple(i + 1 for i in f) for f in FACES)).encode()


def ply(form):
    header = (f"ply\nformat {form} 1.0\nelement vertex {len(POINTS)}\nproperty double x\nproperty double y\nproperty double z\n"
              f"element face {len(FACES)}\nproperty list uchar int vertex_indices\nend_header\n").encode()
    if form == "ascii":
        return header + ("".join("%r %r %r\n" % p for p in POINTS) + "".join("3 %d %d %d\n" % f for f in FACES)).encode()
    order = "<" if "little" in form else ">"
    return header + b"".join(struct.pack(order + "3d", *p) for p in POINTS) + b"".join(
        struct.pack(order + "B3i", 3, *f) for f in FACES)


def threemf(unit="millimeter", scale=1.0):
    vertices = "".join('<vertex x="%r" y="%r" z="%r"/>' % tuple(x * scale for x in p) for p in POINTS)
    triangles = "".join('<triangle v1="%d" v2="%d" v3="%d"/>' % f for f in FACES)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", '<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.'
                         'openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/'
                         'vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/'
                         'vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>')
        archive.writestr("_rels/.rels", '<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="http://schemas.'
                         'openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="rel0" '
                         'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>')
        archive.writestr("3D/3dmodel.model", f'<?xml version="1.0" encoding="UTF-8"?><model unit="{unit}" xml:lang="en-US" '
                         'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources><object id="1" '
                         f'type="model"><mesh><vertices>{vertices}</vertices><triangles>{triangles}</triangles></mesh>'
                         '</object></resources><build><item objectid="1"/></build></model>')
    return packed.getvalue()


class Bench:
    def __init__(self, program, folder):
        self.program, self.folder, self.faults, self.checked = program, Path(folder), [], 0
        small_case.write(self.folder, element="3 mm", duration="0.3 s", frames=2)
        self.text = (self.folder / "case.toml").read_text()
        (self.folder / "block.stl").unlink()

    def case(self, name, data, unit="mm"):
        """One mould file, named in the case, with its unit or none."""
        for file in self.folder.glob("block.*"):
            file.unlink()
        shutil.rmtree(self.folder / "out", ignore_errors=True)
        (self.folder / name).write_bytes(data)
        text = re.sub(r'(?m)^surface .*$', f'surface = "{name}"', self.text)
        text = re.sub(r'(?m)^unit .*\n', f'unit = "{unit}"\n' if unit else "", text)
        (self.folder / "case.toml").write_text(text)

    def run(self, *arguments):
        return subprocess.run([self.program, *arguments], cwd=self.folder, capture_output=True, text=True, timeout=120)

    def fail(self, what, ran):
        self.faults.append(f"{what}: exit {ran.returncode}\n    {ran.stderr.strip()}")

    def wall(self, what):
        """Box as read, and thinnest and mean wall of the run."""
        self.checked += 1
        checked, ran = self.run("check", ".", "--json"), self.run("run", ".", "--quiet", "--out", "out", "--json")
        if checked.returncode != 0 or ran.returncode != 0 or "warning" in checked.stderr + ran.stderr:
            self.fail(what, ran if ran.returncode else checked)
            return None
        mould = json.loads(checked.stdout)["mould"]
        values = {f["id"]: f["value"] for f in json.loads(ran.stdout)["findings"]}
        return mould["low_mm"] + mould["high_mm"], (values["thinnest_wall"], values["mean_wall"])

    def refused(self, what, says, exit_codes=(3,)):
        self.checked += 1
        for command in (["check", "."], ["run", ".", "--quiet", "--out", "out"]):
            ran = self.run(*command)
            errors = [line for line in ran.stderr.splitlines() if line.startswith("error: ")]
            if ran.returncode not in exit_codes or len(errors) != 1 or any(word not in errors[0] for word in says):
                self.fail(f"{what}, {command[0]}, must say {says}", ran)
        if (self.folder / "out").exists():
            self.faults.append(f"{what}: a results folder was made")


def main():
    step = Path(sys.argv[2]).read_bytes()
    kinds = [("block.stl", stl(), "mm"), ("block.STL", ascii_stl(), "mm"), ("block.obj", obj(), "mm"),
             ("block.ply", ply("ascii"), "mm"), ("block.ply", ply("binary_little_endian"), "mm"),
             ("block.ply", ply("binary_big_endian"), "mm"), ("block.3mf", threemf(), None),
             ("block.3mf", threemf("inch", 1 / 25.4), None), ("block.3mf", threemf(), "mm"), ("block.step", step, None),
             ("block.stp", step.replace(b"\n", b"\r\n"), "mm")]
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(str(Path(sys.argv[1]).resolve()), folder)
        first = None
        for name, data, unit in kinds:
            bench.case(name, data, unit)
            found = bench.wall(f"{name}, unit {unit}")
            first = first or found
            # Single precision in STL, 3MF and what an inch is; STEP triangulates by itself, along the same flat faces.
            if found and (any(abs(a - b) > 1e-5 for a, b in zip(found[0], first[0])) or
                          any(abs(a - b) > 1e-3 * b for a, b in zip(found[1], first[1]))):
                bench.faults.append(f"{name}, unit {unit}: {found}, first {first}")
        for name, data, unit in kinds:
            if name not in ("block.stp",):
                # In the middle of a line: an OBJ that ends with one is whole, if open.
                bench.case(name, data[:len(data) * 2 // 3] + (b"\nf 1" if name == "block.obj" else b""), unit)
                bench.refused(f"{name} cut short", ["block."])
                bench.case(name, b"", unit)
                bench.refused(f"{name} empty", ["block."])
        for name, data in (("block.stl", stl()), ("block.obj", obj()), ("block.ply", ply("ascii"))):
            bench.case(name, data, None)
            bench.refused(f"{name} without unit", ["unit"], (2,))
        for name, data in (("block.3mf", threemf()), ("block.step", step)):
            bench.case(name, data, "in")
            bench.refused(f"{name}, millimetres called inches", ["mm", "in", "unit"])
        # Bottom and top of the block and no sides: a lid with air behind it.
        bench.case("block.obj", b"\n".join(obj().split(b"\n")[:len(POINTS) + 4]) + b"\n")
        ran = bench.run("run", ".", "--quiet", "--out", "out")
        bench.checked += 1
        if ran.returncode not in (0, 4) or ("open round" not in ran.stderr and ran.returncode == 4):
            bench.fail("an OBJ that ends after a line", ran)
        bench.case("block.igs", b"S")
        bench.refused("an ending of another kind", [".stl", "3mf", "step"], (2,))
        # Exported in inches, read as millimetres: told with numbers, and not scaled.
        bench.case("block.stl", b"block".ljust(80) + struct.pack("<I", len(BLOCK)) + b"".join(
            struct.pack("<12fH", 0, 0, 0, *(x / 25.4 for p in t for x in p), 0) for t in BLOCK))
        checked = bench.run("check", ".", "--json")
        bench.checked += 1
        if checked.returncode != 0 or "in" not in checked.stderr or "0.4724" not in checked.stderr or "12 x 12" not in checked.stderr:
            bench.fail("inches read as millimetres", checked)
        elif abs(json.loads(checked.stdout)["mould"]["high_mm"][2] - 4 / 25.4) > 1e-6:
            bench.faults.append("a mould in doubt was scaled")
    for fault in bench.faults:
        print(fault)
    print(f"{bench.checked} files, {len(bench.faults)} faults")
    return 1 if bench.faults or bench.checked < 35 else 0


if __name__ == "__main__":
    sys.exit(main())
