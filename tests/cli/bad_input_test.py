#!/usr/bin/python3
"""Spoilt cases, spoilt moulds and wrong command lines: one message that names the place, the right exit code, and nothing
written: no results folder is made and one that is there is left alone."""
import argparse
import struct
import subprocess
import sys
import tempfile
from pathlib import Path

CASE = """\
title = "Base"
[sheet]
polymer = "petg"
thickness = "0.75 mm"
outline = { disc = "60 mm" }
height = "12 mm"
temperature = "140 °C"
element = "3 mm"
[mould]
surface = "mould.stl"
unit = "mm"
[[forming.stage]]
name = "press"
duration = "0.5 s"
pressure = "4 bar"
[limits]
min_thickness = "0.1 mm"
[numerics]
frames = 4
"""
LAW = '[sheet.law]\nkind = "neo-hookean"\nshear_modulus = "0.3 MPa"\n'
RELIEF = ('[[relief]]\nname = "title"\nsource = { text = "BASIL", size = "2 mm", depth = "0.3 mm" }\n')
LOOP = '[part]\ntrim = [["0 mm","0 mm"],["10 mm","0 mm"],["0 mm","10 mm"],["10 mm","10 mm"]]\n'


def box(x=20.0, y=10.0, z=6.0, corner=(-10.0, -5.0, 0.0)):
    """Twelve outward triangles."""
    def at(i):
        return (corner[0] + (x if i & 1 else 0), corner[1] + (y if i & 2 else 0), corner[2] + (z if i & 4 else 0))
    sides = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    return [t for a, b, c, d in sides for t in ((at(a), at(b), at(c)), (at(a), at(c), at(d)))]


def binary(facets, header=b"", count=None):
    out = header.ljust(80, b"\0") + struct.pack("<I", len(facets) if count is None else count)
    for facet in facets:
        out += struct.pack("<12fH", 0, 0, 0, *(v for p in facet for v in p), 0)
    return out


def ascii(facets):
    lines = ["solid box"]
    for facet in facets:
        lines += ["facet normal 0 0 0", "outer loop", *("vertex %g %g %g" % p for p in facet), "endloop", "endfacet"]
    return "\n".join(lines + ["endsolid box", ""]).encode()


def with_corner(value):
    facets = [list(f) for f in box()]
    facets[4][1] = (value, 0.0, 0.0)
    return facets


# Name, part of the good case, what stands in its place, what the message must say, and the text on whose line the fault
# is told (None: the first line put in; "": no line).
SPOILT = [
    ("unknown key", 'thickness =', 'thicknes =', ["unknown key", "Did you mean thickness"], None),
    ("unknown key elsewhere", 'frames = 4', 'element = "1 mm"', ["unknown key", "sheet.element"], None),
    ("unknown table", '[limits]', '[limit]', ["unknown key", "Did you mean limits"], None),
    ("unknown key at the top", 'title =', 'titel =', ["Did you mean title"], None),
    ("not TOML", 'title = "Base"', 'title = "Base', ["not TOML"], None),
    ("not TOML, bracket", '[mould]', '[mould', ["not TOML"], None),
    ("key twice", 'height = "12 mm"', 'height = "12 mm"\nheight = "13 mm"', ["not TOML"], 'height = "13 mm"'),
    ("no UTF-8", 'Base', 'Ba\udcffse', ["not TOML"], 'title'),
    ("number without a unit", '"0.75 mm"', '0.75', ["without a unit", "a length", '"0.75 mm"'], None),
    ("text without a unit", '"0.75 mm"', '"0.75"', ["without a unit", "a length"], None),
    ("pressure in mm", '"4 bar"', '"4 mm"', ["mm is a length", "a pressure in bar"], None),
    ("length in bar", '"12 mm"', '"12 bar"', ["bar is a pressure", "a length"], None),
    ("temperature in mm", '"140 °C"', '"140 mm"', ["a temperature"], None),
    ("unknown unit", '"4 bar"', '"4 Bar"', ["unknown unit", "Did you mean bar"], None),
    ("decimal comma", '"0.75 mm"', '"0,75 mm"', ["decimal point"], None),
    ("not a number", '"0.75 mm"', '"nan mm"', ["nan", "a length"], None),
    ("infinite", '"0.75 mm"', '"inf mm"', ["inf", "a length"], None),
    ("overflow", '"0.75 mm"', '"1e999 mm"', ["1e999"], None),
    ("negative thickness", '"0.75 mm"', '"-0.75 mm"', ["-0.75 mm", "0.02 mm to 10 mm"], None),
    ("thickness out of range", '"0.75 mm"', '"40 mm"', ["40 mm", "0.02 mm to 10 mm"], None),
    ("pressure out of range", '"4 bar"', '"40 bar"', ["40 bar", "-0.9 bar to 10 bar"], None),
    ("vacuum below nothing", '"4 bar"', '"-2 bar"', ["-2 bar", "-0.9 bar to 10 bar"], None),
    ("whole number as text", 'frames = 4', 'frames = "4"', ["the text", "a whole number"], None),
    ("half a frame", 'frames = 4', 'frames = 4.5', ["4.5", "a whole number"], None),
    ("nan frames", 'frames = 4', 'frames = nan', ["nan", "a whole number"], None),
    ("flag as text", 'unit = "mm"', 'unit = "mm"\nplatform = "yes"', ["true or false"], 'platform'),
    ("list as length", '"12 mm"', '["12 mm"]', ["a list of 1", "a length"], None),
    ("date as length", '"12 mm"', '2024-05-06', ["a date", "a length"], None),
    ("table as value", 'title = "Base"', 'title = { a = 1 }', ["a table", "a text"], None),
    ("value as table", 'outline = { disc = "60 mm" }', 'outline = "60 mm"', ["a table"], None),
    ("stage with one bracket", '[[forming.stage]]', '[forming.stage]', ["[[forming.stage]]"], None),
    ("no thickness", 'thickness = "0.75 mm"\n', '', ["thickness is required"], '[sheet]'),
    ("no outline", 'outline = { disc = "60 mm" }\n', '', ["outline is required"], '[sheet]'),
    ("no height", 'height = "12 mm"\n', '', ["height is required"], '[sheet]'),
    ("no duration", 'duration = "0.5 s"\n', '', ["duration is required"], '[[forming.stage]]'),
    ("no stage", '[[forming.stage]]\nname = "press"\nduration = "0.5 s"\npressure = "4 bar"\n', '', ["forming"], ""),
    ("empty list of stages", '[[forming.stage]]\nname = "press"\nduration = "0.5 s"\npressure = "4 bar"\n',
     '[forming]\nstage = []\n', ["at least one"], ""),
    ("no drive", 'pressure = "4 bar"\n', '', ["none of pressure, gas, volume"], '[[forming.stage]]'),
    ("two drives", 'pressure = "4 bar"', 'pressure = "4 bar"\nvolume = "5 mL"', ["pressure and volume"], '[[forming.stage]]'),
    ("gas without throat", 'pressure = "4 bar"', 'gas = { supply = "4 bar", chamber = "0.3 L" }', ["orifice"], None),
    ("unknown process", 'pressure = "4 bar"', 'gas = { supply = "4 bar", orifice = "3 mm", chamber = "1 L", process = "warm" }',
     ["warm", "isothermal"], None),
    ("unknown cooling", '[limits]', '[part]\ncooling = "water"\n[limits]', ["water", "fan"], 'cooling'),
    ("nameless stage", 'name = "press"', 'name = ""', ["a text that is not empty"], None),
    ("name of two lines", 'name = "press"', 'name = "a\\nb"', ["one line"], None),
    ("clamp through the platform", 'pressure = "4 bar"', 'pressure = "4 bar"\nclamp_to = "-3 mm"', ["below the platform"],
     'clamp_to', 3),
    ("sheet below the platform", '"12 mm"', '"-12 mm"', ["below the platform"], None, 3),
    ("no outline at all", '{ disc = "60 mm" }', '{ }', ["neither disc nor rectangle"], None),
    ("two outlines", '{ disc = "60 mm" }', '{ disc = "60 mm", rectangle = ["60 mm","60 mm"] }', ["both"], None),
    ("corner too large", '{ disc = "60 mm" }', '{ rectangle = ["60 mm","40 mm"], corner = "21 mm" }', ["20 mm"], None),
    ("corner of a disc", '{ disc = "60 mm" }', '{ disc = "60 mm", corner = "2 mm" }', ["rectangle only"], None),
    ("half a rectangle", '{ disc = "60 mm" }', '{ rectangle = ["60 mm"] }', ["a list of 2"], None),
    ("element too coarse", 'element = "3 mm"', 'element = "20 mm"', ["20 mm", "7.5 mm"], None),
    ("element far too fine", 'element = "3 mm"', 'element = "0.02 mm"', ["million triangles"], None),
    ("rim finer than the middle", 'element = "3 mm"', 'element = "3 mm"\nrim_element = "1 mm"', ["3 mm"], 'rim_element'),
    ("fine element above element", 'element = "3 mm"', 'element = "3 mm"\nfine_element = "4 mm"', ["4 mm", "1/32"], 'fine_element'),
    ("too thick for a membrane", 'thickness = "0.75 mm"', 'thickness = "7 mm"', ["membrane"], None),
    ("unknown polymer", '"petg"', '"pteg"', ["unknown card", "Did you mean petg"], None),
    ("no such card file", '"petg"', '"mine.toml"', ["sheet.polymer", "mine.toml', no such file"], None),
    ("law off by a factor below one", 'polymer = "petg"\n',
     'polymer = "petg"\nlaw = { kind = "neo-hookean", shear_modulus = "0.3 MPa", spread = 0.5 }\n',
     ["sheet.law.spread", "1 to 10"], "law = {"),
    ("neither card nor law", 'polymer = "petg"\n', '', ["neither polymer nor law"], '[sheet]'),
    ("law alone, no density", 'polymer = "petg"', 'law = { kind = "neo-hookean", shear_modulus = "0.3 MPa" }',
     ["density is required"], '[sheet]'),
    ("unknown law", '[mould]', LAW.replace("neo-hookean", "neohookean") + '[mould]', ["Did you mean neo-hookean"], 'kind'),
    ("key of another law", '[mould]', LAW + 'c10 = "1 MPa"\n[mould]', ["another law"], 'c10'),
    ("law without its modulus", '[mould]', '[sheet.law]\nkind = "yeoh"\nc10 = "1 MPa"\n[mould]', ["no c20"], '[sheet.law]'),
    ("law without stiffness", '[mould]', '[sheet.law]\nkind = "mooney-rivlin"\nc10 = "1 MPa"\nc01 = "-1 MPa"\n[mould]',
     ["shear modulus of 0 MPa"], '[sheet.law]'),
    ("unequal terms", '[mould]', '[sheet.law]\nkind = "ogden"\nmu = ["1 MPa"]\nalpha = [1, 2]\n[mould]',
     ["2 exponents for 1"], 'alpha'),
    ("seven terms", '[mould]', '[sheet.law]\nkind = "ogden"\nmu = [' + '"1 MPa",' * 7 + ']\nalpha = [1,1,1,1,1,1,1]\n[mould]',
     ["7 terms"], 'mu ='),
    ("exponent of zero", '[mould]', '[sheet.law]\nkind = "ogden"\nmu = ["1 MPa"]\nalpha = [0]\n[mould]', ["other than 0"],
     'alpha'),
    ("faces beside a temperature", 'temperature = "140 °C"', 'temperature = "140 °C"\ntemperature_faces = ["150 °C", "130 °C"]',
     ["one of the two"], 'temperature_faces'),
    ("one face", 'temperature = "140 °C"', 'temperature_faces = ["150 °C"]', ["temperature_faces"], None),
    ("map of nothing", 'temperature = "140 °C"', 'temperature = "140 °C"\ntemperature_map = { black = "120 °C" }',
     ["neither image nor table"], 'temperature_map'),
    ("map without a temperature", 'temperature = "140 °C"', 'temperature_map = { table = "mould.stl" }',
     ["without sheet.temperature"], None),
    ("map that is not there", 'temperature = "140 °C"', 'temperature = "140 °C"\ntemperature_map = { table = "hot.csv" }',
     ["no file", "hot.csv"], 'temperature_map'),
    ("picture without a width", 'temperature = "140 °C"', 'temperature = "140 °C"\ntemperature_map = { image = "mould.stl", '
     'black = "120 °C", white = "160 °C" }', ["without width"], 'temperature_map'),
    ("table with white", 'temperature = "140 °C"', 'temperature = "140 °C"\ntemperature_map = { table = "mould.stl", '
     'white = "160 °C" }', ["a table says all of it"], 'temperature_map'),
    ("cold rim without its clamp", 'temperature = "140 °C"', 'temperature = "140 °C"\ncold_rim = "5 mm"',
     ["sheet.clamp_temperature"], 'cold_rim'),
    ("expansion in percent", 'temperature = "140 °C"', 'temperature = "140 °C"\nexpansion = 1.7', ["0 to 0.05"], 'expansion'),
    ("sag in words", 'temperature = "140 °C"', 'temperature = "140 °C"\nsag = "a little"', ["sag"], 'sag ='),
    ("unknown resin", 'unit = "mm"', 'unit = "mm"\nresin = "standart"', ["Did you mean standard"], 'resin'),
    ("plaster", 'unit = "mm"', 'unit = "mm"\nfill = "plaster"', ["no mould.resin", "allowed none"], 'fill'),
    ("base", 'unit = "mm"', 'unit = "mm"\nbase = "half"', ["open", "closed"], 'base'),
    ("cycle", 'unit = "mm"', 'unit = "mm"\ncycle = { hold = "0 s" }', ["0.1 s to 3600 s"], 'cycle'),
    ("parts", 'unit = "mm"', 'unit = "mm"\ncycle = { parts = 0 }', ["1 to 100000"], 'cycle'),
    ("vent that narrows", 'unit = "mm"',
     'unit = "mm"\nvents = [{ at = ["0 mm","0 mm"], diameter = "0.4 mm", below = "0.3 mm" }]', ["at least the diameter"],
     'vents'),
    ("slot shorter than wide", 'unit = "mm"',
     'unit = "mm"\nvents = [{ at = ["0 mm","0 mm"], diameter = "0.4 mm", slot = "0.3 mm" }]', ["more than its width"],
     'vents'),
    ("vent without a diameter", 'unit = "mm"', 'unit = "mm"\nvents = [{ at = ["0 mm","0 mm"] }]', ["diameter"], 'vents'),
    ("relief of the mould without a place", '[limits]', '[[relief]]\nname = "title"\nsource = "mould"\n[limits]',
     ["without at"], '[[relief]]'),
    ("relief of an unknown source", '[limits]', '[[relief]]\nname = "title"\nsource = "mold"\n[limits]', ["mould"],
     'source'),
    ("relief that the font has not", '[limits]', RELIEF.replace("BASIL", "\u16a0") + '[limits]', ["relief 'title'", "U+16A0"],
     ""),
    ("relief beside the mould", '[limits]', RELIEF + 'at = ["40 mm", "0 mm"]\n[limits]',
     ["relief 'title', at", "100 % of it beside the mould"], 'at = ', 3),
    ("relief over the mould's edge", '[limits]', RELIEF.replace('"2 mm"', '"6 mm"') + 'at = ["0 mm", "0 mm"]\n[limits]',
     ["relief 'title', at", "beside the mould"], 'at = ["0', 3),
    ("friction by another word", 'unit = "mm"', 'unit = "mm"\nfriction = "slip"', ["stick"], 'friction'),
    ("negative friction", 'unit = "mm"', 'unit = "mm"\nfriction = -0.1', ["-0.1"], 'friction'),
    ("no build direction", 'unit = "mm"', 'unit = "mm"\nbuild_direction = [0, 0, 0]', ["[0, 0, 0]"], 'build_direction'),
    ("half a turn", 'unit = "mm"', 'unit = "mm"\nturn = { axis = "z" }', ["angle"], 'turn'),
    ("unknown axis", 'unit = "mm"', 'unit = "mm"\nturn = { axis = "w", angle = "9°" }', ["x, y, z"], 'turn'),
    ("no unit", 'unit = "mm"\n', '', ["no unit", "bare numbers"], '[mould]'),
    ("unknown unit of the mould", 'unit = "mm"', 'unit = "millimetre"', ["one of mm"], None),
    ("missing mould", '"mould.stl"', '"mold.stl"', ["no file", "Did you mean mould.stl"], None),
    ("mould of another kind", '"mould.stl"', '"mould.igs"', [".stl, .obj, .ply, .3mf, .step"], None),
    ("mould without a kind", '"mould.stl"', '"mould"', [".stl"], None),
    ("mould that is a folder", '"mould.stl"', '"folder.stl"', ["no plain file"], None),
    ("mould of nothing", 'surface = "mould.stl"\nunit = "mm"', 'platform = false', ["neither surface nor platform"],
     '[mould]'),
    ("crossing trim", '[limits]', LOOP + '[limits]', ["crosses itself"], 'trim'),
    ("trim of two points", '[limits]', '[part]\ntrim = [["0 mm","0 mm"],["10 mm","0 mm"]]\n[limits]', ["a loop of 2"],
     'trim'),
    ("trim of plain numbers", '[limits]', '[part]\ntrim = [[0, 0],[10, 0],[0, 10]]\n[limits]', ["without a unit"], 'trim'),
    ("capture in percent", 'min_thickness = "0.1 mm"', 'min_capture = 80', ["80", "0 to 1"], None),
    ("unknown pace", 'frames = 4', 'pace = "slow"', ["quasi-static"], None),
    ("energy limit of nothing", 'frames = 4', 'energy_limit = 0', ["0", "a number"], None),
]

AT_HEIGHT = f"case.toml:{CASE[:CASE.index('height =')].count(chr(10)) + 1}, sheet.height"
AT_SURFACE = f"case.toml:{CASE[:CASE.index('surface =')].count(chr(10)) + 1}, mould.surface"

# Name, bytes of the mould, what the message must say; always exit 3.
MOULDS = [
    ("empty mould", b"", ["empty file"]),
    ("a few bytes", b"abc", ["too few"]),
    ("header only", binary(box())[:84], ["12 facets promised"]),
    ("cut short", binary(box())[:-7], ["room for 11"]),
    ("absurd count", binary(box(), count=4294967295), ["4294967295 facets promised"]),
    ("count too small", binary(box(), count=3), ["3 facets promised"]),
    ("no facets", binary([]), ["no facets"]),
    ("a coordinate is no number", binary(with_corner(float("nan"))), ["facet 5, corner 2"]),
    ("an infinite coordinate", binary(with_corner(float("inf"))), ["facet 5, corner 2"]),
    ("all without area", binary([((0, 0, 0), (1, 0, 0), (2, 0, 0))] * 4), ["without area"]),
    ("one point", binary([((1, 1, 1),) * 3] * 4), ["without area"]),
    ("far too small", binary(box(1e-3, 1e-3, 1e-3, (0, 0, 0))), ["mould.unit"]),
    ("far too large", binary(box(1e6, 1e6, 1e6)), ["mould.unit"]),
    ("text cut short", ascii(box())[:-13], ["the end of the file"]),
    ("text with a wrong word", ascii(box()).replace(b"outer loop", b"outer lop", 1), ["mould.stl:3", "loop"]),
    ("text with a wrong number", ascii(box()).replace(b"vertex -10", b"vertex minus", 1), ["mould.stl:4", "minus"]),
    ("text without facets", b"solid box\nendsolid box\n", ["no facets"]),
    ("a picture", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 4, ["facets promised"]),
    ("the mould cuts the flat sheet", binary(box(z=15.0)), ["mm", AT_HEIGHT]),
    ("turned inside out", binary([(a, c, b) for a, b, c in box()]), ["inside out", AT_SURFACE]),
    ("beside the sheet", binary(box(corner=(100.0, -5.0, 0.0))), ["beside the sheet", AT_SURFACE]),
    ("below the platform", binary(box(corner=(-10.0, -5.0, -8.0))), ["below the platform", AT_SURFACE]),
]

# Name, arguments, what the message must say; always exit 2.
USAGE = [
    ("unknown command", ["bake", "good"], ["command 'bake': found an unknown command; allowed new, run, resume, sweep, check, imprint, chart, calibrate, fit, export, compare, verify, schema"]),
    ("slip of a command", ["chekc", "good"], ["command 'chekc'", "Did you mean check?"]),
    ("compare with nothing", ["compare", "good"], ["OTHER"]),
    ("compare of no results", ["compare", "good", "good"], ["'good'", "no results"]),
    ("sweep of one case", ["sweep", "good"], ["good/case.toml", "no [[vary]]"]),
    ("sweep with scripts and gathered", ["sweep", "good", "--scripts", "--gather"], ["--scripts", "--gather"]),
    ("no jobs", ["sweep", "good", "--jobs", "0"], ["0"]),
    ("case 0 of a sweep", ["run", "good", "--case-index", "0"], ["0"]),
    ("unknown option", ["check", "good", "--fast"], ["--fast"]),
    ("no case", ["check"], ["CASE"]),
    ("two cases", ["check", "good", "good"], ["good"]),
    ("words too many", ["check", "good", "one", "--two"], ["'one', '--two'"]),
    ("empty command", ["", "good"], ["command ''"]),
    ("no such case", ["check", "nowhere"], ["nowhere", "no such file"]),
    ("folder without a case", ["check", "folder"], ["case.toml"]),
    ("case of another kind", ["check", "good/mould.stl"], [".toml"]),
    ("threads in words", ["run", "good", "--threads", "many"], ["many"]),
    ("negative threads", ["run", "good", "--threads", "-1"], ["-1"]),
    ("option without its value", ["run", "good", "--out"], ["--out"]),
    ("unknown problem", ["verify", "sagging-cone"], ["'sagging-cone'", "small-load"]),
    ("too coarse to verify", ["verify", "--elements", "3"], ["3"]),
    ("new without a name", ["new"], ["NAME"]),
    ("new over something", ["new", "good"], ["'good'", "nothing is overwritten"]),
    ("export of nothing", ["export", "nowhere"], ["'nowhere'", "results folder"]),
    ("export of no results", ["export", "good"], ["'good'", "no results"]),
    ("verify over something", ["verify", "small-load", "--out", "good"], ["good", "nothing is overwritten"]),
]


class Bench:
    """A folder to work in, and what was found wrong."""

    def __init__(self, program, folder, commands):
        self.program, self.folder, self.commands = program, folder, commands
        self.faults, self.checked = [], 0

    def case(self, name, text, mould=binary(box())):
        folder = self.folder / name
        (folder / "folder.stl").mkdir(parents=True, exist_ok=True)
        (folder / "case.toml").write_bytes(text.encode("utf-8", "surrogateescape"))
        (folder / "mould.stl").write_bytes(mould)
        (folder / "mould.igs").write_bytes(b"S")
        return name

    def run(self, arguments):
        return subprocess.run([self.program, *arguments], cwd=self.folder, capture_output=True, timeout=120)

    def expect_one_message(self, name, arguments, exit_code, says):
        ran = self.run(arguments)
        self.checked += 1
        message = ran.stderr.decode(errors="replace")
        errors = [line for line in message.splitlines() if not line.startswith("warning: ")]
        wrong = []
        if ran.returncode != exit_code:
            wrong.append(f"exit {ran.returncode} instead of {exit_code}")
        if len(errors) != 1 or not errors[0].startswith("error: "):
            wrong.append(f"{len(errors)} messages instead of one")
        wrong += [f"does not say {text!r}" for text in says if text not in message]
        if ran.stdout:
            wrong.append("something on standard output")
        if "found " not in message and arguments and says and exit_code != 2:
            wrong.append("does not say what was found")
        if wrong:
            self.faults.append(f"{name} ({arguments[0] if arguments else ''}): {'; '.join(wrong)}\n    {message.strip()}")

    def expect_refused(self, name, case, exit_code, says):
        """Both commands refuse, with and without results already there."""
        if "check" in self.commands:
            self.expect_one_message(name, ["check", case], exit_code, says)
        if "run" in self.commands:
            self.expect_one_message(name, ["run", case, "--out", "fresh", "--quiet"], exit_code, says)
            if (self.folder / "fresh").exists():
                self.faults.append(f"{name}: a results folder was made")
            before = snapshot(self.folder / "kept")
            self.expect_one_message(name, ["run", case, "--out", "kept", "--force", "--quiet"], exit_code, says)
            if snapshot(self.folder / "kept") != before:
                self.faults.append(f"{name}: earlier results were touched")


def snapshot(folder):
    return {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()}


def line_of(text, part):
    """Number of the first line that holds part."""
    return next(n for n, line in enumerate(text.splitlines(), 1) if part in line)


def spoilt_case(entry):
    """The text of the case, the exit code, and the place its message must name."""
    name, old, new, says, at, *exit_code = entry
    if CASE.count(old) < 1:
        sys.exit(f"{name}: {old!r} is not in the good case")
    text = CASE.replace(old, new, 1)
    if at == "":
        return text, (exit_code or [2])[0], says
    if at is None:
        number = CASE[:CASE.index(old)].count("\n") + 1
    else:
        number = line_of(text, at)
    return text, (exit_code or [2])[0], [*says, f"case.toml:{number}"]


def check_all(bench):
    bench.case("good", CASE)
    (bench.folder / "folder").mkdir()
    (bench.folder / "kept").mkdir()
    for name in ("sheet.xdmf", "sheet_0000.h5", "summary.json", "case.toml"):
        (bench.folder / "kept" / name).write_text("an earlier run\n")
    good = bench.run(["check", "good"])
    if good.returncode != 0:
        sys.exit(f"the good case is refused: {good.stderr.decode()}")
    for number, entry in enumerate(SPOILT):
        text, exit_code, says = spoilt_case(entry)
        bench.expect_refused(entry[0], bench.case(f"case{number}", text), exit_code, says)
    for number, (name, mould, says) in enumerate(MOULDS):
        bench.expect_refused(name, bench.case(f"mould{number}", CASE, mould), 3, says)
    two_stages = CASE.replace('[limits]', '[[forming.stage]]\nname = "lower"\nduration = "0.5 s"\npressure = "4 bar"\n'
                              'clamp_to = "3 mm"\n[limits]')
    bench.expect_refused("clamp lowered on a mould wider than the outline",
                         bench.case("clamp", two_stages, binary(box(80.0, 80.0, 6.0, (-40.0, -40.0, 0.0)))), 3,
                         [f"case.toml:{line_of(two_stages, 'clamp_to')}, stage 'lower', clamp_to", "above the clamp"])
    for name, arguments, says in USAGE:
        bench.expect_one_message(name, arguments, 2, says)
    bench.case("big", "# " + "x" * (1 << 20) + "\n" + CASE)
    bench.expect_refused("case of a megabyte", "big", 2, ["1 MB"])


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--program", required=True, type=lambda p: str(Path(p).resolve()))
    options.add_argument("--commands", default="check,run", help="which commands to try")
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(given.program, Path(folder), given.commands.split(","))
        check_all(bench)
    for fault in bench.faults:
        print(fault)
    if bench.checked < len(SPOILT) + len(MOULDS) + len(USAGE) or len(SPOILT) < 45 or len(MOULDS) < 15:
        sys.exit("too little was tried")
    print(f"{len(SPOILT)} spoilt cases, {len(MOULDS)} spoilt moulds, {len(USAGE)} wrong command lines: "
          f"{bench.checked} runs, {len(bench.faults)} faults")
    sys.exit(1 if bench.faults else 0)


main()
