#!/usr/bin/python3
"""Writes what is measured in docs/verification.md, and its picture, from `pellicle verify` at three mesh sizes.

verification_page.py BIN          runs for some minutes; the text around the tables is written by hand
"""
import json
import math
import os
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
DOCS = os.path.join(HERE, "..", "..", "docs")
PAGE, PICTURE = os.path.join(DOCS, "verification.md"), os.path.join(DOCS, "pictures", "verify_convergence.svg")
BEGIN, END = "<!-- measured: begin, written by tests/verification/verification_page.py -->", "<!-- measured: end -->"
ELEMENTS = (10, 20, 40)


def verify(program, elements):
    ran = subprocess.run([program, "verify", "--elements", str(elements), "--json", "--quiet"], capture_output=True,
                         text=True)
    if ran.returncode not in (0, 4):
        sys.exit(ran.stderr)
    return json.loads(ran.stdout)


def value(x, unit):
    return "" if x is None else f"{x:.5g} {unit}"


def percent(x, signed):
    return f"{100 * x:+.3f} %" if signed else f"{100 * x:.3f} %"


def tables(results):
    finest = results[ELEMENTS[-1]]
    lines = [f"At {ELEMENTS[-1]} elements on the radius: {finest['checks'] - finest['off']} of {finest['checks']} checks "
             "within what is allowed.", "", "| problem | quantity | expected | found | error | allowed |",
             "|---|---|---|---|---|---|"]
    for problem in finest["problems"]:
        for n, c in enumerate(problem["checks"]):
            lines.append("| " + " | ".join([
                f"`{problem['problem']}`" if n == 0 else "", c["name"], value(c["expected"], c["unit"]),
                value(c["found"], c["unit"]), percent(c["error"], c["expected"] is not None),
                f"{100 * c['allowed']:g} %"]) + " |")
    head = " | ".join(f"{n} elements" for n in ELEMENTS)
    lines += ["", "Thickness, rms error, as the elements are halved; the order is that of both halvings together.", "",
              f"| problem | {head} | order |", "|---|" + "---|" * (len(ELEMENTS) + 1)]
    for name, errors in rms_errors(results).items():
        order = math.log(errors[0] / errors[-1]) / math.log(ELEMENTS[-1] / ELEMENTS[0])
        lines.append(f"| `{name}` | " + " | ".join(percent(e, False) for e in errors) + f" | {order:.1f} |")
    return "\n".join(lines)


def rms_errors(results):
    out = {}
    for elements in ELEMENTS:
        for problem in results[elements]["problems"]:
            for c in problem["checks"]:
                if c["name"] == "thickness, rms":
                    out.setdefault(problem["problem"], []).append(c["error"])
    return {name: errors for name, errors in out.items() if len(errors) == len(ELEMENTS)}


def plot(results):
    import matplotlib
    matplotlib.use("svg")
    matplotlib.rcParams["svg.hashsalt"] = "verify"
    from matplotlib import pyplot
    kinds = (("free", "#1b6ca8", "o"), ("sliding", "#b5541c", "s"), ("sticking", "#4b8b3b", "^"))
    figure, panes = pyplot.subplots(1, 3, figsize=(9.5, 3.8), sharey=True, layout="constrained")
    sizes = [1 / n for n in ELEMENTS]
    for (kind, colour, marker), axes in zip(kinds, panes):
        mine = {name: e for name, e in rms_errors(results).items() if name.startswith(kind)}
        for (name, errors), line in zip(mine.items(), ("-", "--", ":", "-.", (0, (1, 3)))):
            axes.loglog(sizes, [100 * e for e in errors], marker=marker, color=colour, linestyle=line,
                        label=name[len(kind) + 1:])
        axes.loglog(sizes, [0.4 * (s / sizes[0]) ** 2 for s in sizes], color="0.6", linewidth=1)
        axes.annotate("order 2", (sizes[1], 0.4 * (sizes[1] / sizes[0]) ** 2), color="0.4", fontsize=8,
                      xytext=(4, -10), textcoords="offset points")
        axes.set(xlabel="element / radius", title=kind)
        axes.set_xticks(sizes, [f"1/{n}" for n in ELEMENTS])
        axes.minorticks_off()
        axes.legend(frameon=False, fontsize=7)
    panes[0].set_ylabel("thickness, rms error, %")
    figure.savefig(PICTURE, metadata={"Date": None, "Creator": None})


if __name__ == "__main__":
    measured = {n: verify(sys.argv[1], n) for n in ELEMENTS}
    plot(measured)
    with open(PAGE) as page:
        text = page.read()
    before, rest = text.split(BEGIN)
    with open(PAGE, "w") as page:
        page.write(before + BEGIN + "\n" + tables(measured) + "\n" + END + rest.split(END)[1])
