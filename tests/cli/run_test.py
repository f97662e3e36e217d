#!/usr/bin/python3
"""Does `pellicle run` keep its promises to the shell? Exit codes, streams, files, signals.

run_test.py BIN
"""
import csv
import json
import math
import os
import pty
import re
import resource
import select
import signal
import subprocess
import sys
import tempfile
import time
import unittest

import h5py
import jsonschema

sys.dont_write_bytecode = True
HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
import small_case  # noqa: E402

PROGRAM = ""
RESULTS = {"sheet.xdmf", "sheet_0000.h5", "mould.xdmf", "mould.h5", "history.csv", "summary.json", "case.toml",
           "report.html", "open.py"}
SCHEMA = os.path.join(HERE, "..", "..", "docs", "summary.schema.json")
LONG = {"element": "0.6 mm", "duration": "5 s"}  # many seconds: time to interrupt it


class Run(small_case.Refusals, unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle-run-")
        cls.root = cls.place.name
        cls.case = small_case.write(os.path.join(cls.root, "block"))
        cls.done = cls.run_program(cls.case, "--json", "--out", os.path.join(cls.root, "shared"))
        cls.shared = os.path.join(cls.root, "shared")

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    @classmethod
    def run_program(cls, *arguments, cwd=None, **options):
        environment = {k: v for k, v in os.environ.items() if k != "NO_COLOR"}
        return subprocess.run([PROGRAM, "run", *arguments], cwd=cwd or cls.root, env=environment, text=True,
                              stdout=options.pop("stdout", subprocess.PIPE), stderr=subprocess.PIPE, timeout=600,
                              **options)

    def folder(self, name):
        return os.path.join(self.root, f"{self._testMethodName}-{name}")

    def new_case(self, name="case", **changes):
        return small_case.write(self.folder(name), **changes)

    # Results.

    def test_a_finished_run_leaves_exactly_its_files(self):
        self.assertEqual(self.done.returncode, 0, self.done.stderr)
        found = set(os.listdir(self.shared))
        self.assertLessEqual(RESULTS, found)
        for name in found - RESULTS:
            self.assertRegex(name, r"^sheet_\d{4}\.h5$")
        self.assertGreater(len(found - RESULTS), 10)

    def test_json_is_exactly_the_summary_file_and_obeys_its_schema(self):
        with open(os.path.join(self.shared, "summary.json"), encoding="utf-8") as file:
            text = file.read()
        self.assertEqual(self.done.stdout, text)
        with open(SCHEMA, encoding="utf-8") as file:
            schema = json.load(file)
        jsonschema.Draft202012Validator.check_schema(schema)
        summary = json.loads(text)
        jsonschema.validate(summary, schema)
        self.assertGreater(len(summary["findings"]), 0)
        del summary["findings"][0]["verdict"]
        with self.assertRaises(jsonschema.ValidationError):
            jsonschema.validate(summary, schema)

    def test_the_script_in_the_documentation_reads_them(self):
        with open(os.path.join(HERE, "..", "..", "docs", "result_format.md"), encoding="utf-8") as file:
            script = file.read().split("```python\n")[1].split("```")[0]
        self.assertLessEqual(len(script.splitlines()), 12)
        done = subprocess.run(["/usr/bin/python3", "-c", script], cwd=self.shared, text=True, capture_output=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        frames = [name for name in os.listdir(self.shared) if name.startswith("sheet_")]
        self.assertEqual(len(done.stdout.splitlines()), len(frames))
        self.assertIn("press", done.stdout.splitlines()[-1])

    def test_everything_written_is_documented(self):
        with open(os.path.join(HERE, "..", "..", "docs", "result_format.md"), encoding="utf-8") as file:
            page = file.read()
        names = []
        for file_name in ("sheet_0000.h5", "mould.h5"):
            with h5py.File(os.path.join(self.shared, file_name), "r") as file:
                names += list(file.attrs)
                file.visititems(lambda name, item: names.append("/" + name) if isinstance(item, h5py.Dataset) else None)
        with open(os.path.join(self.shared, "history.csv"), encoding="utf-8") as file:
            names += file.readline().strip().split(",")
        with open(os.path.join(self.shared, "summary.json"), encoding="utf-8") as file:
            summary = json.load(file)
        names += [*summary, *summary["findings"][0], *summary["stages"][0], *(f["id"] for f in summary["findings"])]
        self.assertGreater(len(names), 60)
        self.assertEqual([name for name in names if f"`{name}`" not in page], [])

    def test_the_case_is_kept_byte_for_byte(self):
        with open(os.path.join(self.case, "case.toml"), "rb") as a, open(os.path.join(self.shared, "case.toml"), "rb") as b:
            self.assertEqual(a.read(), b.read())

    def test_without_json_a_person_reads_the_answer(self):
        done = self.run_program(self.case, "--out", self.folder("out"), "--quiet")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("Small block", done.stdout)
        self.assertIn(self.folder("out"), done.stdout)
        self.assertIn("mould.xdmf", done.stdout)
        self.assertNotIn("\x1b", done.stdout)

    def test_the_default_folder_is_named_after_the_case(self):
        working = self.folder("cwd")
        os.mkdir(working)
        self.assertEqual(self.run_program(self.case, "--quiet", cwd=working).returncode, 0)
        self.assertEqual(os.listdir(working), ["block-results"])

    def test_without_mould_no_mould_files(self):
        case = self.new_case()
        path = os.path.join(case, "case.toml")
        with open(path, encoding="utf-8") as file:
            text = file.read()
        start, end = text.index("[mould]"), text.index("[[forming.stage]]")
        with open(path, "w", encoding="utf-8") as file:
            file.write((text[:start] + text[end:]).replace('"1 bar"', '"0.02 bar"'))
        done = self.run_program(case, "--quiet", "--out", self.folder("out"))
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertFalse({"mould.h5", "mould.xdmf"} & set(os.listdir(self.folder("out"))))
        self.assertIn("sheet.xdmf", done.stdout)
        self.assertNotIn("mould.xdmf", done.stdout)

    # Whose files.

    def test_results_are_replaced_only_with_force(self):
        out = self.folder("out")
        self.assertEqual(self.run_program(self.case, "--quiet", "--out", out).returncode, 0)
        before = os.stat(os.path.join(out, "summary.json")).st_mtime_ns
        self.refused(self.run_program(self.case, "--quiet", "--out", out), 2, "--force", out)
        self.assertEqual(os.stat(os.path.join(out, "summary.json")).st_mtime_ns, before)
        fewer = self.new_case(frames=3)
        self.assertEqual(self.run_program(fewer, "--quiet", "--force", "--out", out).returncode, 0)
        frames = [name for name in os.listdir(out) if name.startswith("sheet_")]
        self.assertLessEqual(len(frames), 5)  # none left of the longer run

    def test_force_refuses_a_folder_that_holds_others(self):
        out = self.folder("out")
        self.assertEqual(self.run_program(self.case, "--quiet", "--out", out).returncode, 0)
        with open(os.path.join(out, "notes.txt"), "w") as file:
            file.write("mine")
        count = len(os.listdir(out))
        self.refused(self.run_program(self.case, "--quiet", "--force", "--out", out), 2, "notes.txt")
        self.assertEqual(len(os.listdir(out)), count)

    def test_force_never_takes_the_case_itself(self):
        case = self.new_case()
        self.refused(self.run_program(case, "--quiet", "--force", "--out", case), 2)
        self.assertEqual(set(os.listdir(case)), {"case.toml", "block.stl"})

    # Exit codes.

    def test_a_bad_case_is_2_and_writes_nothing(self):
        case = self.new_case(duration="-1 s")
        self.refused(self.run_program(case, "--out", self.folder("out")), 2, "case.toml")
        self.assertFalse(os.path.exists(self.folder("out")))

    def test_bad_usage_is_2(self):
        self.refused(self.run_program(), 2)
        self.refused(self.run_program(self.case, "--no-such-flag"), 2)
        self.refused(self.run_program(self.folder("missing")), 2)

    def test_a_mould_through_the_sheet_is_3_and_writes_nothing(self):
        case = self.new_case(height="2 mm")  # the block is 4 mm high
        with open(os.path.join(case, "case.toml"), encoding="utf-8") as file:
            line = next(number for number, text in enumerate(file, 1) if text.startswith("height"))
        self.refused(self.run_program(case, "--out", self.folder("out")), 3, "mm", f"case.toml:{line}, sheet.height")
        self.assertFalse(os.path.exists(self.folder("out")))

    def test_a_broken_mould_file_is_3(self):
        case = self.new_case()
        with open(os.path.join(case, "block.stl"), "wb") as file:
            file.write(b"rubbish")
        self.refused(self.run_program(case, "--out", self.folder("out")), 3, "block.stl")
        self.assertFalse(os.path.exists(self.folder("out")))

    def test_a_run_that_cannot_be_trusted_is_4_and_keeps_its_frames(self):
        case = self.new_case(frames=100)
        with open(os.path.join(case, "case.toml"), "a", encoding="utf-8") as file:
            file.write("energy_limit = 1e-6\n")  # no run with steps of this size closes so well
        out = self.folder("out")
        self.refused(self.run_program(case, "--quiet", "--json", "--out", out), 4, "energy")
        found = set(os.listdir(out))
        self.assertLessEqual({"sheet.xdmf", "history.csv", "case.toml"}, found)
        self.assertNotIn("summary.json", found)
        frames = [name for name in found if name.startswith("sheet_")]
        self.assertGreater(len(frames), 1)
        for name in frames:
            with h5py.File(os.path.join(out, name), "r") as frame:
                self.assertEqual(frame.attrs["format"], "pellicle-sheet")

    def test_strict_makes_a_broken_limit_5(self):
        case = self.new_case(limits='[limits]\nmin_thickness = "0.74 mm"\n')  # of a sheet of 0.75 mm
        relaxed = self.run_program(case, "--quiet", "--out", self.folder("relaxed"))
        self.assertEqual(relaxed.returncode, 0, relaxed.stderr)
        self.assertIn("FAIL", relaxed.stdout)
        strict = self.run_program(case, "--quiet", "--strict", "--out", self.folder("strict"))
        self.assertEqual(strict.returncode, 5, strict.stderr)
        self.assertIn("summary.json", os.listdir(self.folder("strict")))
        self.assertEqual(self.run_program(self.case, "--quiet", "--strict", "--out", self.folder("kept")).returncode, 0)

    def test_layer_lines_are_answered_judged_and_in_the_frames(self):
        plain = self.folder("plain")
        self.assertEqual(self.run_program(self.case, "--quiet", "--out", plain).returncode, 0)
        for limit, code, verdict in (("1 um", 5, "fail"), ("200 um", 0, "pass")):  # of layers of 0.1 mm
            case = self.new_case(element="1.5 mm", limits=f'[limits]\nmax_layer_line = "{limit}"\n')
            path = os.path.join(case, "case.toml")
            with open(path, encoding="utf-8") as file:
                text = file.read()
            with open(path, "w", encoding="utf-8") as file:
                file.write(text.replace('unit     = "mm"', 'unit     = "mm"\nlayer_height = "0.1 mm"\nbuild_direction = [1, 0, 1.732]'))
            out = self.folder("out-" + verdict)
            done = self.run_program(case, "--quiet", "--strict", "--json", "--out", out)
            self.assertEqual(done.returncode, code, done.stderr)
            finding = next(each for each in json.loads(done.stdout)["findings"] if each["id"] == "layer_lines")
            self.assertEqual((finding["verdict"], finding["unit"]), (verdict, "um"))
            # The top of the block, printed 30 degrees askew: steps of 0.1 mm cos 30 = 87 um.
            self.assertGreater(finding["value"], 2.0)
            self.assertLess(finding["value"], 87.0)
            self.assertIn("30 degrees from the build plane", finding["why"])
            last = sorted(name for name in os.listdir(out) if name.startswith("sheet_"))[-1]
            with h5py.File(os.path.join(out, last), "r") as frame:
                mould_face, free_face = frame["/node/layer_line_um"][:], frame["/node/layer_line_free_face_um"][:]
                touched = frame["/node/contact_pressure_MPa"][:] > 0
            self.assertGreater(sum(mould_face > 2.0), 3)
            self.assertLessEqual(max(mould_face[mould_face == mould_face]), finding["value"] * 1.0001)
            self.assertTrue(all(free_face[mould_face == mould_face] < 1.0))  # steps much finer than the sheet
            self.assertGreater(sum(touched), 3)
        with h5py.File(os.path.join(plain, "sheet_0000.h5"), "r") as frame:
            self.assertNotIn("layer_line_um", frame["/node"])

    def warm_case(self, numerics):
        """A mould of 25 °C, and one switch of [numerics]."""
        case = self.new_case(mould='resin = "standard"\ntemperature = "25 °C"')
        path = os.path.join(case, "case.toml")
        with open(path, encoding="utf-8") as file:
            text = file.read()
        with open(path, "w", encoding="utf-8") as file:
            if "[numerics]\n" in text:
                file.write(text.replace("[numerics]\n", f"[numerics]\n{numerics}\n"))
            else:
                file.write(f"{text}\n[numerics]\n{numerics}\n")
        return case

    def test_temperature_sets_the_stiffness_and_the_books_say_what_that_takes(self):
        out = self.folder("out")
        done = self.run_program(self.warm_case("temperature_to_modulus = true"), "--json", "--out", out)
        self.assertEqual(done.returncode, 0, done.stderr)
        summary = json.loads(done.stdout)
        self.assertTrue(any("frozen sheet counts as 20 times" in each for each in summary["warnings"]), summary)
        with open(os.path.join(out, "history.csv"), encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        self.assertGreater(float(rows[-1]["viscous_J"]), 0.0)
        self.assertGreater(float(rows[-1]["thermal_J"]), 0.0)

    def test_heat_is_followed_where_the_case_says_enough_and_switched_off_changes_no_wall(self):
        out = self.folder("out")
        done = self.run_program(self.warm_case("temperature_to_modulus = false"), "--json", "--out", out)
        self.assertEqual(done.returncode, 0, done.stderr)
        summary = json.loads(done.stdout)
        with open(SCHEMA, encoding="utf-8") as schema:
            jsonschema.validate(summary, json.load(schema))
        self.assertEqual(summary["not_used_yet"], [])
        cooling = {f["id"]: f for f in summary["findings"]}["cooling"]
        self.assertEqual(cooling["unit"], "s")
        self.assertEqual(cooling["verdict"], "pass")
        # 0.75 mm less what it is stretched, half a second ago on cold resin: seconds (table of docs/theory/heat.md).
        self.assertTrue(0.5 < cooling["value"] < 30.0, cooling)
        self.assertEqual(len(cooling["place_mm"]), 3)
        last = sorted(name for name in os.listdir(out) if name.startswith("sheet_") and name.endswith(".h5"))[-1]
        with h5py.File(os.path.join(out, last)) as hot, h5py.File(os.path.join(self.shared, last)) as plain:
            for name in ("/points_mm", "/node/thickness_mm", "/node/touched_s"):
                self.assertEqual(hot[name][()].tobytes(), plain[name][()].tobytes(), name)
            self.assertNotIn("/node/temperature_mould_face_C", plain)
            mean, face = hot["/node/temperature_C"][()], hot["/node/temperature_mould_face_C"][()]
            touching = hot["/node/contact_pressure_MPa"][()] > 0
            self.assertGreater(touching.sum(), 20)
            self.assertLess(mean[touching].max(), 139.0)
            self.assertLess(face[touching].max(), mean[touching].max())
            self.assertGreater(face.min(), 25.0)
            self.assertLess(mean.max(), 140.0)

    def test_coming_off_is_answered_and_on_the_mould(self):
        case = self.new_case(element="1 mm", pressure="3 bar")
        path = os.path.join(case, "case.toml")
        with open(path, encoding="utf-8") as file:
            text = file.read()
        with open(path, "w", encoding="utf-8") as file:  # down to the platform, so that the sides are touched too
            file.write(text.replace('name     = "press"', 'name     = "press"\nclamp_to = "0 mm"'))
        out = self.folder("out")
        done = self.run_program(case, "--quiet", "--json", "--out", out)
        self.assertEqual(done.returncode, 0, done.stderr)
        findings = {each["id"]: each for each in json.loads(done.stdout)["findings"]}
        # The block's sides lean by 1.5 mm on 4 mm; PETG shrinks by 0.4 % (its card).
        lean = math.degrees(math.atan(1.5 / 4.0))
        self.assertAlmostEqual(findings["draft"]["value"], lean, delta=1e-3)  # as rounded in the STL
        self.assertEqual(findings["undercut"]["value"], 0)
        self.assertAlmostEqual(findings["shrinkage"]["value"], 100 * (1 / 0.996 - 1), delta=1e-9)
        self.assertEqual((findings["release"]["value"], findings["release"]["unit"]), (0, "N"))  # tan lean > friction
        self.assertEqual({findings[each]["verdict"] for each in ("draft", "undercut", "shrinkage", "release")}, {"pass"})
        with h5py.File(os.path.join(out, "mould.h5"), "r") as mould:
            draft, undercut = mould["/triangle/draft_deg"][:], mould["/triangle/undercut_mm"][:]
        self.assertEqual(sum(abs(draft - lean) < 1e-3), 8)
        self.assertEqual(sum(abs(draft - 90) < 1e-3), 2)
        self.assertEqual(sum(draft != draft), 2)  # the base
        self.assertTrue(all(undercut[draft == draft] == 0))

    def test_whether_the_printed_mould_bears_it_is_answered_and_on_the_mould(self):
        printed = {"mould": 'resin = "high-temperature"\ntemperature = "25 °C"\nwall = "1 mm"\n'
                            'cycle = { hold = "20 s", open = "5 min" }', "pressure": "3 bar"}
        out = self.folder("out")
        done = self.run_program(self.new_case(**printed), "--json", "--out", out)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("pressing on the mould's body", done.stderr)
        summary = json.loads(done.stdout)
        with open(SCHEMA, encoding="utf-8") as schema:
            jsonschema.validate(summary, json.load(schema))
        self.assertEqual(summary["not_used_yet"], [])
        findings = {each["id"]: each for each in summary["findings"]}
        stress, bent, warm = (findings["mould_" + each] for each in ("stress", "deflection", "temperature"))
        # Largest bending stress of a lid 7 mm wide and 1 mm thick under 3 bar: 0.308 q b^2/t^2 where it is clamped (Roark,
        # from memory), 4.5 MPa; four times less in a box whose sides give way, twice as much at a corner.
        self.assertTrue(4.5 / 4 < stress["value"] < 2 * 4.5, stress)
        self.assertEqual(stress["unit"], "MPa")
        self.assertEqual(stress["verdict"], "pass", stress)
        self.assertIn("open below", stress["why"])
        self.assertEqual((bent["unit"], bent["limit"], bent["verdict"]), ("mm", 0.3, "pass"))
        self.assertTrue(0 < bent["value"] < 0.05, bent)
        self.assertEqual(warm["unit"], "°C")
        self.assertTrue(25 < warm["value"] < 60, warm)
        self.assertEqual(len(warm["place_mm"]), 3)
        with h5py.File(os.path.join(out, "mould.h5"), "r") as mould:
            fields = {name: mould["/triangle/" + name][:] for name in
                      ("draft_deg", "deflection_mm", "stress_share", "peak_temperature_C")}
        self.assertEqual({len(values) for values in fields.values()}, {12})
        self.assertLess(abs(max(fields["deflection_mm"]) - bent["value"]), 0.3 * bent["value"])  # behind it the other side
        peaks = fields["peak_temperature_C"]
        self.assertEqual(sum(peaks != peaks), 2)  # the base
        self.assertTrue(70 < max(peaks[peaks == peaks]) < 140, peaks)
        with open(os.path.join(out, "mould.xdmf"), encoding="utf-8") as index:
            text = index.read()
        self.assertIn("deflection (mm) per triangle", text)
        self.assertIn("peak temperature (C) per triangle", text)

    def test_the_fiftieth_part_finds_a_warmer_mould_and_takes_more_of_a_sunk_letter(self):
        case = self.new_case(mould='resin = "high-temperature"\ntemperature = "25 °C"\nwall = "1 mm"\n'
                                   'cycle = { hold = "60 s", open = "1 s", parts = 50 }', pressure="3 bar",
                             limits='[[relief]]\nname = "mark"\ngrid = "0.04 mm"\n'
                                    'source = { text = "I", size = "1.6 mm", depth = "0.3 mm", raised = false }\n')
        done = self.run_program(case, "--json", "--out", self.folder("out"))
        self.assertEqual(done.returncode, 0, done.stderr)
        findings = {each["id"]: each for each in json.loads(done.stdout)["findings"]}
        told = re.search(r"finds the mould at (\d+) instead of 25 °C: relief_mark (\S+) and (\S+)",
                         findings["mould_temperature"]["why"])
        self.assertIsNotNone(told, findings["mould_temperature"]["why"])
        self.assertGreater(int(told[1]), 30)
        self.assertAlmostEqual(float(told[2]), findings["relief_mark"]["value"], delta=6e-4)
        self.assertGreater(float(told[3]), float(told[2]))
        for each in ("creep", "shock", "slender", "buckling"):
            self.assertIn("mould_" + each, findings)

    def test_a_filling_without_wall_or_resin_is_refused(self):
        case = self.new_case(mould='fill = "plaster"')
        self.refused(self.run_program(case, "--quiet", "--out", self.folder("out")), 2, "mould.fill")

    # A disk that will not.

    def test_a_folder_that_cannot_be_made_is_one_message(self):
        self.refused(self.run_program(self.case, "--quiet", "--out", "/proc/pellicle-results"), 2, "/proc")
        below_a_file = os.path.join(self.case, "block.stl", "results")
        self.refused(self.run_program(self.case, "--quiet", "--out", below_a_file), 2, below_a_file)

    def test_a_full_disk_leaves_earlier_frames_readable(self):
        # A limit on the size of a file stands in for the full disk: the index outgrows it after some frames.
        case = self.new_case(element="4 mm", frames=400)
        out = self.folder("out")

        def limit():
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, 150_000))

        done = self.run_program(case, "--quiet", "--out", out, preexec_fn=limit)
        self.refused(done, 1, "File too large", out)
        with open(os.path.join(out, "sheet.xdmf"), encoding="utf-8") as file:
            listed = file.read().count("<Time ")
        self.assertGreater(listed, 10)
        for k in range(listed):
            with h5py.File(os.path.join(out, f"sheet_{k:04}.h5"), "r") as frame:
                self.assertGreater(len(frame["/node/thickness_mm"][:]), 0)
        self.assertFalse([name for name in os.listdir(out) if name.endswith(".tmp")])

    # Streams.

    def test_quiet_says_nothing_on_stderr(self):
        done = self.run_program(self.case, "--quiet", "--json", "--out", self.folder("out"))
        self.assertEqual([line for line in done.stderr.splitlines() if not line.startswith("warning: ")], [])

    def test_profile_goes_to_stderr_and_leaves_json_alone(self):
        done = self.run_program(self.case, "--profile", "--json", "--out", self.folder("out"))
        self.assertIn("seconds", done.stderr)
        json.loads(done.stdout)

    def on_a_terminal(self, environment, *arguments):
        """Runs with a terminal as stdout and stderr; returns all that was written and the exit code."""
        control, terminal = pty.openpty()
        process = subprocess.Popen([PROGRAM, "run", *arguments], stdin=subprocess.DEVNULL, stdout=terminal,
                                   stderr=terminal, env=environment, cwd=self.root)
        os.close(terminal)
        written = b""
        while True:
            ready, _, _ = select.select([control], [], [], 600)
            try:
                piece = os.read(control, 65536) if ready else b""
            except OSError:  # Linux says so when the other end is closed
                piece = b""
            if not piece:
                break
            written += piece
        os.close(control)
        return written.decode(), process.wait()

    def test_colour_and_a_renewed_line_only_on_a_terminal_that_wants_them(self):
        plain = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "TERM")}
        text, code = self.on_a_terminal(plain | {"TERM": "xterm"}, self.case, "--out", self.folder("a"))
        self.assertEqual(code, 0, text)
        self.assertIn("\x1b[1m", text)
        self.assertRegex(text, r"\r +\d+ %")
        text, _ = self.on_a_terminal(plain | {"TERM": "xterm", "NO_COLOR": "1"}, self.case, "--out", self.folder("b"))
        self.assertNotRegex(text, "\x1b\\[[0-9;]*m")
        text, _ = self.on_a_terminal(plain | {"TERM": "dumb"}, self.case, "--out", self.folder("c"))
        self.assertNotIn("\x1b", text)

    # Signals.

    def start(self, case, out):
        process = subprocess.Popen([PROGRAM, "run", case, "--quiet", "--out", out], cwd=self.root, text=True,
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(process.kill)
        deadline = time.monotonic() + 300
        while not os.path.exists(os.path.join(out, "history.csv")):
            self.assertIsNone(process.poll(), "ended before its first frame")
            self.assertLess(time.monotonic(), deadline)
            time.sleep(0.01)
        time.sleep(0.3)  # into the loop
        return process

    def test_interrupted_is_130_with_a_checkpoint(self):
        case = self.new_case(**LONG)
        for kind in (signal.SIGINT, signal.SIGTERM):
            out = self.folder(kind.name)
            process = self.start(case, out)
            process.send_signal(kind)
            stdout, stderr = process.communicate(timeout=120)
            self.assertEqual(process.returncode, 130, stderr)
            self.assertEqual(stdout, "")
            self.assertIn("checkpoint.h5", stderr)
            found = set(os.listdir(out))
            self.assertIn("checkpoint.h5", found)
            self.assertNotIn("summary.json", found)
            with h5py.File(os.path.join(out, "checkpoint.h5"), "r") as file:
                self.assertEqual(file.attrs["format"], "pellicle-checkpoint")
                with open(os.path.join(case, "case.toml"), "rb") as text:
                    self.assertEqual(bytes(file["/case_toml"][:].astype("uint8")), text.read())
                self.assertEqual(len(file["/sheet/x_m"]), len(file["/sheet/flat_m"]))
                self.assertGreater(len(file["/sheet/x_m"]), 100)
                self.assertEqual(len(file["/mould/triangles"]), 12)

    def test_a_run_is_not_replaced_while_it_writes(self):
        process = self.start(self.new_case(**LONG), self.folder("out"))
        done = self.run_program(self.case, "--quiet", "--force", "--out", self.folder("out"))
        self.refused(done, 2, "writing here now")
        process.kill()
        process.communicate()
        # The lock goes with the process.
        self.assertEqual(self.run_program(self.case, "--quiet", "--force", "--out", self.folder("out")).returncode, 0)

    def test_an_ignored_signal_stays_ignored(self):
        done = self.run_program(self.case, "--quiet", "--out", self.folder("out"), preexec_fn=lambda: (
            signal.signal(signal.SIGINT, signal.SIG_IGN), os.kill(os.getpid(), signal.SIGINT)))
        self.assertEqual(done.returncode, 0, done.stderr)


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(verbosity=2)
