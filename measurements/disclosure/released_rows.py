"""The identity-free rows that a release shows of one device: ids of this release, figures as published."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from measurements.disclosure import packed_figures
from measurements.disclosure.row_ids import row_id

# what is read of a sample, in this order (paths of the tables)
STORED = ("id", "cell__design__key", "month", "cell__bands", "figures", "coverage", "self_resonance_hz")
_SAMPLE, _DESIGN = 1, 2


def in_order(salt: bytes, samples: Iterable[Sequence[Any]]) -> list[tuple[Any, ...]]:
    """Rows of these samples in the columns of `release_columns.EVIDENCE`.

    By design, then by the ids of this release, which is no order at all: an order by stored ids would
    stay the same from release to release and join rows by their place. samples: columns `STORED`.
    """
    rows = [row for sample in samples for row in _of_device(salt, *sample)]
    return sorted(rows, key=lambda row: (row[_DESIGN], row[_SAMPLE], row[0]))


def _of_device(
    salt: bytes,
    inner_id: Any,
    design: str,
    month: str,
    bands: Sequence[str],
    figures: bytes,
    coverage: str,
    self_resonance_hz: float | None,
) -> Iterator[tuple[Any, ...]]:
    sample = row_id(salt, inner_id.hex)
    for band, *values in packed_figures.unpack(bands, bytes(figures), coverage):
        yield (
            row_id(salt, f"{inner_id.hex} {band}"),
            sample,
            design,
            month,
            band,
            *values,
            self_resonance_hz,
        )
