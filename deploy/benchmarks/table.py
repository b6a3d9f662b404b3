"""Runs every benchmark and prints the table; writes var/bench.json."""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import asdict

from deploy.benchmarks import analysis, hosts, lookups, memory, releases, uploads
from deploy.benchmarks.stack import open_run
from deploy.benchmarks.timing import Figure
from deploy.environment import ROOT
from deploy.virtualenv import print_progress

SIZES = (1_000, 100_000, 1_000_000)
QUICK_SIZES = (300, 1_000)
RESULT_FILE = ROOT / "var" / "bench.json"
SUBJECTS = {
    "one-sweep": analysis.measure_one_sweep,
    "recompute": analysis.measure_many_sweeps,
    "store": uploads.measure_uploads,
    "look-up": lookups.measure_lookups,
    "release": releases.measure_releases,
    "memory": memory.measure_memory,
    "hosts": hosts.measure_hosts,
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
    with open_run(sizes, rounds=20 if options.quick else 200) as run:
        for name in options.subjects or SUBJECTS:
            print_progress(f"\n== {name}")
            found = SUBJECTS[name](run)
            figures += found
            for figure in found:
                print_progress(_format_line(figure))
            _write(figures)  # after each: a run over a million takes an hour
    print_progress(
        f"\n{len(figures)} figures in {time.monotonic() - began:.0f} s; data sets of {sizes} tests"
    )
    print_progress(f"Written to {RESULT_FILE.relative_to(ROOT)}")
    return 0


def _format_line(figure: Figure) -> str:
    mark = {True: "holds", False: "MISSED", None: ""}[figure.holds]
    return f"{figure.name:<58} {figure.figure:<44} {figure.must:<16} {mark}"


def _write(figures: list[Figure]) -> None:
    RESULT_FILE.parent.mkdir(exist_ok=True)
    RESULT_FILE.write_text(
        json.dumps([asdict(figure) for figure in figures], indent=1) + "\n", encoding="utf-8"
    )


if __name__ == "__main__":
    sys.exit(main())
