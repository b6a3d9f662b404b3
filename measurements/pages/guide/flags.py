"""Guide: what each flag of a result means, for which kinds it can appear, and where to read on.

Code and severity are the engine's (`measurements.rf.flag_catalogue`); a flag without a row here fails the
tests.
"""

from __future__ import annotations

from measurements.pages.guide.flag_help import FlagHelp
from measurements.pages.guide.flags_of_results import FIGURES, METHODS, RECIPE, WIRING
from measurements.pages.guide.flags_of_sweeps import BANDS, JIG, SWEEP
from measurements.rf.flag_catalogue import CATALOGUE

GROUPS: tuple[tuple[str, dict[str, FlagHelp]], ...] = (
    ("The sweep itself", SWEEP),
    ("Bands", BANDS),
    ("The jig", JIG),
    ("Wiring and load", WIRING),
    ("Figures that are missing", FIGURES),
    ("Single methods", METHODS),
    ("The recipe", RECIPE),
)
FLAGS: dict[str, FlagHelp] = {code: found for _, group in GROUPS for code, found in group.items()}


def of_kind(kind: str, *, left_out: bool) -> tuple[tuple[str, FlagHelp], ...]:
    """Code and help of the flags that a test of this kind can bring: those that leave it out, or the rest."""
    return tuple(
        (code, each)
        for code, each in FLAGS.items()
        if kind in each.kinds and (CATALOGUE[code].severity != "note") == left_out
    )
