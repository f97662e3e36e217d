#!/usr/bin/python3
"""Does `pellicle imprint` answer reliefs with and without forming, and say no in one line?

imprint_test.py BIN
"""
import json
import math
import os
import signal
import struct
import subprocess
import sys
import tempfile
import time
import unittest
import zlib

import h5py
import jsonschema

sys.dont_write_bytecode = True
HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
import small_case  # noqa: E402

PROGRAM = ""
DOCS = os.path.join(HERE, "..", "..", "docs")
STATE = 'state = { thickness = "0.5 mm", shear_modulus = "0.2 MPa", pressure = "4 bar" }\n'
# So stiff that layer theory is within its range: no section has to be solved, which takes seconds.
STIFF = STATE.replace("0.2 MPa", "20 MPa")
GROOVE = ('[[relief]]\nname = "groove"\nsource = { profile = "groove.csv", kind = "strip" }\nperiodic = true\n'
          'grid = "0.02 mm"\n' + STATE)
LEAF = '[[relief]]\nname = "leaf"\nsource = { image = "leaf.png", pixel = "0.1 mm", depth = "0.2 mm" }\n'
WORD = ('[[relief]]\nname = "word"\nsource = { text = "I", size = "3 mm", depth = "0.3 mm" }\n'
        'grid = "0.04 mm"\n')


def write_png(path, rows):
    """A 16-bit grey picture; rows from the top."""
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    raw = b"".join(b"\0" + struct.pack(f">{len(row)}H", *row) for row in rows)
    with open(path, "wb") as file:
        file.write(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", len(rows[0]), len(rows), 16, 0, 0, 0, 0))
                   + chunk(b"IDAT", zlib.compress(raw)) + chunk(b"IEND", b""))


def groove(width=0.5, depth=0.3, pitch=2.5):
    """Slot in the middle of a pitch, as text of a profile in mm."""
    a, b = (pitch - width) / 2, (pitch + width) / 2
    points = [(0, 0), (a, 0), (a + 0.01, -depth), (b - 0.01, -depth), (b, 0), (pitch, 0)]
    return "x_mm,z_mm\n" + "".join(f"{x:.4f},{z:.4f}\n" for x, z in points)


class Imprint(small_case.Refusals, unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle-imprint-")
        cls.root = cls.place.name
        cls.case = cls.new_case("both", GROOVE + LEAF + STIFF)
        cls.out = os.path.join(cls.root, "both-out")
        cls.done = cls.program("imprint", cls.case, "--json", "--quiet", "--out", cls.out)

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    @classmethod
    def new_case(cls, name, text):
        folder = os.path.join(cls.root, name)
        os.makedirs(folder)
        with open(os.path.join(folder, "case.toml"), "w", encoding="utf-8") as file:
            file.write(text)
        with open(os.path.join(folder, "groove.csv"), "w", encoding="utf-8") as file:
            file.write(groove())
        # A white bar a third of the picture wide.
        write_png(os.path.join(folder, "leaf.png"), [[65535 if 10 <= x < 15 else 0 for x in range(30)] for _ in range(30)])
        return folder

    @classmethod
    def formed_case(cls, name, reliefs, **changes):
        folder = small_case.write(os.path.join(cls.root, name), **({"pressure": "3 bar"} | changes))
        with open(os.path.join(folder, "case.toml"), "a", encoding="utf-8") as file:
            file.write(reliefs)
        return folder

    @classmethod
    def program(cls, *arguments, cwd=None):
        return subprocess.run([PROGRAM, *arguments], cwd=cwd or cls.root, text=True, capture_output=True, timeout=600)

    def summary(self, folder):
        with open(os.path.join(folder, "summary.json"), encoding="utf-8") as file:
            return json.load(file)

    # Reliefs with a state: nothing is formed.

    def test_reliefs_with_a_state_write_only_their_files(self):
        self.assertEqual(self.done.returncode, 0, self.done.stderr)
        self.assertEqual(set(os.listdir(self.out)),
                         {"relief_groove.h5", "relief_groove.xdmf", "relief_leaf.h5", "relief_leaf.xdmf", "summary.json",
                          "report.html", "open.py", "case.toml"})
        self.assertEqual(self.done.stderr, "")

    def test_the_summary_obeys_its_schema_and_is_what_json_prints(self):
        summary = self.summary(self.out)
        self.assertEqual(json.loads(self.done.stdout), summary)
        with open(os.path.join(DOCS, "summary.schema.json"), encoding="utf-8") as file:
            schema = json.load(file)
        jsonschema.validate(summary, schema)
        self.assertEqual((summary["elements"], summary["steps"], summary["stages"]), (0, 0, []))
        self.assertEqual([f["id"] for f in summary["findings"]], ["relief_groove", "relief_leaf"])
        self.assertEqual([r["name"] for r in summary["reliefs"]], ["groove", "leaf"])
        del summary["reliefs"][0]["strokes"]
        with self.assertRaises(jsonschema.ValidationError):
            jsonschema.validate(summary, schema)

    def test_files_hold_what_the_summary_says(self):
        checked = 0
        for relief in self.summary(self.out)["reliefs"]:
            with h5py.File(os.path.join(self.out, relief["file"]), "r") as file:
                for name, value in file.attrs.items():
                    if name in ("format", "format_version", "program_version"):
                        continue
                    told = relief[name]
                    if isinstance(told, float) and not isinstance(told, bool):
                        self.assertTrue(math.isclose(told, value, rel_tol=1e-8), name)  # nine digits are written
                    elif told is None:
                        self.assertTrue(math.isnan(value), name)
                    else:
                        self.assertEqual(told, value, name)
                    checked += 1
                nx, ny = len(file["x_mm"]), len(file["y_mm"])
                for name in ("mould_height_mm", "sheet_height_mm", "gap_mm", "contact_pressure_MPa"):
                    self.assertEqual(file[name].shape, (ny, nx), name)
                self.assertEqual(ny, 1 if relief["name"] == "groove" else 30)
                mould, sheet, gap = (file[n][:] for n in ("mould_height_mm", "sheet_height_mm", "gap_mm"))
                self.assertEqual(mould.max(), 0.0)
                # Heights are stored in 32 bit, so their difference is good to a few of the last ones.
                self.assertLess(abs(sheet - mould - gap).max(), 1e-6)
                self.assertGreater(gap.max(), 0.0)
                self.assertEqual(file["mould/points_mm"].shape, file["sheet/points_mm"].shape)
                self.assertEqual(file["node/gap_mm"].shape[0], file["mould/points_mm"].shape[0])
        self.assertGreater(checked, 40)

    def test_more_pressure_forms_deeper(self):
        harder = self.new_case("harder", GROOVE.replace('"4 bar"', '"8 bar"'))
        done = self.program("imprint", harder, "--json", "--quiet")
        self.assertEqual(done.returncode, 0, done.stderr)
        depth = {r["name"]: r["depth_mm"] for r in self.summary(self.out)["reliefs"]}
        self.assertGreater(json.loads(done.stdout)["reliefs"][0]["depth_mm"], 1.05 * depth["groove"])

    def test_everything_written_is_documented(self):
        with open(os.path.join(DOCS, "result_format.md"), encoding="utf-8") as file:
            page = file.read()
        names = []
        with h5py.File(os.path.join(self.out, "relief_leaf.h5"), "r") as file:
            names += list(file.attrs)
            file.visititems(lambda name, item: names.append("/" + name) if isinstance(item, h5py.Dataset) else None)
        relief = self.summary(self.out)["reliefs"][1]
        names += [*relief, *relief["strokes"][0]]
        self.assertGreater(len(names), 60)
        self.assertEqual([name for name in names if f"`{name}`" not in page], [])

    def test_the_script_in_the_documentation_reads_them(self):
        with open(os.path.join(DOCS, "result_format.md"), encoding="utf-8") as file:
            script = file.read().split("```python\n")[2].split("```")[0]
        done = subprocess.run(["/usr/bin/python3", "-c", script], cwd=self.out, text=True, capture_output=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual(len(done.stdout.splitlines()), 2)
        self.assertIn("groove", done.stdout)

    def test_without_json_a_person_reads_the_worst_strokes(self):
        case = self.new_case("person", LEAF + STIFF)
        done = self.program("imprint", case, "--out", os.path.join(self.root, "person-out"), "--quiet")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("Does leaf form?", done.stdout)
        self.assertIn("Nothing was formed", done.stdout)
        self.assertIn("Relief leaf: 1 stroke\n", done.stdout)

    def test_the_same_bits_for_any_number_of_threads(self):
        case = self.new_case("threads", (GROOVE + LEAF + STATE).replace(STATE, STIFF))
        for threads in ("1", "2"):
            done = self.program("imprint", case, "--threads", threads, "--quiet", "--out",
                                os.path.join(self.root, f"threads{threads}"))
            self.assertEqual(done.returncode, 0, done.stderr)
        for name in ("relief_groove.h5", "relief_leaf.h5"):
            content = []
            for threads in (1, 2):
                with open(os.path.join(self.root, f"threads{threads}", name), "rb") as file:
                    content.append(file.read())
            self.assertEqual(content[0], content[1], name)

    # Whose files.

    def test_results_are_replaced_only_with_force(self):
        before = os.stat(os.path.join(self.out, "summary.json")).st_mtime_ns
        self.refused(self.program("imprint", self.case, "--quiet", "--out", self.out), 2, "--force", self.out)
        self.assertEqual(os.stat(os.path.join(self.out, "summary.json")).st_mtime_ns, before)
        out = os.path.join(self.root, "twice")
        two = self.new_case("two", (GROOVE + LEAF + STATE).replace(STATE, STIFF))
        self.assertEqual(self.program("imprint", two, "--quiet", "--out", out).returncode, 0)
        one = self.new_case("one", GROOVE.replace(STATE, STIFF))
        self.assertEqual(self.program("imprint", one, "--quiet", "--force", "--out", out).returncode, 0)
        self.assertEqual(set(os.listdir(out)), {"relief_groove.h5", "relief_groove.xdmf", "summary.json", "report.html",
                                                "open.py", "case.toml"})

    def test_a_folder_with_the_picture_is_not_for_results(self):
        case = self.new_case("pictures", LEAF + STATE)
        self.refused(self.program("imprint", os.path.join(case, "case.toml"), "--force", "--out", case), 2, "reads")

    # Saying no.

    def test_spoilt_reliefs_are_one_line(self):
        spoilt = {
            "no state, no sheet": (LEAF, 2, "sheet is required"),
            "no relief at all": ('title = "x"\n', 2, "sheet is required"),
            "profile without a state": (GROOVE.replace(STATE, ""), 2, "sheet is required"),
            "no such picture": (LEAF.replace("leaf.png", "lief.png") + STATE, 2, "lief.png"),
            "not a picture": (LEAF.replace("leaf.png", "groove.csv") + STATE, 3, "groove.csv"),
            "a profile that goes back": (GROOVE.replace("groove.csv", "case.toml"), 3, "case.toml"),
            "too coarse for its letters": (WORD.replace("0.04 mm", "0.5 mm") + STATE, 2, "word"),
            "of the mould, without one": ('[[relief]]\nname = "a"\nsource = "mould"\nat = ["0 mm", "0 mm"]\n'
                                          'size = ["2 mm", "2 mm"]\n' + STATE, 2, "without a mould"),
            "no pressure": (LEAF + STATE.replace('"4 bar"', '"0 bar"'), 2, "pressure"),
            "unknown key": (LEAF + "depht = 1\n" + STATE, 2, "depht"),
        }
        for number, (name, (text, exit_code, word)) in enumerate(spoilt.items()):
            with self.subTest(name):
                out = os.path.join(self.root, f"spoilt-out{number}")
                done = self.program("imprint", self.new_case(f"spoilt{number}", text), "--quiet", "--out", out)
                self.refused(done, exit_code, word)
                self.assertFalse(os.path.exists(out))

    def test_a_patch_beside_the_mould_is_3_with_its_line(self):
        beside = WORD.replace("grid", 'at = ["5 mm", "0 mm"]\ngrid')
        for command, reliefs in (("imprint", beside + STATE), ("imprint", beside), ("run", beside), ("check", beside)):
            with self.subTest(command + (" with a state" if STATE in reliefs else "")):
                case = self.formed_case(f"beside-{command}-{STATE in reliefs}", reliefs)
                with open(os.path.join(case, "case.toml"), encoding="utf-8") as file:
                    line = next(n for n, text in enumerate(file, 1) if text.startswith("at = "))
                out = [] if command == "check" else ["--out", case + "-out"]
                self.refused(self.program(command, case, "--quiet", *out), 3, f"case.toml:{line}, relief 'word', at",
                             "beside the mould")
                self.assertFalse(os.path.exists(case + "-out"))

    def test_a_source_that_cannot_be_built_is_2_with_its_line(self):
        table = WORD.replace('source = { text = "I", size = "3 mm", depth = "0.3 mm" }\n', "") \
            + '[relief.source]\ntext = "I"\nsize = "3 mm"\ndepth = "0.3 mm"\n'
        for number, (relief, words) in enumerate((
                (WORD.replace("0.04 mm", "0.5 mm") + STATE, ("relief 'word', source", "0.5 mm")),
                (table.replace("0.04 mm", "0.5 mm").replace("[relief.source]", STATE + "[relief.source]"),
                 ("relief 'word', source", "0.5 mm")),
                (WORD.replace('"I"', '"\u4e2d"') + STATE, ("relief 'word', source",)),
                (LEAF.replace("leaf.png", "dot.png") + STATE,
                 ("relief 'leaf', source", "3 x 3 cells of 0.1 mm", "4 cells or more along x")))):
            with self.subTest(relief):
                case = self.new_case(f"unbuilt{number}", relief)
                write_png(os.path.join(case, "dot.png"), [[0, 0, 0], [0, 65535, 0], [0, 0, 0]])
                with open(os.path.join(case, "case.toml"), encoding="utf-8") as file:
                    line = next(n for n, text in enumerate(file, 1) if text.startswith(("source = ", "text = ")))
                self.refused(self.program("imprint", case, "--quiet"), 2, f"case.toml:{line}, ", *words)
        formed = self.formed_case("unbuilt", WORD.replace("0.04 mm", "0.5 mm"))
        for command in ("check", "run"):
            self.refused(self.program(command, formed, "--quiet"), 2, "case.toml:", "relief 'word', source")

    def test_strict_is_5_only_where_the_case_has_a_limit(self):
        shallow = GROOVE.replace("groove.csv", "shallow.csv").replace(STATE, STIFF)
        for limits, exit_code in (("", 0), ("[limits]\nmin_capture = 0.9\n", 5), ("[limits]\nmin_capture = 0.001\n", 0)):
            with self.subTest(limits):
                case = self.new_case(f"strict{exit_code}{len(limits)}", limits + shallow)
                with open(os.path.join(case, "shallow.csv"), "w", encoding="utf-8") as file:
                    file.write(groove(width=1.0, depth=0.05))
                done = self.program("imprint", case, "--quiet", "--strict", "--json")
                self.assertEqual(done.returncode, exit_code, done.stderr)
                finding = json.loads(done.stdout)["findings"][0]
                self.assertEqual(finding["verdict"], "pass" if "0.001" in limits else "fail", finding)

    # Reliefs on the formed sheet.

    def test_a_text_on_a_small_mould_takes_the_formed_sheet(self):
        case = self.formed_case("formed", WORD + LEAF + STIFF, limits="[limits]\nmin_capture = 0.5\n")
        write_png(os.path.join(case, "leaf.png"), [[65535 if 10 <= x < 15 else 0 for x in range(30)] for _ in range(30)])
        out = case + "-out"
        done = self.program("imprint", case, "--json", "--quiet", "--profile", "--out", out)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("reliefs", done.stderr)
        summary = json.loads(done.stdout)
        self.assertGreater(summary["steps"], 0)
        word, leaf = summary["reliefs"]
        self.assertEqual((word["state"], leaf["state"]), ("formed", "given"))
        self.assertAlmostEqual(word["pressure_MPa"], 0.3, delta=0.01)  # the gas' mean over the last steps
        self.assertLess(word["thickness_mm"], 0.75)
        self.assertAlmostEqual(word["thickness_mm"] * word["stretch_x"] * word["stretch_y"], 0.75, delta=0.05)  # a mean
        self.assertEqual(leaf["thickness_mm"], 0.5)
        self.assertEqual(word["strokes"][0]["name"][0], "I")
        # The block's top is at z = 4 mm, the letter stands 0.3 mm above it about (0, 0).
        x, y, z = word["strokes"][0]["place_mm"]
        self.assertAlmostEqual(z, 4.3, delta=1e-6)
        self.assertLess(abs(x) + abs(y), 3.0)
        finding = next(f for f in summary["findings"] if f["id"] == "relief_word")
        self.assertEqual(finding["limit"], 0.5)
        self.assertIn("reads right", finding["why"])
        files = set(os.listdir(out))
        self.assertLessEqual({"relief_word.h5", "relief_word.xdmf", "sheet.xdmf", "mould.xdmf", "history.csv"}, files)
        with h5py.File(os.path.join(out, "relief_word.h5"), "r") as file:
            points = file["mould/points_mm"][:]
            self.assertAlmostEqual(points[:, 2].max(), 4.3, delta=1e-5)
            self.assertAlmostEqual(points[:, 2].min(), 4.0, delta=1e-5)

    def test_asked_to_stop_it_stops_within_a_relief(self):
        # Fine enough to take far longer than the test waits, were it not asked to stop.
        case = self.new_case("stopped", '[[relief]]\nname = "word"\n'
                             'source = { text = "BASIL", size = "6 mm", depth = "0.4 mm" }\n' + STATE)
        out = case + "-out"
        process = subprocess.Popen([PROGRAM, "imprint", case, "--quiet", "--out", out], cwd=self.root, text=True,
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        time.sleep(1.0)
        self.assertIsNone(process.poll(), "it was done before it could be stopped")
        process.send_signal(signal.SIGINT)
        said = process.communicate(timeout=120)
        self.assertEqual(process.returncode, 130, said)
        self.assertIn("nothing was written", said[1])
        self.assertFalse(os.path.exists(out))

    def test_a_relief_the_sheet_never_reaches_fails_in_words(self):
        # Hardly any pressure: the sheet hangs above the block.
        case = self.formed_case("aloft", WORD, pressure="0.0005 bar", height="12 mm")
        done = self.program("run", case, "--json", "--quiet")
        self.assertEqual(done.returncode, 0, done.stderr)
        summary = json.loads(done.stdout)
        finding = next(f for f in summary["findings"] if f["id"] == "relief_word")
        self.assertEqual((finding["verdict"], finding["value"]), ("fail", 0))
        self.assertIn("never touches", finding["why"])
        self.assertEqual(summary["reliefs"], [])

    def test_without_a_relief_it_is_looked_for_on_the_mould(self):
        case = self.formed_case("found", "", element="2 mm")
        bar = [(x, y, z) for x in (-2.0, 2.0) for y in (-0.3, 0.3) for z in (4.0, 4.4)]
        quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (1, 5, 7, 3)]  # no bottom: it stands on the block
        faces = [tuple(bar[i] for i in t) for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
        small_case.write_stl(os.path.join(case, "block.stl"), small_case.block() + faces)
        done = self.program("run", case, "--json", "--quiet")
        self.assertEqual(done.returncode, 0, done.stderr)
        summary = json.loads(done.stdout)
        self.assertEqual([r["name"] for r in summary["reliefs"]], ["relief-1"])
        relief = summary["reliefs"][0]
        self.assertEqual(relief["source"], "mould")
        self.assertAlmostEqual(relief["own_depth_mm"], 0.4, delta=0.02)
        self.assertEqual(len(relief["strokes"]), 1)
        self.assertAlmostEqual(relief["strokes"][0]["width_mm"], 0.6, delta=0.1)  # a cell of its grid to either side


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(verbosity=2)
