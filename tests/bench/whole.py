#!/usr/bin/python3
"""How long does the whole program take, against what was wanted of it? Cases as a user runs them, nothing tuned.

    whole.py PROGRAM [ROW ...] [--json] [--plot FILE.png] [--coarser K]

herb-ogden    the herb marker, 1.0 mm all over, Ogden of three terms, two threads
herb-refined  the herb marker refined from its 2.0 mm down to 0.3 mm, two threads
disc          a disc of 200 mm, 1.0 mm all over, Ogden, lowered on a round block and pressed, two threads
million       the same with a million elements; only when asked for
busy          herb-ogden on one thread and on two, beside as many busy processes as there are cores: time of one over
              time of two. Below 1, two threads are slower there; 0.8 or more means that they do not collapse
start         `check` of dome-free, and --version; median of 10
memory        slope of the largest resident memory between two sizes of disc, two threads
growth        five sizes of disc, two threads: power with which the time grows with the elements; --plot draws it

Without ROW all but million. Times are those of the process from start to end, files written, everything a default; the
profile is asked for, to know the share of the membrane pass. Runs of disc, memory and growth that are alike are done
once. Where a run had fewer cores than threads, others were running: do it again. --coarser makes the elements K times
longer, to try the script: the wanted figures then mean nothing, and a disc of more than 4 mm is refused by the program.
"""
import argparse
import contextlib
import functools
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "cases"))
from mould_surface import Surface, lifted, write_stl

OGDEN = """[sheet.law]
kind = "ogden"
mu = ["0.63 MPa", "0.0012 MPa", "-0.01 MPa"]
alpha = [1.3, 5, -2]

"""
DISC = """title = "Disc of 200 mm on a round block"

[sheet]
thickness = "1 mm"
outline   = {{ disc = "200 mm" }}
height    = "22 mm"
density   = "1270 kg/m^3"
element   = "{element:.6g} mm"

{law}[mould]
surface  = "block.stl"
unit     = "mm"
friction = "stick"

[[forming.stage]]
name     = "lower"
duration = "0.4 s"
pressure = "0 bar"
clamp_to = "0 mm"

[[forming.stage]]
name     = "press"
duration = "1 s"
gas      = {{ supply = "4 bar", orifice = "8 mm", chamber = "2 L" }}
"""
MILLION_MM = 0.2694  # equilateral triangles of this edge: a million on the disc
GROWTH_MM = (2.8, 2.0, 1.4, 1.0, 0.7)
MEMORY_MM = (1.4, 1.0)


def circle(radius):
    """Points of a circle, about 2 mm apart."""
    t = np.linspace(0, 2 * np.pi, max(6, round(np.pi * radius)), endpoint=False)
    return radius * np.column_stack([np.cos(t), np.sin(t)])


def block():
    """A round block, mm: 120 across, 18 high, its wall 15 degrees off vertical, its edge round, its top a shallow cap.
    Points and triangles."""
    foot, wall, edge, draft, cap = 60.0, 10.0, 5.0, np.radians(15), np.radians(80)
    centre = np.array([foot - wall * np.tan(draft) - edge * np.cos(draft), wall - edge * np.sin(draft)])
    turn = np.linspace(draft, cap, 12)
    section = [(foot - z * np.tan(draft), z) for z in np.linspace(0, wall, 11)]
    section += [centre + edge * np.array([np.cos(t), np.sin(t)]) for t in turn[1:]]
    end = section[-1]
    radius = end[0] / np.cos(cap)
    section += [(radius * np.cos(t), end[1] + radius * (np.sin(t) - np.sin(cap)))
                for t in np.linspace(cap, np.pi / 2, 28)[1:-1]]
    surface = Surface()
    rings = [surface.add(lifted(circle(r), z)) for r, z in section]
    for outer, inner in zip(rings[:-1], rings[1:]):
        surface.stitch(outer, inner, True)
    surface.fan(rings[-1], surface.add([(0, 0, end[1] + radius * (1 - np.sin(cap)))])[0], True)
    surface.fan(rings[0], surface.add([(0, 0, 0)])[0], False)
    return surface.arrays()


def write_disc(folder, element):
    (folder / "case.toml").write_text(DISC.format(element=element, law=OGDEN))
    write_stl(folder / "block.stl", "round block", *block())


def write_herb(folder, element, fine, law):
    """The herb marker with other elements, and with a law of its own if there is one."""
    shipped = ROOT / "cases" / "herb-marker"
    (folder / "marker.stl").write_bytes((shipped / "marker.stl").read_bytes())
    text = (shipped / "case.toml").read_text()
    for key, value in (("element", element), ("fine_element", fine)):
        text, count = re.subn(rf"(?m)^{key} *=.*$", f'{key} = "{value:.6g} mm"', text)
        assert count == 1, key
    (folder / "case.toml").write_text(text.replace("[mould]", law + "[mould]"))


def timed(program, threads, write, *what):
    """One run of the case that `write` makes: what it took, and what the program says of it."""
    with tempfile.TemporaryDirectory(prefix="pellicle-whole-") as name:
        folder = Path(name)
        (folder / "case").mkdir()
        write(folder / "case", *what)
        command = [program, "run", str(folder / "case"), "--out", str(folder / "out"), "--quiet", "--profile",
                   "--threads", str(threads)]
        with open(folder / "log", "wb") as log:
            start = time.perf_counter()
            child = subprocess.Popen(command, stdout=log, stderr=subprocess.STDOUT)
            _, status, usage = os.wait4(child.pid, 0)
            seconds = time.perf_counter() - start
        child.returncode = os.waitstatus_to_exitcode(status)
        said = (folder / "log").read_text()
        if child.returncode != 0:
            last = (said.strip().splitlines() or ["it said nothing"])[-1]
            raise SystemExit(f"{program} ended with {child.returncode}: {last}")
        summary = json.loads((folder / "out" / "summary.json").read_text())
        return {"threads": threads, "seconds": seconds, "processor_s": usage.ru_utime + usage.ru_stime,
                "elements": summary["final_elements"], "element_updates": summary["element_updates"],
                "updates_per_s": summary["element_updates"] / seconds,
                "steps": {stage["name"]: stage["steps"] for stage in summary["stages"]},
                "membrane_percent": float(re.search(r"(?m)^membrane +\S+ +([\d.]+) %", said)[1]),
                "peak_bytes": 1024 * usage.ru_maxrss}


run = functools.cache(timed)


@contextlib.contextmanager
def busy_cores():
    others = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(os.cpu_count())]
    try:
        yield
    finally:
        for other in others:
            other.kill()
            other.wait()


def result(wanted, measured, runs=(), note=""):
    return {"wanted": wanted, "measured": measured, "note": note, "runs": list(runs)}


def one_run(wanted_s, *case):
    done = run(*case)
    return result(f"{wanted_s} s", f"{done['seconds']:.1f} s", [done])


def herb_ogden(program, coarser):
    return one_run(8, program, 2, write_herb, 1.0 * coarser, 1.0 * coarser, OGDEN)


def herb_refined(program, coarser):
    return one_run(30, program, 2, write_herb, 2.0 * coarser, 0.3 * coarser, "")


def disc(program, coarser):
    return one_run(20, program, 2, write_disc, 1.0 * coarser)


def million(program, coarser):
    return one_run(900, program, 2, write_disc, MILLION_MM * coarser)


def busy(program, coarser):
    case = (write_herb, 1.0 * coarser, 1.0 * coarser, OGDEN)
    quiet = [timed(program, threads, *case) for threads in (1, 2)]
    with busy_cores():
        beside = [timed(program, threads, *case) for threads in (1, 2)]
    one, two = (each["seconds"] for each in beside)
    alone = " and ".join(f"{each['seconds']:.1f}" for each in quiet)
    return result("at least 0.8", f"{one / two:.2f}", quiet + beside,
                  f"one thread {one:.1f} s, two {two:.1f} s beside {os.cpu_count()} busy processes; {alone} s without")


def start(program, coarser):
    def median(*words):
        seconds = []
        for _ in range(10):
            begun = time.perf_counter()
            subprocess.run([program, *words], check=True, stdout=subprocess.DEVNULL)
            seconds.append(time.perf_counter() - begun)
        return statistics.median(seconds)
    check, version = median("check", str(ROOT / "cases" / "dome-free")), median("--version")
    return result("under 0.3 s", f"{check:.2f} s", note=f"check of dome-free; --version takes {version:.2f} s")


def memory(program, coarser):
    runs = [run(program, 2, write_disc, element * coarser) for element in MEMORY_MM]
    small, large = runs
    slope = (large["peak_bytes"] - small["peak_bytes"]) / (large["elements"] - small["elements"])
    return result("not stated", f"{slope / 1000:.2f} GB a million elements", runs,
                  ", ".join(f"{each['peak_bytes'] / 1e6:.0f} MB at {each['elements']}" for each in runs))


def growth(program, coarser):
    runs = [run(program, 2, write_disc, element * coarser) for element in GROWTH_MM]
    return result("about 1.5", f"{fit(runs)[0]:.2f}", runs, "power of time over elements, fitted")


def fit(runs):
    """Power and factor of seconds = factor elements^power, by least squares of the logarithms."""
    power, logarithm = np.polyfit(*(np.log([each[key] for each in runs]) for key in ("elements", "seconds")), 1)
    return power, np.exp(logarithm)


def plot(path, runs):
    import matplotlib
    matplotlib.use("Agg")
    import matplotlib.pyplot as plt
    elements, seconds = (np.array([each[key] for each in runs]) for key in ("elements", "seconds"))
    power, factor = fit(runs)
    figure, axes = plt.subplots(figsize=(6, 4.2), layout="constrained")
    axes.loglog(elements, factor * elements ** power, color="#0072B2", label=f"fit: power {power:.2f}")
    axes.loglog(elements, seconds[0] * (elements / elements[0]) ** 1.5, "--", color="#D55E00", label="power 1.5")
    axes.loglog(elements, seconds, "o", color="black", label="measured")
    axes.set_xticks(elements, [str(count) for count in elements])
    axes.minorticks_off()
    axes.yaxis.set_major_formatter("{x:g}")
    axes.set_xlabel("elements")
    axes.set_ylabel("time of the whole program (s), two threads")
    axes.grid(True, linewidth=0.3)
    axes.legend(frameon=False)
    figure.savefig(path, dpi=150)


ROWS = {"herb-ogden": herb_ogden, "herb-refined": herb_refined, "disc": disc, "million": million, "busy": busy,
        "start": start, "memory": memory, "growth": growth}


def show(name, row):
    print(f"{name}: wanted {row['wanted']}, measured {row['measured']}" + (f" ({row['note']})" if row["note"] else ""))
    for each in row["runs"]:
        steps = ", ".join(f"{stage} {count}" for stage, count in each["steps"].items())
        print(f"  {each['elements']} elements, {each['threads']} thread(s): "
              f"{each['seconds']:.1f} s on {each['processor_s'] / each['seconds']:.1f} cores; steps: {steps}; "
              f"{each['element_updates']:.3g} updates, {each['updates_per_s'] / 1e6:.1f} million/s; "
              f"membrane {each['membrane_percent']:.0f} %")
    sys.stdout.flush()


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("row", nargs="*", metavar="ROW", help=", ".join(ROWS))
    parser.add_argument("--json", action="store_true", help="the result as JSON only")
    parser.add_argument("--plot", metavar="FILE.png", help="draw the row growth")
    parser.add_argument("--coarser", type=float, default=1.0, metavar="K", help="elements K times longer")
    given = parser.parse_args()
    names = given.row or [name for name in ROWS if name != "million"]
    unknown = [name for name in names if name not in ROWS]
    if unknown:
        parser.error(f"no row {unknown[0]!r}; there are {', '.join(ROWS)}")
    if given.plot and "growth" not in names:
        parser.error("--plot draws the row growth, which is not among those asked for")
    if not os.access(given.program, os.X_OK):
        parser.error(f"{given.program} is not a program")
    load, rows = os.getloadavg()[0], {}
    if not given.json:
        print(f"{os.cpu_count()} cores, load average {load:.1f} at the start")
    for name in names:
        rows[name] = ROWS[name](os.path.abspath(given.program), given.coarser)
        if not given.json:
            show(name, rows[name])
    if given.plot:
        plot(given.plot, rows["growth"]["runs"])
    if given.json:
        print(json.dumps({"cores": os.cpu_count(), "load_before": load, "coarser": given.coarser, "rows": rows},
                         indent=1))


if __name__ == "__main__":
    main()
