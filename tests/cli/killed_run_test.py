#!/usr/bin/python3
"""Is everything readable that a killed run left? kill -9 at 20 moments, some of them inside a write.

killed_run_test.py BIN

A moment is inside a write when a *.tmp file is still there after the kill: the program renames each file when it is
whole. A sheet of small elements makes those moments long enough to be hit; the test fails if it hits none.
"""
import csv
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time

import h5py

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import small_case  # noqa: E402

KILLS = 20
HUNTED = 10  # of these, how many wait for a *.tmp file before they strike
DATASETS = ["/points_mm", "/triangles", "/node/flat_mm", "/node/thickness_mm", "/node/stretch_1", "/node/stretch_2",
            "/node/gap_mm", "/node/contact_pressure_MPa", "/node/touched_s", "/node/temperature_C",
            "/node/finest_radius_mm", "/node/capture_depth_0.2mm_stroke_mm", "/node/capture_depth_0.5mm_stroke_mm",
            "/node/capture_depth_1.0mm_stroke_mm", "/triangle/thickness_mm", "/triangle/wrinkle"]
COLUMNS = 21


def tmp_files(folder):
    try:
        return [entry.name for entry in os.scandir(folder) if entry.name.endswith(".tmp")]
    except FileNotFoundError:
        return []


def check_frames(folder):
    """Number of frames in the index, each read in full."""
    index = os.path.join(folder, "sheet.xdmf")
    if not os.path.exists(index):
        return 0
    with open(index, encoding="utf-8") as file:
        text = file.read()
    assert text.endswith("</Xdmf>\n"), "the index is cut"
    names = sorted(set(re.findall(r">([^<:]+\.h5):/", text)))
    assert len(names) == text.count("<Time "), "a frame of the index has no file of its own"
    for name in names:
        with h5py.File(os.path.join(folder, name), "r") as frame:
            nodes, triangles = len(frame["/points_mm"]), len(frame["/triangles"])
            for dataset in DATASETS:
                length = len(frame[dataset][...])
                expected = triangles if dataset.startswith("/tri") else nodes
                assert length == expected, f"{name}:{dataset} has {length} rows, not {expected}"
    return len(names)


def check_history(folder):
    path = os.path.join(folder, "history.csv")
    if not os.path.exists(path):
        return 0
    with open(path, newline="", encoding="utf-8") as file:
        text = file.read()
    assert text.endswith("\n"), "history.csv is cut"
    rows = list(csv.reader(text.splitlines()))
    assert all(len(row) == COLUMNS for row in rows), "a row of history.csv is cut"
    for row in rows[1:]:
        [float(cell) for k, cell in enumerate(row) if k != 2 and cell]
    return len(rows) - 1


def kill_once(program, case, out, moment_s, hunt, others):
    """Starts a run and kills it; returns what was being written."""
    process = subprocess.Popen([program, "run", case, "--quiet", "--out", out], stdout=subprocess.DEVNULL,
                               stderr=subprocess.PIPE)
    start = time.monotonic()
    try:
        while time.monotonic() - start < moment_s and process.poll() is None:
            time.sleep(0.001)
        # Alternate between the kinds of file that are hunted, or big frames would be the only catch.
        while hunt and process.poll() is None:
            found = tmp_files(out)
            if any(re.search(hunt, name) for name in found):
                break
        assert process.poll() is None, f"the run ended before it was killed: {process.stderr.read().decode()}"
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stderr.close()
    others.append(time.monotonic() - start)
    return tmp_files(out)


def main(program):
    random.seed(1)
    inside, with_frames = 0, 0
    place = tempfile.mkdtemp(prefix="pellicle-kill-")
    # Long enough to outlive every moment, frames often enough to be hit, big enough to take a while.
    case = small_case.write(os.path.join(place, "case"), element="0.5 mm", duration="5 s", frames=2000)
    out, times = os.path.join(place, "results"), []
    for k in range(KILLS):
        hunt = (r"sheet_\d+\.h5", r"sheet\.xdmf|history")[k % 2] if k < HUNTED else ""
        moment_s = random.uniform(0.2, 4.0)
        caught = kill_once(program, case, out, moment_s, hunt, times)
        frames, rows = check_frames(out), check_history(out)
        print(f"kill {k + 1:2} at {times[-1]:.3f} s: {frames} frames and {rows} rows readable; "
              f"{'inside ' + caught[0] if caught else 'between writes'}", flush=True)
        inside += bool(caught)
        with_frames += frames > 0
        if k == 0:  # what a kill leaves is ours: --force takes it, and the next run starts clean
            small_case.write(os.path.join(place, "quick"))
            subprocess.run([program, "run", os.path.join(place, "quick"), "--quiet", "--force", "--out", out], check=True,
                           stdout=subprocess.DEVNULL)
            assert not tmp_files(out), tmp_files(out)
        shutil.rmtree(out, ignore_errors=True)
    assert inside >= 3, f"only {inside} kills were inside a write: the test would prove nothing"
    assert with_frames >= KILLS // 2, f"only {with_frames} kills left a frame"
    shutil.rmtree(place)
    print(f"{KILLS} kills, {inside} inside a write, {with_frames} with frames: all readable")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(os.path.abspath(sys.argv[1]))
