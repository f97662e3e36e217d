#!/usr/bin/python3
"""Does the script of a result open it in ParaView? Headless: a picture with the sheet in its fixed colours.

open_script_test.py BIN
"""
import os
import re
import signal
import subprocess
import sys
import tempfile

import h5py
import matplotlib.image
import numpy

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "cli"))
import small_case  # noqa: E402

RELIEF = """
[[relief]]
name = "word"
source = { text = "I", size = "3 mm", depth = "0.3 mm" }
grid = "0.05 mm"
state = { thickness = "0.5 mm", shear_modulus = "100 MPa", pressure = "1 bar" }
"""


def said_by(command, folder, environment):
    """What a command says that needs a display. On a busy machine the display now and then fails or never answers."""
    said = "nothing in three minutes, three times"
    for _ in range(3):
        process = subprocess.Popen(command, cwd=folder, env=environment, stdout=subprocess.PIPE,
                                   stderr=subprocess.STDOUT, text=True, start_new_session=True)
        try:
            said = process.communicate(timeout=180)[0]
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)  # and the display it has started
            process.communicate()
            continue
        if "bad X server connection" not in said:
            break
    return said


def opened(script, picture, folder):
    """Runs the script without a display, from another folder."""
    without = {key: value for key, value in os.environ.items() if key != "DISPLAY"}
    said = said_by(["pvpython", script, picture], folder, without)
    assert "written: " + picture in said, said
    return matplotlib.image.imread(picture)[..., :3]


def near(picture, colour, within):
    return float((numpy.abs(picture - numpy.array(colour)).max(axis=2) < within).mean())


def check_formed(program, place):
    case = small_case.write(os.path.join(place, "block"), frames=4)
    with open(os.path.join(case, "case.toml"), "a", encoding="utf-8") as file:
        file.write(RELIEF)
    out = os.path.join(place, "kräuter results")
    subprocess.run([program, "run", case, "--out", out, "--quiet"], check=True, stdout=subprocess.DEVNULL)
    script = os.path.join(out, "open.py")
    with open(script, encoding="utf-8") as file:
        text = file.read()
    low, high = map(float, re.search(r'"thickness \(mm\)": \(([^,]+), ([^)]+)\)', text).groups())
    last = sorted(name for name in os.listdir(out) if re.fullmatch(r"sheet_\d+\.h5", name))[-1]
    with h5py.File(os.path.join(out, last)) as file:
        thickness = file["node/thickness_mm"][:]
    assert low <= thickness.min() + 1e-6 and high >= thickness.max() - 1e-6, (low, high, thickness.min())
    picture = opened(script, os.path.join(place, "picture.png"), place)
    assert picture.shape[:2] == (800, 1200)
    spread = picture.max(axis=2) - picture.min(axis=2)
    assert float((spread > 0.1).mean()) > 0.3, "the sheet is in the picture"
    # Both ends of the colours: dark blue of thin or closed places, yellow of thick ones, dimmed by the light.
    assert float(((picture[..., 2] - picture[..., 0]) > 0.2).mean()) > 0.01, "dark blue"
    assert float(((picture[..., 0] - picture[..., 2]) > 0.2).mean()) > 0.01, "yellow"
    # Without its files it says so.
    os.remove(os.path.join(out, "mould.xdmf"))
    # A display of its own: that of the picture may still be closing, and xvfb-run would take it for free.
    said = said_by(["xvfb-run", "-a", "-n", "120", "pvpython", script, os.path.join(place, "none.png")], place, None)
    assert "found no" in said and not os.path.exists(os.path.join(place, "none.png")), said


def check_relief_alone(program, place):
    case = os.path.join(place, "relief")
    os.makedirs(case)
    with open(os.path.join(case, "case.toml"), "w", encoding="utf-8") as file:
        file.write('title = "Word"\n' + RELIEF)
    out = os.path.join(place, "relief-results")
    subprocess.run([program, "imprint", case, "--out", out, "--quiet"], check=True, stdout=subprocess.DEVNULL)
    picture = opened(os.path.join(out, "open.py"), os.path.join(place, "relief.png"), place)
    assert float(((picture.max(axis=2) - picture.min(axis=2)) > 0.1).mean()) > 0.02, "the relief is seen"
    assert near(picture, (1, 1, 1), 0.02) > 0.2, "on white"


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    program = os.path.abspath(sys.argv[1])
    with tempfile.TemporaryDirectory(prefix="pellicle-open-") as place:
        check_formed(program, place)
        check_relief_alone(program, place)
    print("open.py: 2 results opened")


main()
