"""What a device has to have been tested for: its work, band by band, and its way through."""

from __future__ import annotations

from measurements.fitness.last_answers import BandAnswer
from measurements.fitness.service_facts import CORE_BANDS, DeviceFacts, find_baseline
from measurements.fitness.test_facts import TestFact


def list_required_bands(device: DeviceFacts) -> tuple[str, ...]:
    """Return the bands that a device has to be good for: those that its chosen commissioning test met.

    Until somebody chose one, the core bands.
    """
    baseline = find_baseline(device)
    if baseline is None or not baseline.chosen:
        return CORE_BANDS
    if baseline.test.kind in device.work_kinds:
        return tuple(band.band for band in baseline.test.bands if band.meets)
    return tuple(dict.fromkeys(answer.band for answer in device.checks.of(*device.work_kinds) if answer.met))


def list_untested_bands(device: DeviceFacts) -> tuple[str, ...]:
    """Return the required bands on which no test of its work decided anything or came too close."""
    return tuple(
        band for band in list_required_bands(device) if not device.checks.on_band(band, *device.work_kinds)
    )


def find_work_test(device: DeviceFacts, band: str) -> TestFact | None:
    """Return the newest test that says of a band whether the device does its work."""
    return _find_newest(device.checks.on_band(band, *device.work_kinds))


def find_through_test(device: DeviceFacts) -> TestFact | None:
    """Return the newest good test of the way through: a load match, or readings that show broken and
    shorted wires; of a device that transforms, an insertion loss as well (trade.md 10).

    A common-mode test is none: with both terminals tied, a broken wire is invisible.
    """
    kinds = ("load_match",) if device.chokes else ("load_match", "insertion_loss")
    good = [answer for answer in device.checks.of(*kinds) if answer.meets]
    found = [test for test in (_find_newest(tuple(good)), _get_good_readings(device)) if test is not None]
    return max(found, key=lambda test: test.measured_on, default=None)


def _get_good_readings(device: DeviceFacts) -> TestFact | None:
    read = device.checks.dc
    if read is None or read.dc is None or not device.chokes:
        return None
    return read if read.dc.meets and read.dc.shows_through_path else None


def _find_newest(answers: tuple[BandAnswer, ...]) -> TestFact | None:
    tests = [answer.newest.test for answer in answers if answer.newest is not None]
    return max(tests, key=lambda test: test.measured_on, default=None)
