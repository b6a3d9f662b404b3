"""In which order designs are offered: by what the evidence supports, never by the best single device.

Verdict first, then the lower bound of the share that passes (so that 20 of 20 goes before 3 of 3), then
how far the median lies above the benchmark. Equal designs keep the order of their keys, so that two
runs and two pages agree.

Whoever lists designs for the public passes the coarsened figures of `disclosure.evidence_view`: an
order by exact shares would give away the shares.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from measurements.verdict.rule import VERDICTS, VerdictName


@dataclass(frozen=True)
class Standing:
    """One design as it is ranked: key settles ties; figures are None where they are not shown."""

    key: str
    verdict: VerdictName
    share_low: float | None
    median_margin_db: float | None


def order(standings: Sequence[Standing]) -> list[Standing]:
    """Best supported first. A figure that is not shown goes after every figure that is."""
    return sorted(standings, key=_place)


def _place(standing: Standing) -> tuple[int, float, float, str]:
    return (
        VERDICTS.index(standing.verdict),
        _descending(standing.share_low),
        _descending(standing.median_margin_db),
        standing.key,
    )


def _descending(figure: float | None) -> float:
    return float("inf") if figure is None else -figure
