#!/usr/bin/env bash
# Is all C++ formatted as .clang-format says? --self-test shows that the check can fail.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."

if ! command -v clang-format >/dev/null; then
  echo "clang-format is missing: bash .ci/install test" >&2
  exit 1
fi

if [[ ${1:-} == --self-test ]]; then
  if echo 'int  a ;' | clang-format --dry-run --Werror --style=file --assume-filename=mesh/a.h 2>/dev/null; then
    echo "self-test: a badly formatted line passed" >&2
    exit 1
  fi
  echo 'int a;' | clang-format --dry-run --Werror --style=file --assume-filename=mesh/a.h
  echo "self-test: 1 seeded fault found"
  exit 0
fi

mapfile -t files < <(/usr/bin/python3 -c '
import sys
sys.path.insert(0, "tests/scripts")
sys.dont_write_bytecode = True
import checkout
print(*[f for f in checkout.files() if f.endswith((".h", ".cpp"))], sep="\n")')
if [[ ${#files[@]} -lt 1 || -z ${files[0]} ]]; then
  echo "nothing was checked: no C++ files found" >&2
  exit 1
fi
if ! clang-format --dry-run --Werror --style=file "${files[@]}"; then
  echo "To mend: clang-format -i on the files above." >&2
  exit 1
fi
echo "${#files[@]} files are formatted"
