"""Count every cell of the coverage table and store it.

`python -m tests.rf.certainty.store_coverage DATE DRAWS`
"""

from __future__ import annotations

import json
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict

from deploy.virtualenv import ROOT
from tests.rf.certainty.coverage_cells import DRAWS, choose_cells, measure_coverage

STORED = ROOT / "fixtures" / "reference" / "coverage.json"


def main(counted_on: str, draws: int = DRAWS) -> None:
    rows = []
    cells = choose_cells()
    with ProcessPoolExecutor(2) as workers:
        for found in workers.map(measure_coverage, cells, [draws] * len(cells)):
            print(found, "" if found.holds else "DOES NOT HOLD", flush=True)
            figures = {name: round(getattr(found, name), 4) for name in ("inside", "median_u", "error_95")}
            rows.append({"cell": asdict(found.cell), **figures})
    table = {
        "command": "python -m tests.rf.certainty.store_coverage DATE DRAWS",
        "counted_on": counted_on,
        "draws": draws,
        "rows": rows,
    }
    STORED.write_text(json.dumps(table, indent=1) + "\n")


if __name__ == "__main__":
    main(sys.argv[1], *map(int, sys.argv[2:]))
