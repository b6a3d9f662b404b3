"""A club night to test with: its operator, its guests and its jig, made through services. Invented."""

from __future__ import annotations

from datetime import date

import numpy as np

from measurements.disclosure.viewers import Viewer
from measurements.services.devices import devices
from measurements.services.nights import guests, nights
from measurements.services.operations.audit import WriteResult
from measurements.services.tests import tests
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories

HELD_ON = date(2026, 5, 14)


def operator(name: str = "Osric") -> Viewer:
    """An account that may run nights."""
    return factories.member(name, "operator")


def night(by: Viewer, **fields) -> str:
    """The key of a night that `by` opened."""
    return nights.open_night(by=by, **{"held_on": HELD_ON, "title": "May bench", **fields}).key


def guest(by: Viewer, night_key: str, name: str = "Gwenna") -> str:
    """The key of a guest on the night's list."""
    return guests.add_attendee(by=by, night=night_key, name=name).key


def guests_device(by: Viewer, night_key: str, attendee: str, design: str = "", tag: str = "G-1") -> str:
    """A device that the operator registered for whoever brought it."""
    return devices.register_device(
        by=by, design=design or factories.design(by), tag=tag, contributor=(night_key, attendee)
    ).key


def record(
    by: Viewer, device: str, night_key: str | None, data: bytes | None = None, **settings
) -> WriteResult:
    """A common-mode test of the night."""
    given = {"kind": "common_mode", "recipe_confirmed": "true", **settings}
    return tests.record_test(
        by=by,
        device=device,
        uploads={"sweep": Upload("sweep.s2p", data or factories.choke_s2p())},
        settings=parse_settings(given),
        measured_on=HELD_ON,
        night=night_key,
    )


def series_s2p(z_ohm, points: int = 201) -> bytes:
    """A noiseless sweep, 1 to 30 MHz, of one impedance between the ports: `z_ohm(omega)` in ohm."""
    freq_hz = np.linspace(1e6, 30e6, points)
    z = np.broadcast_to(z_ohm(2 * np.pi * freq_hz), freq_hz.shape).astype(complex)
    s11, s21 = z / (z + 100), 100 / (z + 100)
    lines = ["# Hz S RI R 50"]
    for f, a, b in zip(freq_hz, s11, s21, strict=True):
        one, other = f"{a.real:.10f} {a.imag:.10f}", f"{b.real:.10f} {b.imag:.10f}"
        lines.append(f"{f:.1f} {one} {other} {other} {one}")
    return ("\n".join(lines) + "\n").encode()


def jig(capacitance_f: float = 0.2e-12) -> dict[str, Upload]:
    """Through, open and short of a jig with so much capacitance across its clips and 20 nH in its leads."""
    leads = lambda omega: 0.1 + 1j * omega * 20e-9  # noqa: E731
    clips = lambda omega: leads(omega) + 1 / (1j * omega * capacitance_f)  # noqa: E731
    return {
        "jig_through": Upload("through.s2p", series_s2p(lambda omega: 0 * omega)),
        "jig_open": Upload("open.s2p", series_s2p(clips)),
        "jig_short": Upload("short.s2p", series_s2p(leads)),
    }
