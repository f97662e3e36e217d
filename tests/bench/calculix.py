#!/usr/bin/python3
"""How long does a general-purpose finite element library take for the same dome? CalculiX shells against the program.

    calculix.py PROGRAM [--elements N] [--threads 1|2] [--minutes M] [--json]

The problem: a flat clamped disc, neo-hookean, blown by pressure to a stretch of 1.2 at its pole, sheet and material of
square_ccx_test.py; the exact height is that of tests/data/ref_circular_membrane_inflation.csv. Both compute the whole
disc, and both must be within 0.1 % of that height. The time is that of the whole process: `ccx` from reading its deck
to its last line, with its default solver and OMP_NUM_THREADS as --threads; `PROGRAM run` with everything a default
(guards, ledger, 20 frames on disk) and --threads.

Two comparisons, for either alone would be unfair. With as many elements: N shells of four nodes (S4) against N
triangles. With as few as 0.1 % allows: CalculiX does best with few quadratic shells (S8R), the program with few
triangles.

CalculiX is asked as well as we know how: pressure grows with the cube of time, because height goes with the cube root
of pressure; increments are automatic, the first and the largest such that few iterations are needed. Shells of three
nodes and S4R miss 0.1 %, and its iterative solver is slower. If it takes longer than M minutes (10), N is halved until
it does not, for both; what it would have taken is not guessed.
"""
import argparse
import csv
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "verification"))
from square_ccx_test import BULK_MPA, DATA, HALF_MM, MODULUS_MPA, THICK_MM, case_text

POLE_STRETCH, ALLOWED = 1.2, 0.001
FEW_SHELLS, FEW_TRIANGLES = 64, 2000  # found by trial: half as many triangles, or a third of the shells, miss 0.1 %


def exact():
    """Pressure in MPa and height of the pole in mm."""
    with open(os.path.join(DATA, "ref_circular_membrane_inflation.csv")) as text:
        rows = csv.DictReader(line for line in text if not line.startswith("#"))
        row = next(r for r in rows if float(r["alpha"]) == 0 and float(r["lambda_pole"]) == POLE_STRETCH)
    pressure = float(row["P_a_over_mu_h0"]) * MODULUS_MPA * THICK_MM / HALF_MM
    return pressure, float(row["dome_height_over_a"]) * HALF_MM


def disc(elements, quadratic):
    """Quadrilaterals on the disc: a square block of n x n in the middle, m rings of 4 n around it. Returns the points,
    the points of each element counted from 1 (corners, then middles of sides), those on the rim, and the pole."""
    n = 2 * round(np.sqrt(elements) / 4)
    m = round((elements / n - n) / 4)
    step = 2 if quadratic else 1
    across, out = n * step, m * step
    number, points = {}, []

    def at(i, j):
        """In the block; its sides bulge, so that angles stay near right ones."""
        u, v = 2 * i / across - 1, 2 * j / across - 1
        bulged = u * np.sqrt(1 - v * v / 2), v * np.sqrt(1 - u * u / 2)
        return HALF_MM * (0.25 * np.array([u, v]) + 0.2 * np.array(bulged))

    def block(i, j):
        if (i, j) not in number:
            points.append(at(i, j))
            number[i, j] = len(points)
        return number[i, j]

    def ring(k, q):
        """The k-th point outwards from the q-th on the sides of the block, counter-clockwise."""
        side, along = divmod(q % (4 * across), across)
        i, j = ((along, 0), (across, along), (across - along, across), (0, across - along))[side]
        if k == 0:
            return block(i, j)
        key = ("ring", k, q % (4 * across))
        if key not in number:
            angle = (q / (2 * across) - 0.75) * np.pi
            rim = HALF_MM * np.array([np.cos(angle), np.sin(angle)])
            points.append(at(i, j) + (rim - at(i, j)) * k / out)
            number[key] = len(points)
        return number[key]

    corners = [(0, 0), (step, 0), (step, step), (0, step)]
    places = corners + ([(1, 0), (2, 1), (1, 2), (0, 1)] if quadratic else [])
    cells = [[block(i + a, j + b) for a, b in places] for j in range(0, across, step) for i in range(0, across, step)]
    cells += [[ring(k + a, q + b) for a, b in places] for k in range(0, out, step) for q in range(0, 4 * across, step)]
    rim = [number["ring", out, q] for q in range(4 * across) if ("ring", out, q) in number]
    return points, cells, rim, number[across // 2, across // 2]


def write_deck(path, elements, kind, pressure_mpa):
    """The deck; how many elements it has."""
    points, cells, rim, pole = disc(elements, kind == "S8R")
    lines = ["*NODE, NSET=ALL", *(f"{k + 1}, {x:.12g}, {y:.12g}, 0." for k, (x, y) in enumerate(points)),
             f"*ELEMENT, TYPE={kind}, ELSET=SHEET", *(", ".join(map(str, [k + 1, *c])) for k, c in enumerate(cells)),
             "*NSET, NSET=RIM", *map(str, rim), "*NSET, NSET=POLE", str(pole),
             "*MATERIAL, NAME=RUBBER", "*HYPERELASTIC, NEO HOOKE", f"{MODULUS_MPA / 2}, {2 / BULK_MPA}",
             "*SHELL SECTION, ELSET=SHEET, MATERIAL=RUBBER", str(THICK_MM), "*BOUNDARY", "RIM, 1, 3",
             "*AMPLITUDE, NAME=CUBE", *(f"{t:.2f}, {t ** 3:.6f}" for t in np.linspace(0, 1, 101)),
             "*STEP, NLGEOM, INC=1000", "*STATIC", "0.02, 1., 1e-6, 0.04", "*DLOAD, AMPLITUDE=CUBE",
             f"SHEET, P, {pressure_mpa:.12g}", "*NODE PRINT, NSET=POLE, FREQUENCY=1000", "U", "*END STEP", ""]
    path.write_text("\n".join(lines))
    return len(cells)


def processor_s():
    """Of all processes that ended so far."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def calculix(elements, kind, threads, limit_s):
    """One run; no seconds and no height if it took too long."""
    with tempfile.TemporaryDirectory(prefix="pellicle-ccx-") as name:
        folder = Path(name)
        done = {"code": "CalculiX " + kind, "height_mm": None, "seconds": None, "processor_s": None,
                "elements": write_deck(folder / "dome.inp", elements, kind, exact()[0])}
        start, used = time.perf_counter(), processor_s()
        try:
            ran = subprocess.run(["ccx", "dome"], cwd=folder, capture_output=True, text=True, timeout=limit_s,
                                 env={**os.environ, "OMP_NUM_THREADS": str(threads)})
        except subprocess.TimeoutExpired:
            return done
        done["seconds"], done["processor_s"] = time.perf_counter() - start, processor_s() - used
        if ran.returncode != 0:
            raise SystemExit(f"ccx did not come through with {done['elements']} elements: exit {ran.returncode}")
        printed = [line.split() for line in (folder / "dome.dat").read_text().splitlines()]
        (pole,) = [words for words in printed if len(words) == 4]
        done["height_mm"] = abs(float(pole[3]))
        return done


def pellicle(program, elements, threads):
    edge_mm = np.sqrt(4 * np.pi * HALF_MM ** 2 / (np.sqrt(3) * elements))  # of equilateral triangles
    with tempfile.TemporaryDirectory(prefix="pellicle-dome-") as name:
        folder = Path(name)
        (folder / "case.toml").write_text(case_text(f'disc = "{2 * HALF_MM} mm"', edge_mm, exact()[0]))
        command = [program, "run", str(folder), "--out", str(folder / "out"), "--quiet", "--threads", str(threads)]
        start, used = time.perf_counter(), processor_s()
        ran = subprocess.run(command, capture_output=True, text=True)
        seconds, used = time.perf_counter() - start, processor_s() - used
        if ran.returncode != 0:
            raise SystemExit(f"{program} ended with {ran.returncode}: {ran.stderr.strip()}")
        with open(folder / "out" / "history.csv") as rows:
            height = float(list(csv.DictReader(rows))[-1]["apex_mm"])
        made = json.loads((folder / "out" / "summary.json").read_text())["final_elements"]
    return {"code": "pellicle", "height_mm": height, "seconds": seconds, "processor_s": used, "elements": made}


def compare(what, program, theirs, triangles, threads):
    ours = pellicle(program, triangles, threads)
    for each in (theirs, ours):
        each["error"] = each["height_mm"] / exact()[1] - 1
    return {"what": what, "calculix": theirs, "program": ours, "ratio": theirs["seconds"] / ours["seconds"]}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--elements", type=int, default=10000, metavar="N")
    parser.add_argument("--threads", type=int, default=1, choices=(1, 2))
    parser.add_argument("--minutes", type=float, default=10, metavar="M", help="longest a CalculiX run may take")
    parser.add_argument("--json", action="store_true", help="the result as JSON only")
    given = parser.parse_args()
    program = os.path.abspath(given.program)
    if not os.access(program, os.X_OK):
        parser.error(f"{given.program} is not a program")
    if given.elements < FEW_TRIANGLES:
        parser.error(f"--elements {given.elements}: {FEW_TRIANGLES} or more, with fewer the program misses 0.1 %")
    if not shutil.which("ccx"):
        raise SystemExit("ccx is missing: install the package calculix-ccx")

    load = os.getloadavg()[0]
    elements, too_long = given.elements, []
    while (theirs := calculix(elements, "S4", given.threads, 60 * given.minutes))["seconds"] is None:
        too_long.append(theirs["elements"])
        elements //= 2
        if elements < FEW_TRIANGLES:
            raise SystemExit(f"CalculiX takes longer than {given.minutes:g} min even with {too_long[-1]} elements")
    rows = [compare("as many elements", program, theirs, elements, given.threads),
            compare("as few as 0.1 % allows", program, calculix(FEW_SHELLS, "S8R", given.threads, None), FEW_TRIANGLES,
                    given.threads)]

    if given.json:
        print(json.dumps({"threads": given.threads, "load_before": load, "exact_height_mm": exact()[1],
                          "asked_elements": given.elements, "longer_than_limit_elements": too_long,
                          "comparisons": rows}, indent=1))
    else:
        print(f"height of the pole {exact()[1]:.4f} mm by the equations; {given.threads} thread(s), load average "
              f"{load:.1f} at the start")
        for count in too_long:
            print(f"CalculiX took longer than {given.minutes:g} min with {count} elements")
        for row in rows:
            print(row["what"])
            for each in (row["calculix"], row["program"]):
                print(f"  {each['code']:13} {each['elements']:6} elements  {each['height_mm']:8.4f} mm  "
                      f"{100 * each['error']:+.3f} %  {each['seconds']:8.2f} s, "
                      f"of processor {each['processor_s']:.2f} s")
            print(f"  CalculiX takes {row['ratio']:.1f} times as long")
    for row in rows:
        for each in (row["calculix"], row["program"]):
            if abs(each["error"]) > ALLOWED:
                raise SystemExit(f"{each['code']} with {each['elements']} elements is {100 * each['error']:+.3f} % off "
                                 "in height: more than 0.1 %, so the times compare nothing")


if __name__ == "__main__":
    main()
