# Which files belong to the project? What git tracks or would track; shared by the repository checks.
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def files(root=ROOT):
    """Sorted paths relative to root. Without a repository (an unpacked archive): all files but build and results."""
    # A checkout may belong to another user than the one who tests it (containers): say so for this one command.
    command = ["git", "-c", "safe.directory=*", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    if (root / ".git").exists():
        listed = subprocess.run(command, cwd=root, check=True, capture_output=True, text=True).stdout.split("\0")
    else:
        listed = []
        for folder, inside, names in os.walk(root):
            inside[:] = [d for d in inside if not d.endswith("-results") and Path(folder, d) != root / "build"]
            listed += [Path(folder, n).relative_to(root).as_posix() for n in names]
    return sorted(f for f in set(listed) if f and (root / f).is_file() and "__pycache__" not in f)


def report(faults, looked_at, what):
    """Prints the faults; the exit code. A check that looked at nothing has not passed."""
    for fault in faults:
        print(fault)
    if not looked_at:
        print(f"nothing was checked: no {what} found")
        return 1
    print(f"{looked_at} {what} checked, {len(faults)} faults")
    return 1 if faults else 0


def expect_fault(faults, word, name):
    """For self-tests: the seeded fault, and nothing else, was found."""
    if len(faults) != 1 or word not in faults[0]:
        sys.exit(f"self-test '{name}': expected one fault with {word!r}, found {faults}")
