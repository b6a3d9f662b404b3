"""Count every cell of the coverage table and store it.

`python -m tests.rf.certainty.store_coverage DATE DRAWS` counts the cells that the stored table lacks at so
many draws, and stores the table after each, so that a count that was stopped goes on where it was. After a
change of the engine, delete the rows that it concerns.
"""

from __future__ import annotations

import json
import sys
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from typing import Any

from deploy.virtualenv import ROOT
from tests.rf.certainty.coverage_cells import DRAWS, Cell, Coverage, choose_cells, measure_coverage

STORED = ROOT / "fixtures" / "reference" / "coverage.json"


def main(counted_on: str, draws: int = DRAWS) -> None:
    known = {str(row["cell"]): row for row in json.loads(STORED.read_text())["rows"]}
    cells = choose_cells()
    lacking = [cell for cell in cells if known.get(str(asdict(cell)), {"draws": 0})["draws"] < draws]
    lacking.sort(key=lambda cell: known.get(str(asdict(cell)), {"draws": 0})["draws"])
    with ProcessPoolExecutor(2) as workers:
        for done in as_completed([workers.submit(measure_coverage, cell, draws) for cell in lacking]):
            found = done.result()
            print(found, "" if found.holds else "DOES NOT HOLD", flush=True)
            known[str(asdict(found.cell))] = build_row(found, draws)
            store(counted_on, cells, known)


def build_row(found: Coverage, draws: int) -> dict[str, Any]:
    figures = {name: round(getattr(found, name), 4) for name in ("inside", "median_u", "error_95")}
    return {"cell": asdict(found.cell), "draws": draws, **figures}


def store(counted_on: str, cells: list[Cell], known: dict[str, dict[str, Any]]) -> None:
    rows = [known[str(asdict(cell))] for cell in cells if str(asdict(cell)) in known]
    table = {
        "command": "python -m tests.rf.certainty.store_coverage DATE DRAWS",
        "counted_on": counted_on,
        "draws": min(row["draws"] for row in rows),
        "rows": rows,
    }
    STORED.write_text(json.dumps(table, indent=1) + "\n")


if __name__ == "__main__":
    main(sys.argv[1], *map(int, sys.argv[2:]))
