#!/usr/bin/python3
"""Do includes follow the plan? Rooms depend in one direction, heavy headers stay in their files.

The tables below are DEVELOPERS.md, "Which room may use which", in a form that can fail.
"""
import re
import sys
import tempfile
from pathlib import Path

import checkout

TOP = {"mesh": {"mesh"}, "solver": {"solver", "mesh"}, "io": {"io", "solver", "mesh"},
       "tests": {"tests", "io", "solver", "mesh"}}

RESULT = "solver/forming/forming_result.h"  # what forming hands on; the rest of the room is its own business
# A room of solver may include itself and these: rooms, or single files.
ROOMS = {
    "air": set(),
    "reference": set(),
    "sheet": {"mesh"},
    "mould": {"mesh"},
    "forming": {"solver/sheet", "solver/mould", "solver/air", "mesh"},
    "imprint": {RESULT, "solver/sheet", "solver/air", "mesh"},
    "checks": {RESULT, "solver/imprint", "solver/mould", "solver/sheet", "solver/air", "mesh"},
    "fit": {"solver/sheet", "solver/imprint", "mesh"},
}

# Header that costs seconds or brings a licence, and the files that may include it.
HEAVY = {
    r"gmsh\.h(_cwrap)?|gmshc\.h": r"(mesh/(gmsh_session|step_surface)|tests/.*/step_(file|fuzz))\w*\.(h|cpp)",
    r"hdf5(_hl)?\.h|H5.*\.h(pp)?": r"io/results/(frames|checkpoint|h5)\w*\.(h|cpp)",
    r"toml\+\+/.*|toml\.hpp": r"io/case/.*",
    r"Model/COM/.*|Common/.*|lib3mf.*": r"(io|tests/io)/moulds/threemf\w*\.cpp",
    r"CLI/.*|CLI11\.hpp": r"io/main\.cpp",
    r"png.*\.h": r"io/(reliefs/image|report/png)\.cpp|tests/io/reliefs/png_file\.h|tests/io/report/png_test\.cpp",
    r"ft2build\.h|freetype.*": r"(io/reliefs/font|tests/io/reliefs/text_test)\.cpp",
    r"fftw3.*": r"solver/imprint/layer_operator\w*\.cpp",
}
# The solver opens no file and prints nothing.
MUTE = r"iostream|fstream|ostream|istream|cstdio|stdio\.h|filesystem|fmt/(os|ostream|color)\.h"

STANDARD = r"[a-z_0-9]+"  # <vector>, <cmath>: no dot, no folder
LIGHT = STANDARD + r"|Eigen/\w+"  # what a header of mesh or solver may bring along

INCLUDE = re.compile(r'^\s*#\s*include\s*(?:"([^"]+)"|<([^>]+)>)', re.M)


def room_of(path):
    """The room of a file inside solver; None for case, run and whatever else lies at its top."""
    parts = path.split("/")
    return parts[1] if parts[0] == "solver" and len(parts) > 2 else None


def fault_of_own(path, included, root):
    """An include of our own code, in quotes."""
    if not (root / included).is_file():
        return "not a file, seen from the top of the checkout"
    top, target = path.split("/")[0], included.split("/")[0]
    if target not in TOP.get(top, set()):
        return f"{top} may not use {target}"
    room = room_of(path)
    if room is None:
        return None
    if room not in ROOMS:
        return f"solver/{room} has no entry in the table of rooms"
    if room_of(included) == room:
        return None
    if not any(included == allowed or included.startswith(allowed + "/") for allowed in ROOMS[room]):
        return f"solver/{room} may not use {included}"
    return None


def fault_of_foreign(path, included):
    """An include of a library or of the standard library, in angle brackets."""
    for header, allowed in HEAVY.items():
        if re.fullmatch(header, included) and not re.fullmatch(allowed, path):
            return f"only in {allowed}".replace("\\", "")
    top = path.split("/")[0]
    if top == "solver" and re.fullmatch(MUTE, included):
        return "the solver opens no file and prints nothing"
    if top == "tests":
        return None
    room = room_of(path)
    if room is not None and not ROOMS.get(room, {"?"}) and not re.fullmatch(STANDARD, included):
        return f"solver/{room} depends on nothing"
    if top in ("mesh", "solver") and path.endswith(".h") and not re.fullmatch(LIGHT, included):
        return "headers of mesh and solver bring Eigen and the standard library only"
    return None


def check(root=checkout.ROOT):
    faults, looked_at = [], 0
    for path in checkout.files(root):
        if not path.endswith((".h", ".cpp")) or path.split("/")[0] not in TOP:
            continue
        looked_at += 1
        text = (root / path).read_text()
        for match in INCLUDE.finditer(text):
            own, foreign = match.groups()
            fault = fault_of_own(path, own, root) if own else fault_of_foreign(path, foreign)
            if fault:
                line = text.count("\n", 0, match.start(own and 1 or 2)) + 1
                faults.append(f"{path}:{line}: includes {own or foreign}: {fault}")
    return faults, looked_at


def self_test():
    good = {
        "mesh/a.h": "#include <Eigen/Core>\n#include <vector>\n",
        "mesh/gmsh_session.cpp": '#include "mesh/a.h"\n#include <gmsh.h>\n',
        "solver/case.h": '#include "solver/sheet/s.h"\n',
        "solver/run.cpp": '#include "solver/checks/c.h"\n#include "solver/forming/gas.h"\n',
        "solver/air/throat.h": "#include <cmath>\n",
        "solver/sheet/s.h": '#include "mesh/a.h"\n',
        "solver/mould/m.h": '#include "mesh/a.h"\n',
        "solver/forming/gas.h": '#include "solver/air/throat.h"\n#include "solver/sheet/s.h"\n',
        "solver/forming/forming_result.h": "#include <vector>\n",
        "solver/checks/c.h": '#include "solver/forming/forming_result.h"\n',
        "solver/checks/c.cpp": '#include "solver/checks/c.h"\n#include <fmt/core.h>\n',
        "solver/reference/cone.h": "#include <functional>\n",
        "io/main.cpp": '#include <CLI/CLI.hpp>\n#include "solver/run.h"\n',
        "solver/run.h": "\n",
        "io/results/h5_file.cpp": "#include <hdf5.h>\n",
        "io/case/parse.cpp": "#include <toml++/toml.h>\n",
        "tests/solver/t_test.cpp": '#include <gtest/gtest.h>\n#include "solver/run.h"\n',
    }
    bad = {
        "mesh/b.h": ('#include "solver/run.h"\n', "mesh may not use solver"),
        "solver/run.cpp": ('#include "io/case/parse.h"\n', "solver may not use io"),
        "solver/sheet/t.cpp": ('#include "solver/mould/m.h"\n', "solver/sheet may not use"),
        "solver/mould/t.cpp": ('#include "solver/sheet/s.h"\n', "solver/mould may not use"),
        "solver/forming/t.cpp": ('#include "solver/checks/c.h"\n', "solver/forming may not use"),
        "solver/imprint/t.cpp": ('#include "solver/forming/gas.h"\n', "solver/imprint may not use"),
        "solver/checks/t.cpp": ('#include "solver/forming/gas.h"\n', "solver/checks may not use"),
        "solver/fit/t.cpp": ('#include "solver/air/throat.h"\n', "solver/fit may not use"),
        "solver/reference/t.h": ('#include "mesh/a.h"\n', "solver/reference may not use"),
        "solver/air/t.h": ("#include <Eigen/Core>\n", "depends on nothing"),
        "solver/extra/t.h": ('#include "mesh/a.h"\n', "no entry in the table"),
        "solver/forming/u.cpp": ("#include <iostream>\n", "prints nothing"),
        "solver/forming/u.h": ("#include <fmt/core.h>\n", "bring Eigen"),
        "mesh/c.cpp": ("\n  #  include <gmsh.h>\n", "only in (mesh/(gmsh_session"),
        "io/results/summary.cpp": ("#include <hdf5.h>\n", "only in io/results/"),
        "io/moulds/load.cpp": ("#include <Model/COM/NMR_DLLInterfaces.h>\n", "only in (io"),
        "io/commands/run.cpp": ("#include <toml++/toml.h>\n", "only in io/case"),
        "io/commands/check.cpp": ("#include <CLI/CLI.hpp>\n", "only in io/main.cpp"),
        "solver/imprint/press.cpp": ("#include <fftw3.h>\n", "only in solver/imprint/layer_operator"),
        "mesh/d.cpp": ('#include "a.h"\n', "not a file"),
    }
    good["io/case/parse.h"] = "\n"
    for name, seeded in [("a tree in order", None), *bad.items()]:
        with tempfile.TemporaryDirectory() as folder:
            root = Path(folder)
            for path, text in (good | ({name: seeded[0]} if seeded else {})).items():
                (root / path).parent.mkdir(parents=True, exist_ok=True)
                (root / path).write_text(text)
            faults, _ = check(root)
            if seeded:
                checkout.expect_fault(faults, seeded[1], name)
            elif faults:
                sys.exit(f"self-test: a tree in order has faults {faults}")
    print(f"self-test: {len(bad)} seeded faults found")
    return 0


if __name__ == "__main__":
    sys.exit(self_test() if "--self-test" in sys.argv else checkout.report(*check(), "source files"))
