"""A bench with a check standard: nights, sweeps of it and of others, made through services. Invented."""

from __future__ import annotations

import itertools
from datetime import date, timedelta

import numpy as np

from measurements.disclosure.viewers import Viewer
from measurements.models import Night
from measurements.services.check_standards import check_standards
from measurements.services.devices import devices
from measurements.services.nights import nights
from measurements.services.operations.audit import WriteResult
from measurements.services.tests import tests
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import club, factories

FIRST = date(2026, 1, 5)
_SEEDS = itertools.count()  # no two sweeps are the same bytes


def standard_s2p(shift_db: float = 0.0, seed: int = 0, tilt_db: float = 0.0) -> bytes:
    """A sweep of 1500 ohm beside 300 uH and 3 pF, `shift_db` more rejection; `tilt_db` more at 30 MHz."""
    rng = np.random.default_rng(seed)
    wobble_db = rng.normal(0, 0.08)

    def z_ohm(omega):
        z = 1 / (1 / 1500 + 1 / (1j * omega * 300e-6) + 1j * omega * 3e-12)
        more_db = shift_db + wobble_db + tilt_db * omega / (2 * np.pi * 30e6)
        return z * 10 ** (more_db / 20)

    return club.series_s2p(z_ohm, points=101)


def open_night(by: Viewer, on: date = FIRST, jig: str = "clips", analyser: str = "the blue one") -> str:
    """The key of a night with a named bench."""
    return nights.open_night(
        by=by, held_on=on, title=f"Bench {on}", instrument=analyser, jig=jig, calibrated=True
    ).key


def sweep(
    by: Viewer,
    device: str,
    night: str | None,
    shift_db: float = 0.0,
    *,
    tilt_db: float = 0.0,
    on: date | None = None,
) -> WriteResult:
    """A common-mode test, new bytes each time."""
    return tests.record_test(
        by=by,
        device=device,
        uploads={"sweep": Upload("check.s2p", standard_s2p(shift_db, next(_SEEDS), tilt_db))},
        settings=parse_settings({"kind": "common_mode", "recipe_confirmed": "true", "calibrated": "true"}),
        measured_on=on or Night.objects.get(key=night).held_on,
        night=night,
    )


def mark(by: Viewer, tag: str = "Check-1") -> tuple[str, str]:
    """Keys of a device of `by` and of the check standard that it is."""
    device = devices.register_device(by=by, design=factories.design(by), tag=tag).key
    return device, check_standards.mark_check_standard(by=by, device=device).key


def establish(by: Viewer, device: str, sessions: int = 6, **bench: str) -> list[str]:
    """Nights of one bench, a week apart, each with a sweep of the check standard."""
    opened = [open_night(by, FIRST + timedelta(days=7 * week), **bench) for week in range(sessions)]
    for night in opened:
        sweep(by, device, night)
    return opened
