#!/usr/bin/python3
"""Does a shipped case still answer what it should? Runs it and compares with its expected.toml.

Each [[expect]] has `quantity`, `reason` and either `value` with `tolerance` (absolute, same unit), or `at_least` and/or
`at_most`. Quantities:
  finding:ID            value of that finding in summary.json
  summary:KEY           a number of summary.json (elements, steps, ...); KEY/KEY for one inside another
  history:COLUMN        history.csv; take = "last" (default), "min", "max", "largest" (largest magnitude)
  sheet:/DATASET        the last frame; take = "min", "max", "mean", "near" (node nearest to flat_mm = [x, y])
  frames                how many sheet_*.h5 there are
  page:MB, page:seconds size of report.html, and how long it took: open.py is written just before
A quantity that is not there, is not a number, or has nothing to be compared with, fails.
"""
import argparse
import csv
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

import h5py
import numpy as np

# Datasets in which NaN means "does not apply here" (docs/result_format.md); anywhere else it is a failure.
MAY_BE_NAN = {"/node/gap_mm", "/node/touched_s", "/node/finest_radius_mm", "/node/capture_depth_0.2mm_stroke_mm",
              "/node/capture_depth_0.5mm_stroke_mm", "/node/capture_depth_1.0mm_stroke_mm"}
KEYS = {"quantity", "value", "tolerance", "at_least", "at_most", "reason", "take", "flat_mm"}


def reduced(values, take, may_be_nan=False):
    values = np.asarray(values, float)
    missing = np.isnan(values)
    if missing.any() and not may_be_nan:
        raise ValueError(f"{missing.sum()} of {values.size} are not a number")
    values = values[~missing]
    if values.size == 0:
        raise ValueError("no number in it")
    match take:
        case "last": return values[-1]
        case "min": return values.min()
        case "max": return values.max()
        case "mean": return values.mean()
        case "largest": return np.abs(values).max()
    raise ValueError(f"take = {take!r} is not known")


def measure(entry, results):
    """The number that the result folder holds for one entry."""
    quantity = entry["quantity"]
    kind, _, name = quantity.partition(":")
    if kind == "frames" and not name:
        return float(len(list(results.glob("sheet_*.h5"))))
    if kind == "page":
        page = (results / "report.html").stat()
        return {"MB": page.st_size / 1e6, "seconds": page.st_mtime - (results / "open.py").stat().st_mtime}[name]
    if kind in ("finding", "summary"):
        summary = json.loads((results / "summary.json").read_text())
        if kind == "summary":
            for key in name.split("/"):
                summary = summary[key]
            return float(summary)
        found = [f for f in summary["findings"] if f["id"] == name]
        if len(found) != 1:
            raise ValueError(f"{len(found)} findings of that id")
        return float(found[0]["value"])
    if kind == "history":
        with (results / "history.csv").open(newline="") as file:
            column = [row[name] for row in csv.DictReader(file)]
        values = [float(c) if c else math.nan for c in column]  # empty: balance before any work
        return float(reduced(values, entry.get("take", "last"), name == "balance"))
    if kind == "sheet":
        last = max(results.glob("sheet_*.h5"))
        with h5py.File(last) as file:
            values = file[name][()]
            if entry["take"] == "near":
                flat = file["/node/flat_mm"][()]
                return float(values[np.argmin(np.linalg.norm(flat - np.array(entry["flat_mm"]), axis=1))])
            return float(reduced(values, entry["take"], name in MAY_BE_NAN))
    raise ValueError("no quantity of that kind")


def fault_of(entry, results):
    """(what was found, why the entry fails or None)."""
    unknown = set(entry) - KEYS
    if unknown:
        return "-", f"unknown key {sorted(unknown)}"
    if not entry.get("reason"):
        return "-", "no reason given"
    has_value = "value" in entry and "tolerance" in entry
    if not has_value and "at_least" not in entry and "at_most" not in entry:
        return "-", "nothing to compare with: give value and tolerance, at_least or at_most"
    if "value" in entry and "tolerance" not in entry:
        return "-", "a value without a tolerance"
    try:
        found = measure(entry, results)
    except (KeyError, ValueError, TypeError, OSError) as error:
        return "-", f"not in the results ({type(error).__name__}: {error})"
    shown = f"{found:.6g}"
    if not math.isfinite(found):
        return shown, "not a number"
    if has_value and not abs(found - entry["value"]) <= entry["tolerance"]:
        return shown, f"expected {entry['value']:g} +- {entry['tolerance']:g}"
    if "at_least" in entry and not found >= entry["at_least"]:
        return shown, f"expected at least {entry['at_least']:g}"
    if "at_most" in entry and not found <= entry["at_most"]:
        return shown, f"expected at most {entry['at_most']:g}"
    return shown, None


def compare(expected, results):
    """Prints a line an entry; returns how many fail. No entry at all is a failure."""
    entries = expected.get("expect", [])
    if not entries:
        print("FAIL: expected.toml has no [[expect]]")
        return 1
    failed = 0
    for entry in entries:
        found, fault = fault_of(entry, results)
        failed += fault is not None
        take = f" ({entry['take']})" if "take" in entry else ""
        print(f"{'FAIL' if fault else 'ok  '} {entry.get('quantity', '?')}{take}: {found}" +
              (f"; {fault}; tolerance because: {entry.get('reason')}" if fault else ""))
    return failed


def run_case(program, folder, threads):
    expected = tomllib.loads((folder / "expected.toml").read_text())
    work = Path(tempfile.mkdtemp(prefix=f"pellicle-{folder.name}-"))
    results = work / "results"
    command = [program, "run", str(folder), "--out", str(results), "--threads", str(threads), "--quiet"]
    ran = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    if ran.returncode != 0:
        print(ran.stdout, ran.stderr, f"FAIL: {' '.join(command)} ended with {ran.returncode}", sep="\n")
        return 1
    failed = compare(expected, results)
    if failed:
        print(f"{failed} failed; results kept in {results}")
    else:
        shutil.rmtree(work)
    return failed


def self_test():
    """Every way an entry can fail is seeded once into a small result folder; a good entry must pass."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "summary.json").write_text(json.dumps({"elements": 7, "findings": [
            {"id": "thinnest_wall", "value": 0.25}, {"id": "tear", "value": None},
            {"id": "webs", "value": 1}, {"id": "webs", "value": 2}]}))
        (folder / "history.csv").write_text("step,apex_mm,balance\n0,0,\n1,5,-0.03\n2,4,0.01\n")
        with h5py.File(folder / "sheet_0001.h5", "w") as file:
            file["/node/flat_mm"] = np.array([[0, 0], [1, 0]], "f4")
            file["/node/thickness_mm"] = np.array([0.5, 0.75], "f4")
            file["/node/temperature_C"] = np.array([np.nan, 20], "f4")
            file["/node/touched_s"] = np.array([np.nan, np.nan], "f4")
        (folder / "open.py").write_text("")
        (folder / "report.html").write_text("x" * 3_000_000)
        os.utime(folder / "open.py", (100, 100))
        os.utime(folder / "report.html", (101.5, 101.5))
        size = {"quantity": "page:MB", "at_most": 3, "reason": "r"}
        pace = {"quantity": "page:seconds", "at_most": 1.5, "reason": "r"}
        thin = {"quantity": "finding:thinnest_wall", "value": 0.25, "tolerance": 0.01, "reason": "r"}
        near = {"quantity": "sheet:/node/thickness_mm", "take": "near", "flat_mm": [0.9, 0], "value": 0.75,
                "tolerance": 0, "reason": "r"}
        balance = {"quantity": "history:balance", "take": "largest", "at_most": 0.04, "reason": "r"}
        good = [thin, near, balance, size, pace,
                {"quantity": "history:apex_mm", "value": 4, "tolerance": 0, "reason": "r"},
                {"quantity": "history:apex_mm", "take": "max", "at_least": 5, "reason": "r"},
                {"quantity": "summary:elements", "value": 7, "tolerance": 0, "reason": "r"},
                {"quantity": "frames", "value": 1, "tolerance": 0, "reason": "r"}]
        bad = [thin | {"value": 0.27}, thin | {"reason": ""}, thin | {"toleranz": 1}, thin | {"quantity": "finding:none"},
               thin | {"quantity": "finding:tear"}, thin | {"quantity": "finding:webs"}, thin | {"quantity": "lunch"},
               {k: v for k, v in thin.items() if k != "value"}, {k: v for k, v in thin.items() if k != "tolerance"},
               thin | {"value": math.nan}, near | {"flat_mm": [0, 0]}, near | {"quantity": "sheet:/node/none"},
               near | {"take": "median"}, near | {"quantity": "sheet:/node/temperature_C", "take": "max"}, near | {"quantity": "sheet:/node/touched_s", "take": "max"},
               near | {"quantity": "sheet:/node/touched_s"}, balance | {"at_most": 0.02},
               balance | {"quantity": "history:none"}, size | {"at_most": 2.9}, size | {"quantity": "page:words"},
               pace | {"at_most": 1.4}, {**balance, "at_least": 0.5}]
        for entry in good:
            assert fault_of(entry, folder)[1] is None, f"failed, but should not: {entry}: {fault_of(entry, folder)}"
        for entry in bad:
            assert fault_of(entry, folder)[1] is not None, f"passed, but should not: {entry}"
        assert compare({}, folder) == 1, "an empty file passed"
        print(f"self-test: {len(good)} pass, {len(bad) + 1} fail, as they should")
    return 0


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--self-test", action="store_true", help="show that the comparison can fail")
    options.add_argument("--program", help="the pellicle binary")
    options.add_argument("--case", type=Path, help="folder with case.toml and expected.toml")
    options.add_argument("--threads", type=int, default=2)
    given = options.parse_args()
    if given.self_test:
        return self_test()
    if not given.program or not given.case:
        options.error("--program and --case are needed")
    return 1 if run_case(given.program, given.case, given.threads) else 0


if __name__ == "__main__":
    sys.exit(main())
