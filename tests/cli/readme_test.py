#!/usr/bin/python3
"""Does every command work that README.md, docs and cases show? Each is run once, on a small case.

readme_test.py BIN ROOT
"""
import re
import shlex
import signal
import subprocess
import sys
import tempfile
import time
import unittest
from pathlib import Path

sys.dont_write_bytecode = True
import small_case
import sweep_case

PROGRAM, ROOT = "", Path()
ON_RESULTS = ("resume", "export", "compare")
ON_A_SWEEP = ("sweep",)
ON_A_CASE = ("run", "check", "imprint", "chart", "calibrate")
# What takes long with its defaults is asked for less; a problem with few elements may be off by more than it may (4).
SMALLER = {"chart": ["--pressure=2 bar", "--thickness=0.75 mm", "--depth=0.1 mm"], "verify": ["--elements=8"]}
VARY = '[[vary]]\nkey = "forming.stage[1].pressure"\nfrom = "0.5 bar"\nto = "1 bar"\ncount = 4\n\n'
PROBLEM = "free-disc-neo-hookean"


def pages():
    return [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md")),
            *sorted((ROOT / "cases").glob("*/README.md"))]


def code_of(page):
    """Lines of code blocks, and what stands between backticks."""
    for line in page.read_text(encoding="utf-8").splitlines():
        if line.startswith("    "):
            yield line.split("#")[0].strip()
        else:
            yield from re.findall(r"`([^`]+)`", line)


def shown():
    """Arguments of the program as shown, with the page that shows them first."""
    found = {}
    for page in pages():
        for code in code_of(page):
            match = re.match(r"(?:\w+=\S+ )*(?:build/release/)?pellicle((?: .*)?)$", code)
            if match:
                found.setdefault(" ".join(match[1].split()), page.relative_to(ROOT))
    return found


class Readme(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory(prefix="pellicle-readme-")
        self.root = Path(self.place.name)
        case = small_case.write(str(self.root / "case"))
        table = self.root / "grooves.csv"
        table.write_text("width_mm,depth_mm,edge_radius_mm,pressure_bar\n0.8,0.2,0.05,3\n1,0.29,0.05,3\n")
        self.stands_for = {"CASE": case, "my-folder": case, "my-folder/case.toml": case + "/case.toml",
                           "MEASURED.csv": str(table), "my-coupon.csv": str(table), "NAME": PROBLEM, "N": "1",
                           "TENSILE.csv": str(ROOT / "cases/cards/tensile_example.csv")}
        self.runs = 0

    def tearDown(self):
        self.place.cleanup()

    def interrupted(self):
        """Folder of a run that was stopped."""
        case = small_case.write(str(self.root / "long"), element="1 mm", duration="5 s")
        out = self.root / "interrupted"
        process = subprocess.Popen([PROGRAM, "run", case, "--quiet", "--out", str(out)], stderr=subprocess.DEVNULL)
        while not (out / "history.csv").exists():
            self.assertIsNone(process.poll(), "ended before its first frame")
            time.sleep(0.01)
        process.send_signal(signal.SIGINT)
        self.assertEqual(process.wait(timeout=300), 130)
        return str(out)

    def varied(self):
        """A case with four combinations."""
        return sweep_case.write(str(self.root / "varied"), vary=VARY, element="3 mm", duration="0.5 s")

    def sweep(self):
        """Folder of a sweep that is laid out."""
        out = str(self.root / "varied-sweep")
        subprocess.run([PROGRAM, "sweep", self.varied(), "--scripts", "--out", out], capture_output=True, check=True)
        return out

    def finished(self):
        """Folder of a run that came to its end."""
        out = str(self.root / "finished")
        if not (self.root / "finished").exists():
            subprocess.run([PROGRAM, "run", self.stands_for["CASE"], "--quiet", "--out", out], capture_output=True,
                           check=True)
        return out

    def arguments(self, text):
        """As a person would fill them in."""
        words = [word for word in shlex.split(text.replace("[", "").replace("]", "")) if word != "..."]
        out, after_out = [], False
        for word in words:
            if after_out:
                word = str(self.root / f"out{self.runs}")
            elif word in self.stands_for:
                word = self.stands_for[word]
            elif "/" in word and (ROOT / word).exists():
                word = str(ROOT / word)
            after_out = word == "--out"
            out.append(word)
        command = out[0] if out and not out[0].startswith("-") else ""
        given = [word for word in out[1:] if not word.startswith("--")]
        if command in ON_A_CASE and not given:
            out.append(self.stands_for["CASE"])
        if command == "calibrate" and not any(word.endswith(".csv") for word in out):
            out.append(self.stands_for["MEASURED.csv"])
        if command == "fit" and not given:
            out += [self.stands_for["TENSILE.csv"], "--like", "petg"]
        if command == "verify" and not given and "--quick" not in out:
            out.append(PROBLEM)
        if command == "sweep":
            out[1:2] = [self.sweep()] if "--gather" in out else [self.varied()]
        if "--case-index" in out:
            out[1] = self.varied()
        if command == "resume":
            out[1:] = [self.interrupted()]
        if command == "export":
            out[1:] = [self.finished(), *(word for word in out[1:] if word != "DIR" and not word.endswith("-results"))]
            if "--out" not in out:
                out += ["--out", str(self.root / f"out{self.runs}")]
        if command == "compare":
            walls = self.root / "walls.csv"
            walls.write_text("x_mm,y_mm,z_mm,thickness_mm\n0,0,4,0.7\n4,0,4,0.7\n0,4,4,0.7\n")
            other = str(walls) if "measured.csv" in out or "--explain" in out else self.finished()
            after = [word for word in out[1:] if word not in ("DIR", "DIR_A", "DIR_B", "measured.csv")]
            out[1:] = [self.finished(), other, *after]
        if command in ("run", "imprint") and "--out" not in out:
            out += ["--out", str(self.root / f"out{self.runs}")]
        return out + [word for word in SMALLER.get(command, []) if word.split("=")[0] not in out]

    def test_commands_that_are_shown_work(self):
        commands = shown()
        self.assertGreaterEqual({text.split()[0] for text in commands if text}, {*ON_A_CASE, *ON_A_SWEEP, *ON_RESULTS, "fit", "new", "verify"})
        for text, page in commands.items():
            if not text:
                continue
            self.runs += 1
            with self.subTest(f"pellicle {text}", page=page):
                arguments = self.arguments(text)
                ran = subprocess.run([PROGRAM, *arguments], cwd=self.root, capture_output=True, text=True, timeout=600)
                self.assertIn(ran.returncode, (0, 4) if arguments[0] == "verify" else (0,), ran.stderr)
        self.assertGreater(self.runs, 12)

    def test_options_that_are_shown_exist(self):
        help_of_all = "".join(
            subprocess.run([PROGRAM, *command, "--help"], capture_output=True, text=True, check=True).stdout
            for command in ([], *([word] for word in (*ON_A_CASE, *ON_A_SWEEP, *ON_RESULTS, "fit", "new", "verify", "schema"))))
        known = set(re.findall(r"--[a-z][a-z-]*", help_of_all))
        seen = 0
        for page in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
            for code in code_of(page):
                if code.startswith("--"):
                    self.assertIn(re.match(r"--[a-z-]+", code)[0], known, page)
                    seen += 1
        self.assertGreater(seen, 8)

    def test_scripts_that_are_shown_are_there(self):
        cases = {page.parent.name for page in (ROOT / "cases").glob("*/case.toml")}
        seen = 0
        for page in pages():
            for code in code_of(page):
                script = re.match(r"bash (cases/run|tests/run|\.ci/\w+)(?: ([\w-]+))?|(tests/\w+/\w+\.(?:py|sh))", code)
                if not script:
                    continue
                seen += 1
                self.assertTrue((ROOT / (script[1] or script[3])).is_file(), f"{page}: {code}")
                if script[1] == "cases/run" and script[2]:
                    self.assertIn(script[2], cases, page)
                if script[1] == "tests/run" and script[2]:
                    self.assertIn(script[2], (ROOT / "tests/run").read_text(), page)
        self.assertGreater(seen, 8)


if __name__ == "__main__":
    PROGRAM, ROOT = str(Path(sys.argv[1]).resolve()), Path(sys.argv[2]).resolve()
    unittest.main(argv=sys.argv[:1])
