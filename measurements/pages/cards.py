"""A result card of a device: what was measured, how it did on each band, and where its page is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.pages import metrics, qr_codes
from measurements.pages.metrics import BandLine
from measurements.pages.words import Said, method
from measurements.queries.rows import DeviceRow, TestRow
from measurements.queries.rows_of_nights import NightDeviceRow, NightTestRow


@dataclass(frozen=True)
class CardTest:
    """A test as its card says it. left_out: whether it is no evidence, which the card does not hide."""

    __test__ = False

    words: str
    measured_on: date
    said: Said
    outcome: str
    bands: tuple[BandLine, ...]
    limit: str
    left_out: bool


@dataclass(frozen=True)
class Card:
    """One card. owner: as written on it. code: the claim code, on the print on which it was made."""

    key: str
    tag: str
    owner: str
    is_guest: bool
    design_title: str
    address: str
    tests: tuple[CardTest, ...]
    engine_version: str
    code: str = ""


def of_night(device: NightDeviceRow, code: str = "") -> Card:
    """The card of a device on the night it was measured."""
    return Card(
        key=device.key,
        tag=device.tag,
        owner=device.owner,
        is_guest=device.is_guest,
        design_title=device.design_title,
        address=qr_codes.device_page(device.key),
        tests=tuple(_of_night_test(test) for test in device.newest),
        engine_version=device.newest[0].engine_version if device.newest else "",
        code=code,
    )


def of_device(device: DeviceRow, tests: Iterable[TestRow]) -> Card:
    """The card of a device from the newest test of every kind and method. tests: the newest first."""
    newest: dict[tuple[str, str], TestRow] = {}
    for test in sorted(tests, key=lambda row: row.measured_on, reverse=True):
        newest.setdefault((test.kind, test.method), test)
    chosen = tuple(newest.values())
    return Card(
        key=device.key,
        tag=device.tag,
        owner=device.owner,
        is_guest=False,
        design_title=device.design_title,
        address=qr_codes.device_page(device.key),
        tests=tuple(_card_test(test.kind, test.method, test.measured_on, test.result) for test in chosen),
        engine_version=chosen[0].result.get("engine_version", "") if chosen else "",
    )


def _of_night_test(test: NightTestRow) -> CardTest:
    result = {
        "kind": test.kind,
        "bands": list(test.bands),
        "summary": test.summary,
        "flags": list(test.flags),
    }
    return _card_test(test.kind, test.method, test.measured_on, result)


def _card_test(kind: str, name: str, measured_on: date, result: dict[str, Any]) -> CardTest:
    bands = metrics.band_lines(result)
    said, outcome = metrics.overall(bands)
    return CardTest(
        words=method(kind, name),
        measured_on=measured_on,
        said=said,
        outcome=outcome,
        bands=bands,
        limit=metrics.limit_words(result),
        left_out=any(flag["severity"] == "exclude" for flag in result["flags"]),
    )
