"""From stored sweeps to causes: the real path from files over a release to the comparison of a test."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.selectors.tests import comparison
from measurements.selectors.tests import tests as tests_selectors
from measurements.services.releases import releases
from measurements.services.tests import tests as tests_services
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories
from tests.rf.mix_tables import winding_ohm

FREQ_HZ = np.linspace(1e6, 30e6, 201)
RECIPE = {"conductor": "RG-400"}


def s2p(z_ohm: np.ndarray, seed: int = 0) -> bytes:
    """A series impedance between the ports of a 50-ohm analyser, with noise 0.0002."""
    rng = np.random.default_rng(seed)
    s11, s21 = z_ohm / (z_ohm + 100), 100 / (z_ohm + 100)
    lines = ["# Hz S RI R 50"]
    for freq_hz, *columns in zip(FREQ_HZ, s11, s21, s21, s11, strict=True):
        noise = 0.0002 * rng.normal(size=8)
        parts = [part for column in columns for part in (column.real, column.imag)]
        lines.append(f"{freq_hz:.1f} " + " ".join(f"{p + n:.8f}" for p, n in zip(parts, noise, strict=True)))
    return "\n".join(lines).encode()


def built(seed: int, turns: int = 12, stray_f: float = 3e-12, mix: str = "31") -> np.ndarray:
    scale = 1 + 0.03 * np.clip(np.random.default_rng(seed).normal(), -2, 2)
    return winding_ohm(mix, turns, FREQ_HZ, stray_f=stray_f, scale=scale)


@pytest.fixture
def popular(reference_data) -> str:
    """A design that eleven people have built and tested, published: from ten on its range is shown."""
    for person in range(11):
        by = factories.member(f"person-{person}")
        key = factories.design(by, **RECIPE)
        device = factories.device(by, key, tag=f"P-{person}")
        factories.record(by, device, s2p(built(person), person))
    releases.make_release()
    return key


def compared(member, design: str, data: bytes):
    key = factories.record(member, factories.device(member, design), data)
    return comparison.compare_test(member, key)


def test_a_clean_device_has_no_causes(member, popular):
    row = compared(member, popular, s2p(built(50), 50))
    assert (row.outlier, row.causes, row.checks, row.likelihoods) == (False, (), (), ())


def test_two_turns_fewer_are_told_by_recipe_and_by_the_others(member, popular):
    row = compared(member, popular, s2p(built(51, turns=10), 51))
    assert row.outlier is True
    (cause,) = row.causes
    assert cause["code"] == "turn_count" and cause["behaves_as"] == pytest.approx(10, abs=0.4)
    assert cause["impedance_ratio"] == pytest.approx((10 / 12) ** 2, rel=0.07)
    assert cause["leak_ohm"] is cause["mix"] is None and 0.8 <= cause["share"] < 0.985
    assert "12 turns would behave as 10" in cause["message"]
    # one diagnosis: the recipe says nothing beside it
    assert row.basis == "design" and row.checks == ()


def test_another_mix_is_told_by_the_stored_tables(member, popular):
    row = compared(member, popular, s2p(built(52, mix="43"), 52))
    assert [(cause["code"], cause["mix"]) for cause in row.causes] == [("mix", "43")]
    assert row.likelihoods[0]["what"] == "mix 43 in place of 31" and row.likelihoods[0]["share"] > 0.9


def test_a_jig_is_told_by_its_open_sweep(member, popular):
    clips = 1 / (2j * np.pi * FREQ_HZ * 5e-12)
    own = 1 / (1 / built(53) + 1 / clips)
    device = factories.device(member, popular)
    key = tests_services.record_test(
        by=member,
        device=device,
        uploads={"sweep": Upload("own.s2p", s2p(own, 53)), "jig_open": Upload("open.s2p", s2p(clips, 54))},
        settings=parse_settings({"kind": "common_mode", "calibrated": "true"}),
        measured_on=date(2026, 3, 14),
    ).key
    (cause,) = comparison.compare_test(member, key).causes
    assert cause["code"] == "jig"
    # |1 + Z/100| of 5 pF where the curve leaves the range
    reach_hz = np.array([cause["from_hz"], cause["to_hz"]])
    at_worst_db = 20 * np.log10(np.abs(1 + 1 / (2j * np.pi * reach_hz * 5e-12) / 100)).min()
    assert cause["floor_db"] == pytest.approx(at_worst_db, abs=0.3)


def test_nothing_is_said_beside_fewer_people_than_members_may_see(member, reference_data):
    for person in range(2):
        by = factories.member(f"person-{person}")
        key = factories.design(by, **RECIPE)
        for index in range(3):
            device = factories.device(by, key, tag=f"P-{person}-{index}")
            factories.record(by, device, s2p(built(10 * person + index), 10 * person + index))
    releases.make_release()
    row = compared(member, key, s2p(built(55, turns=8), 55))
    # by the recipe alone: nothing of the others plays a part
    assert row.outlier is None and row.basis == "recipe"
    assert [cause["code"] for cause in row.causes] == ["turn_count"]
    assert "what the recipe gives" in row.causes[0]["message"]


@pytest.mark.usefixtures("reference_data")
def test_readings_and_other_kinds_have_no_curve_to_compare(member):
    device = factories.device(member)
    typed = tests_services.record_test(
        by=member,
        device=device,
        uploads={},
        settings=parse_settings(
            {"kind": "common_mode", "readings": '[{"frequency_hz": 7100000, "value": 31}]'}
        ),
        measured_on=date(2026, 3, 14),
    ).key
    row = comparison.compare_test(member, typed)
    assert row.outlier is None and row.causes == ()
    assert comparison.get_curve_comparison(member, tests_selectors.get_test(member, typed)) is None


def test_a_comparison_takes_a_fixed_number_of_queries(member, popular):
    key = factories.record(member, factories.device(member, popular), s2p(built(56, turns=9), 56))
    comparison.compare_test(member, key)  # the arrays of a release are kept
    with CaptureQueriesContext(connection) as queries:
        comparison.compare_test(member, key)
    assert len(queries) <= 20
