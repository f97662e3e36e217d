#!/usr/bin/python3
"""Does the README give the same cautions as the program? The table is io/results/cautions.h."""
import re
import sys

import checkout


def briefs(header):
    """The short text of every row: the first string after each opening brace."""
    rows = header[header.index("kCautions{"):]
    return ["".join(re.findall(r'"([^"]*)"', first)) for first in re.findall(r'\{((?:\s*"[^"]*")+)\s*,', rows)]


def check(header, readme):
    found = briefs(header)
    return [f"README.md lacks: {brief}" for brief in found if brief not in readme], len(found)


def self_test():
    header = 'kCautions{{\n {"Hot: gloves.",\n "Hot sheet."},\n {"Gas: "\n "shield.", "Gas."},\n}};'
    assert check(header, "Hot: gloves. Gas: shield.") == ([], 2)
    checkout.expect_fault(check(header, "Hot: gloves.")[0], "Gas: shield.", "a caution left out")
    print("self-test: 1 seeded fault found")
    return 0


if __name__ == "__main__":
    if "--self-test" in sys.argv:
        sys.exit(self_test())
    texts = [(checkout.ROOT / name).read_text() for name in ("io/results/cautions.h", "README.md")]
    sys.exit(checkout.report(*check(*texts), "cautions"))
