"""Predictions in words: what limits a winding, what stands behind it. Doors show these
as is.
"""

from __future__ import annotations

from collections.abc import Sequence

from measurements.queries.rows_of_predictions import BandChanceRow, RestsOn


def why(bands: Sequence[BandChanceRow], benchmark_db: float) -> str:
    """What limits a winding, in one or two sentences."""
    low = [band.band for band in bands if band.limit == "inductance"]
    high = [band.band for band in bands if band.limit == "resonance"]
    uncovered = [band.band for band in bands if band.chance is None]
    said = []
    if low:
        said.append(f"On {_listed(low)} it is short of inductance: a turn or a core more would raise it.")
    if high:
        said.append(
            f"On {_listed(high)} it lies above its resonance, where the capacitance across the winding takes "
            "over: a turn less, or turns spread further apart, would raise it."
        )
    if uncovered:
        said.append(f"Of {_listed(uncovered)} the maker's table of this mix says nothing.")
    if not said:
        said.append(f"Nothing limits it on these bands at {benchmark_db:g} dB.")
    return " ".join(said)


def behind(rests_on: RestsOn) -> str:
    """What a prediction rests on."""
    table = f"the maker's table of mix {rests_on.mix}"
    if rests_on.release is None:
        return f"It rests on {table} alone: nothing was learned from a release yet."
    if not rests_on.learned:
        return f"It rests on {table}: release {rests_on.release} shows you no evidence of this mix."
    designs = f"{rests_on.designs} design{'s' if rests_on.designs != 1 else ''}"
    return f"It rests on {table}, corrected by the evidence of {designs} in release {rests_on.release}."


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
