#!/usr/bin/python3
"""Valid files of every kind to start from, and words worth trying: seeds.py FOLDER makes FOLDER/READER/ and
FOLDER/READER.dict."""
import io
import struct
import sys
import zipfile
from pathlib import Path

POINTS = [(0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 0), (5, 5, 7)]
FACES = [(0, 2, 1), (0, 3, 2), (0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)]


def stl():
    binary = b"a pyramid".ljust(80) + struct.pack("<I", len(FACES))
    for face in FACES:
        binary += struct.pack("<12fH", 0, 0, 0, *(x for i in face for x in POINTS[i]), 0)
    lines = ["solid pyramid"]
    for face in FACES:
        lines += ["facet normal 0 0 1", "outer loop", *("vertex %g %g %g" % POINTS[i] for i in face), "endloop", "endfacet"]
    text = "\n".join(lines + ["endsolid pyramid", ""])
    two = text + text.replace("pyramid", "")
    return [binary, b"solid but binary".ljust(80) + binary[80:], text.encode(), two.upper().encode(),
            text.replace("\n", "\r\n\t").encode(), b"\xef\xbb\xbf" + text.replace("0", "-1.5e-3").encode()]


def obj():
    points = "".join("v %g %g %g\n" % p for p in POINTS)
    faces = "".join("f %d %d %d\n" % tuple(i + 1 for i in f) for f in FACES)
    return [(points + faces).encode(), ("# a comment\no block\n" + points + "vt 0 0\nvn 0 0 1\nf 1/1/1 4/1/1 3/1/1 2/1/1\n"
             "f -5//1 -4//1 -1//1\ng side\nusemtl none\ns off\nf 2/1 3/1 5/1\nl 1 2\n").encode(),
            (points + "v 2 2 0 1\nv 8 2 0 0.5 0.5 0.5\nf 1 2 \\\n7 6\nf 1 6 7 2 3 4\nf 1 1 2\n").encode(),
            ("".join("v %g %g 0\n" % p for p in [(0, 0), (9, 0), (9, 9), (5, 1), (0, 9)]) + "f 1 2 3 4 5\n").encode(),
            ("".join("v %g %g 0\n" % p for p in [(0, 0), (9, 9), (9, 0), (0, 9), (4, 4), (2, 1)]) + "f 1 2 3 4 5 6\n"
             "f 6 5 4 3 2 1\n").encode(), (points + faces).replace("\n", "\r\n").encode()]


def ply():
    def header(form, extra="", count=len(FACES)):
        return (f"ply\nformat {form} 1.0\ncomment a pyramid\nobj_info made here\nelement vertex {len(POINTS)}\n"
                f"property float x\nproperty float y\nproperty float z\n{extra}element face {count}\n"
                "property list uchar int vertex_indices\nend_header\n").encode()
    text = header("ascii") + "".join("%g %g %g\n" % p for p in POINTS).encode() + "".join(
        "3 %d %d %d\n" % f for f in FACES).encode()
    out = [text, text.replace(b"\n", b"\r\n")]
    for form, order in (("binary_little_endian", "<"), ("binary_big_endian", ">")):
        body = b"".join(struct.pack(order + "3f", *p) for p in POINTS)
        out.append(header(form) + body + b"".join(struct.pack(order + "B3i", 3, *f) for f in FACES))
        rich = header(form, "property uchar red\nproperty list ushort double tags\n", 1)
        rich = rich.replace(b"float x", b"double x").replace(b"list uchar int vertex_indices", b"list uint ushort vertex_index")
        body = b"".join(struct.pack(order + "d2fBH1d", *p, 7, 1, 0.5) for p in POINTS)
        out.append(rich + body + struct.pack(order + "I5H", 5, 0, 3, 4, 2, 1))
    types = ["char", "short", "int8", "uint16", "int32", "float64"]
    odd = "".join(f"element e{k} 1\nproperty {t} a\nproperty list int8 {t} b\n" for k, t in enumerate(types))
    out.append(header("ascii").replace(b"element vertex", odd.encode() + b"element vertex", 1) +
               b"1 2 3 4\n" * len(types) + text.split(b"end_header\n")[1])
    return out


MODEL = """<?xml version="1.0" encoding="UTF-8"?>
<model unit="{unit}" xml:lang="en-US" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">
<resources><object id="1" type="model"><mesh><vertices>{vertices}</vertices><triangles>{triangles}</triangles></mesh></object>
{more}</resources><build>{build}</build></model>"""


def threemf():
    vertices = "".join('<vertex x="%g" y="%g" z="%g"/>' % p for p in POINTS)
    triangles = "".join('<triangle v1="%d" v2="%d" v3="%d"/>' % f for f in FACES)
    def model(unit, more, build):
        return MODEL.format(unit=unit, vertices=vertices, triangles=triangles, more=more, build=build).encode()
    plain = model("millimeter", "", '<item objectid="1"/>')
    tree = model("inch", '<object id="2" type="model"><components><component objectid="1"/><component objectid="1" '
                 'transform="1 0 0 0 1 0 0 0 -1 5 5 5"/></components></object><object id="3" type="support"><mesh><vertices>'
                 + vertices + "</vertices><triangles>" + triangles + '</triangles></mesh></object>',
                 '<item objectid="2" transform="0 1 0 -1 0 0 0 0 1 3 4 5"/><item objectid="1"/><item objectid="3"/>')
    out = [plain, tree, model("furlong", "", '<item objectid="1"/>'), model("micron", "", ""),
           model("meter", "", '<item objectid="9"/>'), model("foot", "<odd/>", '<item objectid="1" odd="1"/>')]
    for method in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        bytes_ = io.BytesIO()
        with zipfile.ZipFile(bytes_, "w", method) as archive:
            archive.writestr("[Content_Types].xml", '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/'
                             'package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats'
                             '-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.'
                             '3dmanufacturing-3dmodel+xml"/></Types>')
            archive.writestr("_rels/.rels", '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/'
                             'package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://'
                             'schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>')
            archive.writestr("3D/3dmodel.model", plain)
        out.append(bytes_.getvalue())
    return out


def step():
    text = ("ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('a; b','2026-01-01',(''),(''),'','','');\n"
            "FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\n/* a remark; of two */\n#1=CARTESIAN_POINT('',(0.,0.,0.));\n"
            "#2=({unit});\nENDSEC;\nEND-ISO-10303-21;\n")
    units = ["LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.)", "LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT($,.METRE.)",
             "CONVERSION_BASED_UNIT('INCH',#3)LENGTH_UNIT()NAMED_UNIT(#4)", "LENGTH_UNIT()CONVERSION_BASED_UNIT('ELL',#3)",
             "PLANE_ANGLE_UNIT()NAMED_UNIT(*)SI_UNIT($,.RADIAN.)", "LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.CENTI.,.METRE.)"]
    return [text.replace("{unit}", unit).encode() for unit in units]


WORDS = {
    "stl": ["solid", "facet", "normal", "outer", "loop", "vertex", "endloop", "endfacet", "endsolid", "1e39", "nan", "-0"],
    "obj": ["v ", "vt ", "vn ", "f ", "l ", "p ", "o ", "g ", "\\\\\\x0a", "//", "/", "-1", "1e400", "usemtl ", "#"],
    "ply": ["ply", "format ", "ascii", "binary_little_endian", "binary_big_endian", " 1.0", "element ", "vertex ", "face ",
            "property ", "list ", "uchar ", "int ", "float ", "double ", "vertex_indices", "vertex_index", "end_header",
            "comment ", "obj_info ", "tristrips "],
    "threemf": ["<item objectid=", "<object id=", " type=", "support", "<components>", "<component objectid=", "transform=",
                "<mesh>", "<vertices>", "<vertex x=", "<triangles>", "<triangle v1=", "unit=", "inch", "PK\\x03\\x04",
                "PK\\x01\\x02", "PK\\x05\\x06"],
    "step": ["ISO-10303-21;", "END-ISO-10303-21;", "LENGTH_UNIT()", "SI_UNIT(", ".MILLI.", ".METRE.", "CONVERSION_BASED_UNIT(",
             "'INCH'", "/*", "*/", "'", ";", "=("],
}


def main():
    folder = Path(sys.argv[1])
    for reader, make in (("stl", stl), ("obj", obj), ("ply", ply), ("threemf", threemf), ("step", step)):
        (folder / reader).mkdir(parents=True, exist_ok=True)
        for number, seed in enumerate(make()):
            (folder / reader / f"seed_{number:02}").write_bytes(seed)
        (folder / f"{reader}.dict").write_text("".join(f'"{word}"\n' for word in WORDS[reader]))


if __name__ == "__main__":
    main()
