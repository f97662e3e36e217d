#!/usr/bin/python3
"""Is the checkout tidy? Agreed names at the top, nothing unfinished, a first line that says what a file is for."""
import re
import sys
import tempfile
from pathlib import Path

import checkout

TOP = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "LICENSE", "solver", "mesh", "io", "tests", "cases", "docs"}
VAGUE = {"util", "utils", "common", "helper", "helpers", "misc", "cmake"}  # a folder is named after what it knows
LARGEST_BYTES = 2 * 2**20
BINARY = (".stl", ".png", ".h5", ".3mf", ".step", ".ply")

# Written in pieces so that this file passes its own check.
UNFINISHED = re.compile(r"\b(" + "|".join(["TO" + "DO", "FIX" + "ME", "X" + "XX\\b", "GTEST_" + "SKIP", "DIS" + "ABLED_"])
                        + r")")
# A folder of one person's machine. System folders such as /usr/bin are the same everywhere.
MACHINE = re.compile(r"(?<![\w./])/(" + "|".join(["home", "root", "work", "Users", "mnt", "srv", "opt", "build"])
                     + r")/\w|\b[A-Z]:\\\w")
DISABLED = ("GTEST_" + "SKIP", "DIS" + "ABLED_")


def faults_of_text(path, text):
    for number, line in enumerate(text.splitlines(), 1):
        if match := UNFINISHED.search(line):
            word = match[1]
            what = "a skipped test has not passed" if word in DISABLED else "unfinished"
            yield f"{path}:{number}: {word}: {what}"
        if match := MACHINE.search(line):
            yield f"{path}:{number}: path of one machine: {match[0]}"
    if path.endswith((".h", ".cpp")) and not text.startswith("// "):
        yield f"{path}:1: does not open with a // line that says which question it answers"


def check(root=checkout.ROOT):
    faults, looked_at = [], 0
    for path in checkout.files(root):
        looked_at += 1
        parts = path.split("/")
        if parts[0] not in TOP and not parts[0].startswith("."):
            faults.append(f"{path}: name at the top outside the agreed list")
        if VAGUE & set(parts[:-1]):
            faults.append(f"{path}: folder name says nothing about what is inside")
        if (root / path).stat().st_size > LARGEST_BYTES:
            faults.append(f"{path}: larger than 2 MiB")
        if parts[-1] == "LICENSE" or path.endswith(BINARY):
            continue
        try:
            text = (root / path).read_text(encoding="utf-8")
        except UnicodeDecodeError:
            faults.append(f"{path}: neither UTF-8 text nor a known kind of binary file")
            continue
        faults += faults_of_text(path, text)
    return faults, looked_at


def self_test():
    good = {"README.md": "See /usr/bin and a/home/b, or https://x.org/work/y.\n", "mesh/a.h": "// What is a?\n",
            ".ci/run": "#!/usr/bin/env bash\n", "LICENSE": "any\n"}
    bad = [
        ("notes.txt", b"x\n", "agreed list"),
        ("scratch/a.h", b"// x\n", "agreed list"),
        ("io/util/a.h", b"// x\n", "says nothing"),
        ("mesh/b.h", b"#pragma once\n", "does not open"),
        ("mesh/b.cpp", b"// x\n// TO" + b"DO later\n", "unfinished"),
        ("docs/a.md", b"FIX" + b"ME\n", "unfinished"),
        ("tests/a_test.cpp", b"// x\nGTEST_" + b"SKIP();\n", "has not passed"),
        ("docs/b.md", b"run /ho" + b"me/me/x\n", "path of one machine"),
        ("docs/c.md", b"C:" + b"\\x\n", "path of one machine"),
        ("cases/a.csv", b"\xff\xfe\n", "neither UTF-8"),
        ("cases/a.stl", b"\0" * (LARGEST_BYTES + 1), "larger"),
    ]
    for path, content, word in [(None, None, None), *bad]:
        with tempfile.TemporaryDirectory() as folder:
            root = Path(folder)
            for name, text in good.items():
                (root / name).parent.mkdir(parents=True, exist_ok=True)
                (root / name).write_text(text)
            if path:
                (root / path).parent.mkdir(parents=True, exist_ok=True)
                (root / path).write_bytes(content)
            faults, _ = check(root)
            if path:
                checkout.expect_fault(faults, word, path)
            elif faults:
                sys.exit(f"self-test: a tree in order has faults {faults}")
    print(f"self-test: {len(bad)} seeded faults found")
    return 0


if __name__ == "__main__":
    sys.exit(self_test() if "--self-test" in sys.argv else checkout.report(*check(), "files"))
