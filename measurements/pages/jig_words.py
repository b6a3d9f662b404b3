"""What a night's jig is good for, as the page says it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from measurements.pages import bench, figures
from measurements.pages.words import Said

GOOD = Said("Good enough", "good", "shape-meets", "is-meets", "It can show the benchmark on every band.")
POOR = Said("Not good enough", "poor", "shape-short", "is-short", "It hides the benchmark on some band.")
UNKNOWN = Said("Not known", "unknown", "shape-few", "is-few", "The open sweep is missing.")


@dataclass(frozen=True)
class JigSaid:
    """headline: in four words. lines: advice. bands: the figures per band, empty without an open sweep."""

    said: Said
    headline: str
    sentence: str
    lines: tuple[str, ...]
    bands: tuple[dict[str, Any], ...]
    swept: str
    tests_before: int

    @property
    def drawable(self) -> bool:
        """Whether there is a floor to draw."""
        return any(band["floor_db"] is not None for band in self.bands)


def of_figures(found: dict[str, Any]) -> JigSaid | None:
    """The figures of `rf.jig_check.of_jig` in words; None before the jig was swept."""
    if not found:
        return None
    said = {True: GOOD, False: POOR, None: UNKNOWN}[found["good_enough"]]
    swept = {"jig_through": "closed", "jig_open": "open", "jig_short": "linked"}
    return JigSaid(
        said=said,
        headline=_headline(found, said),
        sentence=found["sentence"],
        lines=tuple(bench.in_words(line) for line in found["advice"]),
        bands=tuple(found["bands"]),
        swept=", ".join(swept[role] for role in found["swept"]),
        tests_before=found.get("tests_before", 0),
    )


def _headline(found: dict[str, Any], said: Said) -> str:
    if found["good_up_to_db"] is not None and found["good_up_to_db"] > 0:
        return f"Good up to {figures.plain(found['good_up_to_db'])} dB"
    return "Good for every reading" if said is GOOD else said.word
