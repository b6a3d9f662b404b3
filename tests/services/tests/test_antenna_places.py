"""The first bypass test of an antenna place is its commissioning; later ones are compared with it."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.models import Result, Test
from measurements.services.tests import tests
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories

FREQ_HZ = np.linspace(5e6, 9e6, 161)


def dipole_s1p(f0_hz: float) -> Upload:
    """A textbook dipole near its resonance: 60 ohm, Q 12, a series resonator."""
    z = 60 * (1 + 12j * (FREQ_HZ / f0_hz - f0_hz / FREQ_HZ))
    gamma = (z - 50) / (z + 50)
    rows = [f"{hz:.0f} {g.real:.8f} {g.imag:.8f}" for hz, g in zip(FREQ_HZ, gamma, strict=True)]
    return Upload("x.s1p", ("\n".join(["# Hz S RI R 50", *rows]) + "\n").encode())


def bypass(by, device, f0_hz: float, day: date, place: str | None = "Long  Dipole", **files):
    given = {"kind": "in_situ", "calibrated": "true", "antenna_bands": "40m"} | (
        {"antenna_place": place} if place else {}
    )
    sweeps = {"sweep": dipole_s1p(f0_hz * 1.0001), "sweep_bypassed": dipole_s1p(f0_hz)}
    key = tests.record_test(
        by=by, device=device, uploads={**sweeps, **files}, settings=parse_settings(given), measured_on=day
    ).key
    return key, Result.objects.get(test__key=key).figures["summary"]


def test_a_later_test_is_compared_with_the_first_of_its_place(member):
    device = factories.device(member)
    _, first = bypass(member, device, 7.15e6, date(2025, 5, 1))
    assert "bypassed_since_commissioning" not in first
    key, later = bypass(member, device, 7.16e6, date(2026, 5, 1), place="long dipole")
    assert later["bypassed_since_commissioning"] == "as_commissioned"
    assert later["through_since_commissioning"] == "as_commissioned"
    roles = set(Test.objects.get(key=key).sweeps.values_list("role", flat=True))
    assert roles == {"sweep", "sweep_bypassed", "first_through", "first_bypassed"}
    _, moved = bypass(member, device, 6.5e6, date(2026, 6, 1))
    assert moved["bypassed_since_commissioning"] == "changed"


def test_another_antenna_and_another_member_are_not_compared_with(member):
    bypass(member, factories.device(member), 7.15e6, date(2025, 5, 1))
    _, other = bypass(member, factories.device(member, tag="T-2"), 6.5e6, date(2026, 5, 1), place="short one")
    assert "bypassed_since_commissioning" not in other
    stranger = factories.member("Bo")
    _, theirs = bypass(stranger, factories.device(stranger), 6.5e6, date(2026, 5, 1))
    assert "bypassed_since_commissioning" not in theirs


def test_an_own_commissioning_file_is_preferred(member):
    device = factories.device(member)
    bypass(member, device, 7.15e6, date(2025, 5, 1))
    _, later = bypass(member, device, 6.5e6, date(2026, 5, 1), first_bypassed=dipole_s1p(6.5e6))
    assert later["bypassed_since_commissioning"] == "as_commissioned"


@pytest.mark.parametrize(
    "given", [{"kind": "load_match", "antenna_place": "x"}, {"kind": "in_situ", "antenna_place": "x" * 61}]
)
def test_a_place_belongs_to_a_test_at_the_antenna(given):
    with pytest.raises(BenchnightError) as caught:
        parse_settings(given)
    assert "antenna_place" in {fault.field for fault in caught.value.errors}
