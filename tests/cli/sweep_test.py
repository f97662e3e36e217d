#!/usr/bin/python3
"""Is every case of a sweep done once, whatever befalls it? A pool that is killed, stopped, started twice, given a case that
fails; and the table and page at the end.

sweep_test.py PROGRAM
"""
import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import report_test  # noqa: E402
import small_case  # noqa: E402
import sweep_case  # noqa: E402

PROGRAM = ""
# The clamp's middle height lies inside the block, which is 4 mm high: only the geometry tells, not the parser.
FAILS = '[[vary]]\nkey = "sheet.height"\nvalues = ["5 mm", "2 mm", "6 mm"]\n\n'


def read(*parts):
    with open(os.path.join(*parts), encoding="utf-8") as file:
        return file.read()


def children_of(process):
    """Ids of the programs a pool has started."""
    found = []
    for name in os.listdir("/proc"):
        try:
            if name.isdigit() and int(read("/proc", name, "stat").rpartition(")")[2].split()[1]) == process:
                found.append(int(name))
        except OSError:
            continue  # it has ended
    return found


class Sweep(unittest.TestCase, small_case.Refusals):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle-sweep-")
        cls.addClassCleanup(cls.place.cleanup)
        cls.root = cls.place.name
        cls.case = sweep_case.write(os.path.join(cls.root, "block"))
        cls.calm = os.path.join(cls.root, "calm")
        done = cls.run_program("sweep", cls.case, "--out", cls.calm, "--quiet", "--jobs", "2", "--threads", "1")
        assert done.returncode == 0, done.stderr
        cls.expected = sweep_case.answers(cls.calm)

    @classmethod
    def run_program(cls, *words):
        return subprocess.run([PROGRAM, *words], cwd=cls.root, text=True, capture_output=True, timeout=600)

    def begin(self, out, case=None):
        return subprocess.Popen([PROGRAM, "sweep", case or self.case, "--out", out, "--jobs", "2", "--threads", "1",
                                 "--save-every", "0 s"], cwd=self.root, text=True, stdout=subprocess.DEVNULL,
                                stderr=subprocess.PIPE)

    def wait(self, holds, what):
        end = time.monotonic() + 300
        while not holds():
            self.assertLess(time.monotonic(), end, what)
            time.sleep(0.02)

    def until(self, out, process, done):
        def holds():
            self.assertIsNone(process.poll(), "the pool ended before it was to be disturbed")
            return os.path.isdir(out) and len(sweep_case.done(out)) >= done and sweep_case.cut_off(out, 12)
        self.wait(holds, f"{done} cases done and one at work")

    def test_killed_twice_and_gone_on_with(self):
        out = os.path.join(self.root, "killed")
        before = {}
        for done, with_children in ((3, False), (7, True)):
            process = self.begin(out)
            self.until(out, process, max(done, len(before) + 1))
            children = children_of(process.pid)
            process.kill()
            for child in children if with_children else []:
                os.kill(child, signal.SIGKILL)
            process.communicate(timeout=60)
            # Of a pool that is killed alone the system tells the children: they save what they have and end.
            self.wait(lambda: not any(os.path.exists(f"/proc/{child}") for child in children), "no orphan is left")
            now = sweep_case.done(out)
            self.assertGreater(len(now), len(before))
            self.assertLess(len(now), sweep_case.CASES - 2, "a kill that comes too late shows nothing")
            self.assertEqual({folder: now[folder] for folder in before}, before)
            self.assertTrue(sweep_case.cut_off(out), "something is cut off in the middle")
            before = now
        done = self.run_program("sweep", self.case, "--out", out, "--jobs", "2", "--threads", "1")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn(f"{len(before)} were done before", done.stderr)
        now = sweep_case.done(out)
        self.assertEqual(len(now), sweep_case.CASES)
        self.assertEqual({folder: now[folder] for folder in before}, before, "done cases are not run again")
        found = sweep_case.answers(out)
        self.assertGreater(len(found), 20 * sweep_case.CASES)
        self.assertEqual(found.keys(), self.expected.keys())
        for name, content in self.expected.items():
            self.assertTrue(found[name] == content, name)
        # What was killed left nothing behind.
        self.assertEqual([name for _, _, names in os.walk(out) for name in names if name.endswith(".tmp")], [])

    def test_a_signal_stops_it_with_checkpoints(self):
        for kind in (signal.SIGTERM, signal.SIGINT):
            out = os.path.join(self.root, f"stopped-{kind.name}")
            process = self.begin(out)
            self.until(out, process, 1)
            process.send_signal(kind)
            _, stderr = process.communicate(timeout=120)
            self.assertEqual(process.returncode, 130, stderr)
            self.assertIn("To go on give the same command again", stderr)
            states = [row["state"] for row in csv.DictReader(read(out, "manifest.csv").splitlines())]
            self.assertEqual(len(states), sweep_case.CASES)
            self.assertIn("stopped", states)
            self.assertIn("waiting", states)
            for index, state in enumerate(states, 1):
                if state == "stopped":
                    self.assertTrue(os.path.exists(os.path.join(out, f"{index:03}", "results", "checkpoint.h5")))
            one = states.index("stopped") + 1
            for _ in range(2):  # the second time there is nothing to do
                done = self.run_program("run", self.case, "--case-index", str(one), "--out", out, "--quiet")
                self.assertEqual(done.returncode, 0, done.stderr)
            self.assertIn("is done", done.stdout)
            folder = f"{one:03}"
            found = {name: content for name, content in sweep_case.answers(out).items() if name[0] == folder}
            self.assertEqual(found, {name: content for name, content in self.expected.items() if name[0] == folder})

    def test_two_at_once_are_refused(self):
        out = os.path.join(self.root, "twice")
        process = self.begin(out)
        self.until(out, process, 0)
        self.refused(self.run_program("sweep", self.case, "--out", out), 2, "another sweep that is at work")
        self.assertIsNone(process.poll())
        process.terminate()
        process.communicate(timeout=120)

    def test_a_case_that_fails_stops_no_other(self):
        case = sweep_case.write(os.path.join(self.root, "low"), vary=FAILS, element="3 mm", duration="0.5 s")
        out = os.path.join(self.root, "fails")
        done = self.run_program("sweep", case, "--out", out, "--quiet")
        self.assertEqual(done.returncode, 3, "that of the case: " + done.stderr)
        self.assertIn("2 of 3 cases done, 1 failed, 0 to do", done.stdout)
        state = json.loads(read(out, "002", "state.json"))
        self.assertEqual((state["state"], state["exit_code"]), ("failed", 3))
        self.assertIn("sheet.height", state["error"])
        self.assertIn(state["error"], done.stdout)
        moments = sweep_case.done(out)
        self.assertEqual(sorted(moments), ["001", "003"])
        failed = os.stat(os.path.join(out, "002", "state.json")).st_mtime_ns
        again = self.run_program("sweep", case, "--out", out, "--quiet")
        self.assertEqual((again.returncode, again.stdout), (3, done.stdout))
        self.assertEqual(os.stat(os.path.join(out, "002", "state.json")).st_mtime_ns, failed, "not run again")
        self.refused(self.run_program("run", case, "--case-index", "2", "--out", out), 3, "failed before", "--retry")
        retried = self.run_program("sweep", case, "--out", out, "--quiet", "--retry")
        self.assertEqual(retried.returncode, 3, retried.stderr)
        self.assertGreater(os.stat(os.path.join(out, "002", "state.json")).st_mtime_ns, failed)
        self.assertEqual(sweep_case.done(out), moments)
        rows = list(csv.DictReader(read(out, "sweep.csv").splitlines()))
        self.assertEqual([row["state"] for row in rows], ["done", "failed", "done"])
        self.assertEqual([row["sheet.height_mm"] for row in rows], ["5", "2", "6"])
        self.assertEqual(rows[1]["error"], state["error"])
        self.assertEqual(rows[1]["thinnest_wall_mm"], "")
        page = read(out, "sweep.html")
        self.assertIn("Could not be computed", page)

    def test_table_and_page_say_what_the_reports_say(self):
        rows = list(csv.DictReader(read(self.calm, "sweep.csv").splitlines()))
        self.assertEqual(len(rows), sweep_case.CASES)
        checked = 0
        for row in rows:
            summary = json.loads(read(self.calm, row["folder"], "results", "summary.json"))
            for finding in summary["findings"]:
                column = next(name for name in row if name == finding["id"] or name.startswith(finding["id"] + "_"))
                self.assertAlmostEqual(float(row[column]), finding["value"], delta=1e-8 * abs(finding["value"]) + 1e-12)
                self.assertEqual(row[finding["id"] + "_verdict"], finding["verdict"])
                checked += 1
        self.assertGreater(checked, 8 * sweep_case.CASES)
        # Three gauges, each at four pressures; the last key changes fastest.
        self.assertEqual([(row["sheet.thickness_mm"], row["forming.stage[1].pressure_bar"]) for row in rows],
                         [(gauge, bar) for gauge in ("0.5", "0.75", "1") for bar in ("0.5", "1", "1.5", "2")])
        text = read(self.calm, "sweep.html")
        reader = report_test.Reader(text)
        self.assertEqual(reader.faults, [])
        self.assertEqual(len(reader.ids), len(set(reader.ids)))
        found = report_test.addresses(reader, text)
        inside = [address for address in found if not address.strip("'\" ").startswith(("#", "data:"))]
        self.assertGreaterEqual(len(inside), sweep_case.CASES)
        for address in inside:
            self.assertTrue(os.path.exists(os.path.join(self.calm, address)), address)
            self.assertRegex(address, r"^\d{3}/results/report\.html$")
        words = " ".join(" ".join(reader.texts).split())
        self.assertIn("What follows what was varied", words)
        self.assertIn("How thin does the wall get, and where?", words)
        self.assertIn("relief valve", words)
        self.assertGreaterEqual(text.count("<svg "), 8)
        self.assertLess(len(text), report_test.MOST_BYTES)

    def test_gathered_again_it_is_the_same(self):
        before = {name: read(self.calm, name) for name in ("sweep.csv", "sweep.html", "manifest.csv")}
        for name in before:
            os.remove(os.path.join(self.calm, name))
        done = self.run_program("sweep", self.calm, "--gather", "--json")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual({name: read(self.calm, name) for name in before}, before)
        cases = json.loads(done.stdout)["cases"]
        self.assertEqual([case["index"] for case in cases], list(range(1, sweep_case.CASES + 1)))
        self.refused(self.run_program("sweep", self.case, "--gather"), 2, "no manifest.json", "--out DIR")

    def test_resolved_case_runs_from_anywhere(self):
        for number in (1, 12):
            case = os.path.join(self.root, f"elsewhere-{number}")
            shutil.copytree(os.path.join(self.calm, f"{number:03}"), case, ignore=shutil.ignore_patterns("results"))
            done = self.run_program("check", case, "--json")
            self.assertEqual(done.returncode, 0, done.stderr)
            values = {value["key"]: value["value"] for value in json.loads(done.stdout)["values"]}
            self.assertEqual(values["forming.stage[1].pressure"], {1: "0.5 bar", 12: "2 bar"}[number])
            self.assertEqual(values["sheet.thickness"], {1: "0.5 mm", 12: "1 mm"}[number])
            self.assertIn("Small block", json.loads(done.stdout)["title"])

    def refused_case(self, vary, *words, exit_code=2):
        case = sweep_case.write(os.path.join(self.root, "bad"), vary=vary)
        out = os.path.join(self.root, "never")
        self.refused(self.run_program("sweep", case, "--out", out), exit_code, *words)
        self.assertFalse(os.path.exists(out), "nothing is begun")

    def test_what_is_wrong_is_told_before_anything_runs(self):
        vary = '[[vary]]\nkey = "{}"\n{}\n'
        line = small_case.CASE.format(**small_case.DEFAULTS, ).split("[numerics]")[0].count("\n")
        self.refused_case(vary.format("sheet.thickness", 'values = ["0.5 mm", "50 mm"]'), "in case 2 of the sweep",
                          "sheet.thickness 50 mm", "0.02 mm to 10 mm", f"case.toml:{line + 2}")
        self.refused_case(vary.format("sheet.thicknes", 'values = ["0.5 mm"]'), "Did you mean sheet.thickness?")
        self.refused_case(vary.format("forming.stage.pressure", 'values = ["1 bar"]'), "stage without a number",
                          "forming", "stage[1]")
        self.refused_case(vary.format("forming.stage[2].pressure", 'values = ["1 bar"]'), "number 2 of stage", "1 to 1")
        self.refused_case(vary.format("sheet.thickness", "values = []"), "vary[1].values")
        self.refused_case(vary.format("sheet.thickness", 'values = "1 mm"'), "vary[1].values", "Write for example")
        self.refused_case(vary.format("sheet.thickness", ""), "no values", "from, to and count")
        self.refused_case(vary.format("sheet.thickness", 'values = ["1 mm", "1 mm"]'), "1 mm twice")
        self.refused_case(vary.format("sheet.thickness", 'value = ["1 mm"]'), "Did you mean values?")
        self.refused_case(vary.format("sheet.thickness", 'from = "1 mm"\nto = "2 bar"\ncount = 3'), "vary[1].to", "bar")
        self.refused_case(vary.format("sheet.thickness", 'from = "1 mm"\nto = "2 mm"\ncount = 1'), "vary[1].count",
                          "2 to 1000")
        self.refused_case(vary.format("mould.friction", 'from = "stick"\nto = 0.5\ncount = 2'), "vary[1].from", "values")
        self.refused_case(vary.format("sheet.thickness", 'values = ["1 mm"]') * 2, "again")
        self.refused_case(vary.format("vary", 'values = ["1 mm"]'), "unknown key")
        many = "values = [" + ", ".join(f'"{i / 1000} mm"' for i in range(100, 250)) + "]"
        self.refused_case(vary.format("sheet.thickness", many) + vary.format("sheet.height", many) , "10000")
        self.refused(self.run_program("sweep", small_case.write(os.path.join(self.root, "plain"))), 2, "no [[vary]]")
        for command in ("run", "check", "imprint", "chart"):
            self.refused(self.run_program(command, self.case), 2, "a sweep of 12 cases", "pellicle sweep",
                         "--case-index N")
        for index, words in (("0", ()), ("13", ("1 to 12",)), ("x", ())):
            done = self.run_program("run", self.case, "--case-index", index, "--out", self.calm)
            self.refused(done, 2, "--case-index", *words)

    def test_folders_of_others_are_left_alone(self):
        other = os.path.join(self.root, "other")
        os.makedirs(other)
        with open(os.path.join(other, "letter.txt"), "w", encoding="utf-8") as file:
            file.write("Dear")
        self.refused(self.run_program("sweep", self.case, "--out", other), 2, "files of others")
        self.assertEqual(os.listdir(other), ["letter.txt"])
        # The mould of a sweep that is under way is drawn anew: its cases would not belong together.
        case = sweep_case.write(os.path.join(self.root, "redrawn"), vary=FAILS)
        out = os.path.join(self.root, "redrawn-sweep")
        self.assertEqual(self.run_program("sweep", case, "--out", out, "--scripts").returncode, 0)
        small_case.write_stl(os.path.join(case, "block.stl"), small_case.block(top=8.0))
        self.refused(self.run_program("sweep", case, "--out", out, "--scripts"), 2, "a sweep of another case")
        small_case.write_stl(os.path.join(case, "block.stl"), small_case.block())
        self.assertEqual(self.run_program("sweep", case, "--out", out, "--scripts").returncode, 0)

    def test_gnu_parallel_runs_it_and_reruns_what_failed_alone(self):
        self.assertTrue(shutil.which("parallel"), "not installed: apt-get install parallel")
        # A name that a shell would take apart.
        case = sweep_case.write(os.path.join(self.root, "it's \"low\" $HOME"), vary=FAILS, element="3 mm",
                                duration="0.5 s")
        out = os.path.join(self.root, "par'allel out")
        laid = self.run_program("sweep", case, "--out", out, "--scripts", "--jobs", "2")
        self.assertEqual(laid.returncode, 0, laid.stderr)
        self.assertEqual(sweep_case.done(out), {})
        script = os.path.join(out, "parallel.sh")
        done = subprocess.run(["sh", script], text=True, capture_output=True, timeout=300)
        self.assertEqual(done.returncode, 1, "one job failed, says parallel: " + done.stderr)
        moments = sweep_case.done(out)
        self.assertEqual(sorted(moments), ["001", "003"])
        log = list(csv.DictReader(read(out, "parallel.log").splitlines(), delimiter="\t"))
        self.assertEqual({row["Seq"]: row["Exitval"] for row in log}, {"1": "0", "2": "3", "3": "0"})
        subprocess.run(["sh", script], capture_output=True, timeout=300)
        log = list(csv.DictReader(read(out, "parallel.log").splitlines(), delimiter="\t"))
        self.assertEqual([row["Seq"] for row in log].count("2"), 2, "that one alone is tried again")
        self.assertEqual(sweep_case.done(out), moments)
        self.assertEqual(subprocess.run(["bash", "-n", os.path.join(out, "slurm.sh")]).returncode, 0)


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(verbosity=2)
