#!/usr/bin/python3
"""Is docs/case_reference.md what the program prints today? A changed key must change the page with it."""
import argparse
import difflib
import subprocess
import sys
from pathlib import Path


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--program", required=True)
    options.add_argument("--page", required=True, type=Path)
    given = options.parse_args()
    printed = subprocess.run([given.program, "schema", "--markdown"], check=True, capture_output=True).stdout.decode()
    if len(printed.splitlines()) < 100:
        sys.exit("the program prints next to nothing")
    page = given.page.read_text(encoding="utf-8")
    if page != printed:
        diff = difflib.unified_diff(page.splitlines(), printed.splitlines(), str(given.page), "schema --markdown", lineterm="")
        print("\n".join(list(diff)[:40]))
        sys.exit(f"out of date: pellicle schema --markdown > {given.page.name}")
    print(f"{len(page.splitlines())} lines agree")


main()
