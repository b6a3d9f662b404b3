"""A device's common-mode tests over time, band by band."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.queries import devices, service, upkeep_facts
from measurements.verdict.test_facts import TestFact

KIND = "common_mode"


@dataclass(frozen=True)
class TrendPoint:
    """One test on one band. counts: it is believed. at_least: the jig hides how much better it is."""

    test: str
    measured_on: date
    rejection_db: float
    counts: bool
    at_least: bool


@dataclass(frozen=True)
class TrendRow:
    """by_band: name -> its points, the oldest first; bands in the order of the plan."""

    device: str
    by_band: dict[str, tuple[TrendPoint, ...]]

    @property
    def bands(self) -> tuple[str, ...]:
        return tuple(self.by_band)


def of_device(viewer: Viewer, key: str) -> TrendRow:
    """The tests that the viewer may see. Raises BenchnightError `device.not_found`."""
    policy.check_signed_in(viewer)
    device = service.with_all().filter(key=key).first()
    if device is None:
        raise policy.missing("device")
    policy.check_see_device(viewer, devices.ownership(device))
    facts = upkeep_facts.of_devices(viewer, [device])[device.pk]
    tests = [test for test in reversed(facts.tests) if test.kind == KIND]
    names = list(dict.fromkeys(band.band for test in tests for band in test.bands))
    by_band = {name: _points(tests, name) for name in names}
    return TrendRow(key, {name: points for name, points in by_band.items() if points})


def _points(tests: list[TestFact], name: str) -> tuple[TrendPoint, ...]:
    found = []
    for test in tests:
        band = test.by_band.get(name)
        if band is not None and band.worst is not None:
            found.append(
                TrendPoint(test.key, test.measured_on, round(band.worst, 2), test.believed, band.at_least)
            )
    return tuple(found)
