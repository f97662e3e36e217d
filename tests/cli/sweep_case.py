"""Which sweep do tests run? Twelve little blocks, some seconds each; what is done of it, and what came out."""
import glob
import json
import os
import sys

sys.dont_write_bytecode = True
import small_case

CASES = 12
VARY = """[[vary]]
key    = "sheet.thickness"
values = ["0.5 mm", "0.75 mm", "1 mm"]

[[vary]]
key   = "forming.stage[1].pressure"
from  = "0.5 bar"
to    = "2 bar"
count = 4

"""


def write(folder, vary=VARY, **changes):
    """A case with [[vary]]; `changes` as small_case knows them."""
    return small_case.write(folder, **({"element": "1.4 mm", "duration": "1 s", "limits": vary} | changes))


def cut_off(sweep, most_frames=21):
    """Folders of cases with a checkpoint, which are no longer at their very beginning, nor farther than so many frames."""
    return [folder for folder in glob.glob(os.path.join(sweep, "[0-9]*"))
            if os.path.exists(os.path.join(folder, "results", "checkpoint.h5"))
            and len(glob.glob(os.path.join(folder, "results", "sheet_*.h5"))) <= most_frames]


def done(sweep):
    """Folder of each case that is done, and when its answer was written: a case that runs again changes that."""
    found = {}
    for state in glob.glob(os.path.join(sweep, "[0-9]*", "state.json")):
        with open(state, encoding="utf-8") as file:
            if json.load(file)["state"] == "done":
                folder = os.path.dirname(state)
                found[os.path.basename(folder)] = os.stat(os.path.join(folder, "results", "summary.json")).st_mtime_ns
    return found


def answers(sweep):
    """Bytes of every result file of every case that is done, but what holds seconds; the summary without them."""
    found = {}
    for folder in sorted(done(sweep)):
        results = os.path.join(sweep, folder, "results")
        for name in sorted(os.listdir(results)):
            with open(os.path.join(results, name), "rb") as file:
                content = file.read()
            if name == "summary.json":
                content = json.loads(content)
                del content["seconds"]
            if name != "report.html":
                found[folder, name] = content
    return found
