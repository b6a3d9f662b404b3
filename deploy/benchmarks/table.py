"""Runs every benchmark and prints the table; writes var/bench.json."""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import asdict

from deploy.benchmarks import hosts, looking_up, one_sweep, recomputing, releasing, resident, storing
from deploy.benchmarks.run import running
from deploy.benchmarks.timing import Figure
from deploy.environment import ROOT
from deploy.virtualenv import say

SIZES = (1_000, 100_000, 1_000_000)
QUICK_SIZES = (300, 1_000)
FILE = ROOT / "var" / "bench.json"
SUBJECTS = {
    "one-sweep": one_sweep.figures,
    "recompute": recomputing.figures,
    "store": storing.figures,
    "look-up": looking_up.figures,
    "release": releasing.figures,
    "memory": resident.figures,
    "hosts": hosts.figures,
}


def main() -> int:
    parser = argparse.ArgumentParser(prog="deploy/bench", description=__doc__, allow_abbrev=False)
    parser.add_argument("--quick", action="store_true", help="small data, under a minute")
    parser.add_argument("--sizes", help="numbers of tests of the data sets, with commas between them")
    parser.add_argument("subjects", nargs="*", choices=[[], *SUBJECTS], help="only these; all by default")
    options = parser.parse_args()
    given = options.sizes and tuple(int(size) for size in options.sizes.split(","))
    sizes = given or (QUICK_SIZES if options.quick else SIZES)
    figures: list[Figure] = []
    began = time.monotonic()
    with running(sizes, rounds=20 if options.quick else 200) as run:
        for name in options.subjects or SUBJECTS:
            say(f"\n== {name}")
            found = SUBJECTS[name](run)
            figures += found
            for figure in found:
                say(_line(figure))
            _write(figures)  # after each: a run over a million takes an hour
    say(f"\n{len(figures)} figures in {time.monotonic() - began:.0f} s; data sets of {sizes} tests")
    say(f"Written to {FILE.relative_to(ROOT)}")
    return 0


def _line(figure: Figure) -> str:
    mark = {True: "holds", False: "MISSED", None: ""}[figure.holds]
    return f"{figure.name:<58} {figure.figure:<44} {figure.must:<16} {mark}"


def _write(figures: list[Figure]) -> None:
    FILE.parent.mkdir(exist_ok=True)
    FILE.write_text(json.dumps([asdict(figure) for figure in figures], indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
