#!/usr/bin/python3
"""Does the program help a person at the terminal? Its manual page, the Tab key in bash and fish, and what it says when
it is started with no word at all. What `--help` lists is the measure: a command or an option it has and they have not
is a fault.

guide_test.py BIN
"""
import functools
import os
import re
import shlex
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

sys.dont_write_bytecode = True
import small_case

PROGRAM = ""


def program(*arguments, **more):
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=120, **more)


@functools.cache
def help_of(*command):
    """Commands, operands and options (with whether they take a value) that a --help lists."""
    text = program(*command, "--help").stdout
    parts = dict(re.findall(r"^(Positionals|Options|Subcommands):\n((?:  .*\n)*)", text, re.M))
    options = {}
    for line in parts.get("Options", "").splitlines():
        match = re.match(r"  (?:(-\w),)?(--[\w-]+)( [A-Z]\S*)?", line)
        if match:
            takes_value = bool(match[3]) and not match[3].startswith(" Excludes")
            options |= {name: takes_value for name in (match[1], match[2]) if name}
    words = {key: re.findall(r"^  ([\w-]+)", parts.get(key, ""), re.M) for key in ("Positionals", "Subcommands")}
    return words["Subcommands"], words["Positionals"], options


class Guide(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.commands, _, cls.first_options = help_of()
        cls.of = {name: help_of(name)[1:] for name in cls.commands}

    def test_help_is_read(self):
        self.assertGreaterEqual(set(self.commands), {"new", "run", "resume", "check", "export", "verify", "schema"})
        self.assertEqual(self.of["calibrate"][0], ["CASE", "MEASURED"])
        self.assertTrue(self.of["run"][1]["--out"])
        self.assertFalse(self.of["schema"][1]["--json"])
        self.assertGreater(sum(len(options) for _, options in self.of.values()), 60)


class Manual(Guide):
    def rendered(self, text):
        done = subprocess.run(["groff", "-man", "-Tutf8", "-ww", "-rLL=120n", "-P-cbou"], input=text,
                              capture_output=True, text=True, check=True)
        return done.stdout, done.stderr

    def test_without_a_warning(self):
        self.assertEqual(self.rendered(program("--manual").stdout)[1], "")
        self.assertNotEqual(self.rendered(program("--manual").stdout + ".XX\n")[1], "", "the check can fail")
        self.assertTrue(program("--manual").stdout.isascii())

    def test_every_command_and_option_stands_there(self):
        text = self.rendered(program("--manual").stdout)[0]
        sections = {head: body for head, body in re.findall(r"^   (\S+)\n((?:(?:       .*)?\n)+)", text, re.M)}
        self.assertEqual(list(sections), self.commands)
        before = text.split("COMMANDS")[0]
        for name in self.first_options:
            self.assertRegex(before, rf"(?m)^       (-\w, )?{name}\b")
        for command, (operands, options) in self.of.items():
            self.assertRegex(before, rf"pellicle {command}\b")
            for operand in operands:
                self.assertRegex(sections[command], rf"(?m)^       {operand}\b", command)
            for option, takes_value in options.items():
                value = " (VALUE|N|NUMBER)" if takes_value else ""
                self.assertRegex(sections[command], rf"(?m)^       (-\w, )?{option}{value}( |,|$)", command)

    def test_it_warns_of_what_hurts(self):
        text = " ".join(self.rendered(program("--manual").stdout)[0].split())
        for words in ("relief valve", "respirator", "local codes come first", "summary.json", "130 interrupted"):
            self.assertIn(words, text)


class InBash(Guide):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle guide ")
        root = Path(cls.place.name)
        (root / "pellicle.bash").write_text(program("--completion", "bash").stdout)
        small_case.write(str(root / "label"))
        small_case.write(str(root / "two words"))
        small_case.write(str(root / "all/inside"))
        (root / "label-results").mkdir()
        (root / "label-results/summary.json").write_text("{}")
        (root / "cut-results").mkdir()
        (root / "cut-results/checkpoint.h5").write_text("")
        (root / "nothing").mkdir()
        for name in ("other.toml", "grooves.csv", "mould.stl"):
            (root / name).write_text("")

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    def offered(self, line, word=""):
        """What Tab offers for `word` after a line of whole words, as bash cuts them."""
        words = [part for given in shlex.split(line) for part in re.split(r"(=)", given) if part]
        words.append(word)
        script = (f"source pellicle.bash; COMP_WORDS=({' '.join(map(shlex.quote, words))}); "
                  f"COMP_CWORD={len(words) - 1}; _pellicle; printf '%s\\n' \"${{COMPREPLY[@]}}\"")
        done = subprocess.run(["bash", "--norc", "-c", script], cwd=self.place.name, capture_output=True, text=True,
                              env={**os.environ, "HOME": self.place.name})
        self.assertEqual(done.stderr, "")
        return sorted(line for line in done.stdout.splitlines() if line)

    def test_it_is_tied_to_the_program(self):
        done = subprocess.run(["bash", "--norc", "-c", "source pellicle.bash; complete -p pellicle"],
                              cwd=self.place.name, capture_output=True, text=True, check=True)
        self.assertIn("-F _pellicle pellicle", done.stdout)

    def test_commands_and_options(self):
        self.assertEqual(self.offered("pellicle"), sorted([*self.commands, *self.first_options]))
        self.assertEqual(self.offered("pellicle", "re"), [name for name in self.commands if name.startswith("re")])
        for command, (_, options) in self.of.items():
            self.assertEqual(self.offered(f"pellicle {command}", "-"), sorted(options), command)
        self.assertEqual(self.offered("pellicle run label", "--save"), ["--save-every"])
        self.assertEqual(self.offered("pellicle --completion"), ["bash", "fish"])

    def test_an_option_with_a_value_offers_no_operand(self):
        looked_at = 0
        for command, (operands, options) in self.of.items():
            for option, takes_value in options.items():
                if takes_value and operands:
                    looked_at += 1
                    self.assertNotIn("other.toml", self.offered(f"pellicle {command} {option}"), option)
        self.assertGreater(looked_at, 10)
        folders = ["all", "cut-results", "label", "label-results", "nothing", "two words"]
        self.assertEqual(self.offered("pellicle run label --out"), folders)
        self.assertEqual(self.offered("pellicle run label --out="), folders)
        self.assertEqual(self.offered("pellicle run label --threads"), [])

    def test_cases(self):
        cases = ["all", "label", "other.toml", "two words"]
        for command in ("run", "check", "imprint", "chart"):
            self.assertEqual(self.offered(f"pellicle {command}"), cases, command)
        self.assertEqual(self.offered("pellicle run --threads 2 --out=nothing"), cases)
        self.assertEqual(self.offered("pellicle run --quiet", "la"), ["label"])
        self.assertEqual(self.offered("pellicle run", "label/"), ["label/case.toml"])
        self.assertEqual(self.offered("pellicle run", "~/all/"), ["~/all/inside"])
        self.assertEqual(self.offered("pellicle run label"), [], "one case is enough")

    def test_results_tables_and_problems(self):
        self.assertEqual(self.offered("pellicle resume"), ["all", "cut-results", "label-results"])
        self.assertEqual(self.offered("pellicle export", "label"), ["label-results"])
        tables = self.offered("pellicle calibrate label")
        self.assertIn("grooves.csv", tables)
        self.assertNotIn("mould.stl", tables)
        problems = self.offered("pellicle verify")
        self.assertIn("free-disc-neo-hookean", problems)
        self.assertEqual(self.offered(f"pellicle verify {problems[0]} {problems[1]}"), problems)
        self.assertEqual(self.offered("pellicle schema"), [])


class InFish(Guide):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle fish ")
        Path(cls.place.name, "pellicle.fish").write_text(program("--completion", "fish").stdout)
        small_case.write(os.path.join(cls.place.name, "label"))
        Path(cls.place.name, "other.toml").write_text("")

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    def offered(self, line):
        done = subprocess.run(["fish", "--no-config", "-c", f"source pellicle.fish; complete -C {shlex.quote(line)}"],
                              cwd=self.place.name, capture_output=True, text=True, check=True,
                              env={**os.environ, "HOME": self.place.name, "LC_ALL": "C.UTF-8"})
        self.assertEqual(done.stderr, "")
        return {line.split("\t")[0] for line in done.stdout.splitlines()}

    def test_commands_options_and_cases(self):
        self.assertEqual(self.offered("pellicle "), set(self.commands))
        self.assertGreaterEqual(self.offered("pellicle --"), {o for o in self.first_options if o.startswith("--")})
        for command, (_, options) in self.of.items():
            self.assertEqual(self.offered(f"pellicle {command} -"), set(options), command)
        self.assertGreaterEqual(self.offered("pellicle run "), {"label/", "other.toml"})
        self.assertIn("free-disc-neo-hookean", self.offered("pellicle verify free"))
        self.assertEqual(self.offered("pellicle --completion "), {"bash", "fish"})


class NoWord(unittest.TestCase):
    def told(self, *names):
        with tempfile.TemporaryDirectory(prefix="pellicle-next-") as folder:
            for name in names:
                path = Path(folder, name)
                path.parent.mkdir(exist_ok=True)
                path.write_text("")
            done = program(cwd=folder)
            self.assertEqual((done.returncode, done.stdout), (2, ""))
            self.assertRegex(done.stderr, "^error: no command: found nothing to do; allowed new, run, .*--help\n")
            return [line.split("  ")[1] for line in done.stderr.splitlines() if line.startswith("  ")]

    def test_it_tells_the_way(self):
        way = self.told()
        self.assertEqual([line.split()[:2] for line in way],
                         [["pellicle", word] for word in ("new", "check", "run", "export")])

    def test_what_lies_there_comes_first(self):
        self.assertEqual(self.told("a b/case.toml", "cut/checkpoint.h5", "done/report.html", "done/summary.json")[:5],
                         ["pellicle resume cut", "xdg-open done/report.html", "pellicle export done",
                          "pellicle check 'a b'", "pellicle run 'a b'"])
        self.assertEqual(self.told("case.toml")[:2], ["pellicle check .", "pellicle run ."])

    def test_a_sweep_is_offered_what_it_takes(self):
        vary = '[[vary]]\nkey = "sheet.thickness"\nvalues = ["0.5 mm", "0.75 mm"]\n'
        with tempfile.TemporaryDirectory(prefix="pellicle-next-") as place:
            root = Path(os.path.realpath(place))
            small_case.write(str(root / "tray"), limits=vary)
            (root / "tray" / "manifest.json").write_text("{}")  # others have files of this name

            def told(folder):
                lines = program(cwd=folder).stderr.splitlines()
                here = lines[lines.index("In this folder you can go on with") + 1:]
                return [line.split("  ")[1] for line in here[:here.index("")]]

            self.assertEqual(told(root), ["pellicle sweep tray"])
            self.assertEqual(told(root / "tray"), ["pellicle sweep ."])
            made = program("sweep", "tray", "--out", "gauges", "--scripts", cwd=root)
            self.assertEqual(made.returncode, 0, made.stderr)
            case = shlex.quote(str(root / "tray" / "case.toml"))
            go_on = f"pellicle sweep {case} --out "
            self.assertEqual(told(root), [go_on + "gauges", "pellicle sweep tray"])
            self.assertEqual(told(root / "gauges"), [go_on + "."], "not the cases inside it")
            self.assertEqual(program(*shlex.split(go_on + ".")[1:], "--scripts", cwd=root / "gauges").returncode, 0)
            self.assertEqual(program("sweep", "gauges", "--gather", "--quiet", cwd=root).returncode, 0)
            self.assertEqual(told(root)[:2], ["xdg-open gauges/sweep.html", go_on + "gauges"])


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop())
    unittest.main()
