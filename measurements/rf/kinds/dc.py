"""Kind `dc`: does it conduct where it should, by an ohmmeter between named terminals?

Terminals: C centre and S shell of the coax, A and B the balanced side; of an unun A is the high end. What
should
be joined and what open follows from the type (trade practice, no source):

- `current_1_1`: each wire goes through, C to A and S to B; nothing else conducts. This shows a broken wire.
- `all_joined`: two-line 4:1 current baluns, voltage baluns and autotransformer ununs read near 0 between all
  terminals. An open winding beside another does not show here: that needs a load match.

A bleeder or an arrester with a way for direct current changes what reads open, so the device has to name
them.
House defaults: joined at most 1 ohm, open at least 1 megohm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any, Literal

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import BandGrid
from measurements.rf.flags import Flag, build_flag
from measurements.rf.request import Computed, DcGiven, Request

TERMINALS = ("C", "S", "A", "B")
JOINED_OHM, OPEN_OHM = 1.0, 1e6
BLEEDER_LEAST_OHM = 10e3  # a bleeder is some 100 kilohm; below a tenth of it something else conducts
MOST_READINGS = 24
MOST_OHM, MOST_MOHM = 1e12, 1e6
DcType = Literal["current_1_1", "all_joined"]
DC_TYPES: tuple[DcType, ...] = ("current_1_1", "all_joined")
DC_OPTIONS = ("bleeder", "arrester")
Expected = Literal["joined", "open", "bleeder"]

_PAIRS = tuple((one, other) for i, one in enumerate(TERMINALS) for other in TERMINALS[i + 1 :])
_THROUGH = (("C", "A"), ("S", "B"))
# pairs without which nothing is settled
_NEEDED: dict[str, tuple[tuple[str, str], ...]] = {
    "current_1_1": (*_THROUGH, ("C", "S")),
    "all_joined": (("C", "S"), ("C", "A")),
}


@dataclass(frozen=True)
class DcReading:
    """One reading. ohm: None where the meter shows open."""

    start: str
    end: str
    ohm: float | None

    @property
    def pair(self) -> tuple[str, str]:
        """Return the two terminals in the order of `TERMINALS`: a resistance has no direction."""
        first, second = sorted((self.start, self.end), key=TERMINALS.index)
        return first, second


@dataclass(frozen=True)
class DcReadings:
    """What was read. insulation: megohm between windings or to the case, dry and wet, None where not read."""

    readings: tuple[DcReading, ...]
    dc_type: DcType | None = None
    options: tuple[str, ...] = ()
    insulation_mohm: float | None = None
    insulation_wet_mohm: float | None = None


def parse_dc_readings(items: Sequence[object], *, field: str = "dc_readings") -> tuple[DcReading, ...]:
    """Check readings such as {"from": "C", "to": "A", "ohm": 0.2}, ohm null for open.

    Raises BenchnightError `dc.empty`, `dc.too_many`, `dc.shape`, `dc.terminal`, `dc.value`, `dc.duplicate`;
    its
    `line` is the number of the reading, from 1.
    """
    if not items:
        raise BenchnightError("dc.empty", "Give the reading between two terminals.", field=field)
    if len(items) > MOST_READINGS:
        raise BenchnightError("dc.too_many", f"At most {MOST_READINGS} readings.", field=field)
    found = tuple(_parse_reading(item, number, field) for number, item in enumerate(items, 1))
    seen: set[tuple[str, str]] = set()
    for number, reading in enumerate(found, 1):
        if reading.pair in seen:
            detail = f"Reading {number} repeats {' to '.join(reading.pair)}. Keep one of them."
            raise BenchnightError("dc.duplicate", detail, field=field, line=number)
        seen.add(reading.pair)
    return found


def expect_between(pair: tuple[str, str], dc_type: DcType, options: Sequence[str]) -> Expected | None:
    """Say what should be read between two terminals; None where an arrester makes it unknown."""
    if dc_type == "all_joined" or pair in _THROUGH:
        return "joined"
    if "arrester" in options:
        return None
    return "bleeder" if "bleeder" in options else "open"


def holds(ohm: float | None, expected: Expected | None) -> bool | None:
    """Tell whether a reading is as expected; None where nothing is expected."""
    if expected is None:
        return None
    if expected == "joined":
        return ohm is not None and ohm <= JOINED_OHM
    return ohm is None or ohm >= (BLEEDER_LEAST_OHM if expected == "bleeder" else OPEN_OHM)


def compute(request: Request) -> Computed:
    """Hold the readings of `request.dc` against their type.

    Raises BenchnightError `dc.empty` without readings, `dc.file` with a file.
    """
    given = request.dc
    if given is None or not given.readings:
        raise BenchnightError("dc.empty", "Give the reading between two terminals.", field="dc_readings")
    if request.sweeps:
        role = next(iter(request.sweeps))
        raise BenchnightError(
            "dc.file", "An ohmmeter test takes no file. Send the readings alone.", field=role
        )
    rows = [_judge(reading, given) for reading in given.readings]
    missing = _list_missing(given)
    return Computed(
        method="ohmmeter",
        grid=BandGrid(np.empty(0), np.empty(0, dtype=np.bool_), ()),
        band_metrics=(),
        summary={
            "readings": rows,
            "meets": _conclude(rows, given, missing),
            "dc_type": given.dc_type,
            "options": list(given.options),
            "shows_broken_wire": given.dc_type == "current_1_1",
            "insulation_mohm": given.insulation_mohm,
            "insulation_wet_mohm": given.insulation_wet_mohm,
            "joined_at_most_ohm": JOINED_OHM,
            "open_at_least_ohm": OPEN_OHM,
        },
        flags=tuple(_list_flags(given, missing)),
        traces={},
        main=None,
    )


def _judge(reading: DcReading, given: DcGiven) -> dict[str, Any]:
    expected = None if given.dc_type is None else expect_between(reading.pair, given.dc_type, given.options)
    return {
        "from": reading.start,
        "to": reading.end,
        "ohm": reading.ohm,
        "expected": expected,
        "holds": holds(reading.ohm, expected),
    }


def _list_missing(given: DcGiven) -> list[tuple[str, str]]:
    if given.dc_type is None:
        return []
    read = {reading.pair for reading in given.readings}
    wanted = _NEEDED[given.dc_type]
    expected = {pair: expect_between(pair, given.dc_type, given.options) for pair in wanted}
    return [pair for pair in wanted if pair not in read and expected[pair] is not None]


def _conclude(
    rows: Sequence[Mapping[str, Any]], given: DcGiven, missing: Sequence[tuple[str, str]]
) -> bool | None:
    """Return a reading that is wrong is wrong; all is good only where nothing needed is missing."""
    if any(row["holds"] is False for row in rows):
        return False
    return None if given.dc_type is None or missing else True


def _list_flags(given: DcGiven, missing: Sequence[tuple[str, str]]) -> list[Flag]:
    flags: list[Flag] = []
    if given.dc_type is None:
        flags.append(build_flag("dc_type_unknown"))
    if missing:
        flags.append(
            build_flag("dc_incomplete", pairs=", ".join(f"{one} to {other}" for one, other in missing))
        )
    if given.dc_type == "all_joined":
        flags.append(build_flag("dc_open_hidden"))
    if "arrester" in given.options:
        flags.append(build_flag("dc_arrester"))
    return flags


def _parse_reading(item: object, number: int, field: str) -> DcReading:
    if not isinstance(item, dict) or item.keys() != {"from", "to", "ohm"}:
        detail = f'Reading {number} needs "from", "to" and "ohm", and nothing else.'
        raise BenchnightError("dc.shape", detail, field=field, line=number)
    start, end = str(item["from"]).upper(), str(item["to"]).upper()
    if start not in TERMINALS or end not in TERMINALS or start == end:
        detail = f"Reading {number} needs two different terminals out of {', '.join(TERMINALS)}."
        raise BenchnightError("dc.terminal", detail, field=field, line=number)
    return DcReading(start, end, _parse_ohm(item["ohm"], number, field))


def _parse_ohm(value: object, number: int, field: str) -> float | None:
    if value is None:
        return None
    good = isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) <= MOST_OHM
    if not good or not isfinite(value) or value < 0:  # type: ignore[operator,arg-type]
        detail = f"Reading {number} needs a resistance in ohm, or null for open."
        raise BenchnightError("dc.value", detail, field=field, line=number)
    return float(value)  # type: ignore[arg-type]
