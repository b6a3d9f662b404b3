"""The chance of a new build as a sentence: `A build of yours would likely (8 in 10) meet 20 dB on 40 m.`"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from measurements.pages.designs.judged_words import KIND_WORDS, KindWords, get_limit, get_words
from measurements.verdict.judged_kinds import COMMON_MODE

# From which chance on: the words around "N in 10"; what a build does that passes comes last.
_WORDS = (
    (0.85, "would very likely ({}) {}"),
    (0.75, "would likely ({}) {}"),
    (0.55, "would more likely than not ({}) {}"),
    (0.45, "is as likely as not ({}) to {}"),
    (0.25, "would rather not ({}) {}"),
    (0.15, "is unlikely ({}) to {}"),
    (0.0, "is very unlikely ({}) to {}"),
)


def write_chance(
    chance: float, limit: float, bands: Iterable[str], words: KindWords = KIND_WORDS[COMMON_MODE]
) -> str:
    """Write what a reader's own build would do on these bands, together if there are several.

    limit: in the unit of the metric that `words` is about. chance: as shown, 0..1: in tenths, or in
    hundredths where the design has ten persons.
    """
    around = next(around for least, around in _WORDS if chance >= least)
    passes = words.keeps.format(limit=words.format_limit(limit))
    said = around.format(format_chance(chance), passes)
    return f"A build of yours {said} on {join_bands(bands)}."


def write_chances_by_band(evidence: Iterable[Mapping[str, Any]]) -> list[str]:
    """Write a sentence for each chance, the best first, with all bands of that chance, each by itself."""
    bands: dict[tuple[float, float], list[str]] = {}
    words = KIND_WORDS[COMMON_MODE]
    for each in evidence:
        if each["chance"] is not None:
            words = get_words(each)
            bands.setdefault((each["chance"], get_limit(each)), []).append(each["band"])
    return [
        write_chance(chance, limit, bands[chance, limit], words)[:-1]
        + (", each by itself." if len(bands[chance, limit]) > 1 else ".")
        for chance, limit in sorted(bands, reverse=True)
    ]


def format_chance(chance: float) -> str:
    """Give a shown chance in words: `9 in 10`, `94 in 100`."""
    hundredths = round(100 * chance)
    return f"{hundredths} in 100" if hundredths % 10 else f"{hundredths // 10} in 10"


def join_bands(bands: Iterable[str]) -> str:
    """Join names of bands, the unit once: `80 and 40 m`, `6 m and 70 cm`."""
    parts = [_split_band(band) for band in bands]
    shown = [
        number if index + 1 < len(parts) and parts[index + 1][1] == unit else f"{number} {unit}".strip()
        for index, (number, unit) in enumerate(parts)
    ]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


def _split_band(band: str) -> tuple[str, str]:
    number = band.rstrip("cm")
    return number, band[len(number) :]
