#!/usr/bin/python3
"""Do the links of the documents lead somewhere? Relative links and anchors of every .md file; the web is not asked."""
import re
import sys
import tempfile
from pathlib import Path
from urllib.parse import unquote

import checkout

LINK = re.compile(r"\[[^\]]*\]\(\s*<?([^)\s>]+)>?(?:\s+\"[^\"]*\")?\s*\)")
CODE = re.compile(r"^(```|~~~).*?^\1\s*$|`[^`\n]*`", re.M | re.S)
ELSEWHERE = re.compile(r"[a-z][a-z0-9+.-]*:", re.I)  # https:, mailto:


def without_code(text):
    """Blanks code, keeping line numbers."""
    return CODE.sub(lambda m: re.sub(r"[^\n]", " ", m[0]), text)


def anchors(text):
    """The names a reader's browser gives to headings: lower case, no punctuation, dashes for blanks."""
    found, seen = set(), {}
    for title in re.findall(r"^#+\s+(.+?)\s*#*$", re.sub(r"^(```|~~~).*?^\1\s*$", "", text, flags=re.M | re.S), re.M):
        name = re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-")
        count = seen.get(name, 0)
        seen[name] = count + 1
        found.add(f"{name}-{count}" if count else name)
    return found


def check(root=checkout.ROOT):
    faults, looked_at = [], 0
    for path in checkout.files(root):
        if not path.endswith(".md"):
            continue
        original = (root / path).read_text()
        text = without_code(original)
        for match in LINK.finditer(text):
            target = unquote(match[1])
            if ELSEWHERE.match(target):
                continue
            looked_at += 1
            line = text.count("\n", 0, match.start()) + 1
            file, _, anchor = target.partition("#")
            if file.startswith("/"):
                faults.append(f"{path}:{line}: {target}: give the way from this file, not from the root")
                continue
            there = (root / path).parent / file if file else root / path
            if not there.exists():
                faults.append(f"{path}:{line}: {target}: no such file")
            elif anchor and there.suffix == ".md" and anchor not in anchors(there.read_text()):
                faults.append(f"{path}:{line}: {target}: no such heading")
    return faults, looked_at


def self_test():
    good = {"README.md": "# Top\n[a](docs/a.md#first-part-2) [web](https://x.org/none) `[no](none.md)`\n"
                         "```\n[no](none.md)\n```\n[here](#top) [folder](docs)\n",
            "docs/a.md": "## First part, 2\n[up](../README.md)\n"}
    bad = [("[x](none.md)\n", "no such file"), ("[x](docs/a.md#second)\n", "no such heading"),
           ("[x](#none)\n", "no such heading"), ("[x](/docs/a.md)\n", "not from the root"),
           ("text `code`\n[x](none.md)\n", "DEVELOPERS.md:2")]
    for text, word in [(None, None), *bad]:
        with tempfile.TemporaryDirectory() as folder:
            root = Path(folder)
            (root / "docs").mkdir()
            for name, content in (good | ({"DEVELOPERS.md": text} if text else {})).items():
                (root / name).write_text(content)
            faults, _ = check(root)
            if text:
                checkout.expect_fault(faults, word, text)
            elif faults:
                sys.exit(f"self-test: documents in order have faults {faults}")
    print(f"self-test: {len(bad)} seeded faults found")
    return 0


if __name__ == "__main__":
    sys.exit(self_test() if "--self-test" in sys.argv else checkout.report(*check(), "links"))
