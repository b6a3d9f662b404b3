"""Loss and match become evidence as rejection does: the same votes, persons, sets and audit."""

from __future__ import annotations

import random

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.models import Cell, Design, Device, PublishedPool, PublishedVote, Release, Result
from measurements.selectors.designs import designs
from measurements.selectors.designs.design_filters import DesignFilters
from measurements.services.devices import devices
from measurements.services.releases import releases
from measurements.services.tests import tests
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories, ratio_benches, scenes

pytestmark = pytest.mark.usefixtures("reference_data")


def release() -> None:
    releases.make_release(rng=random.Random(3), files=False)


def build() -> str:
    key = ratio_benches.evidence(4)
    release()
    return key


ratio_evidence = scenes.share("ratio_evidence", build)


@pytest.fixture
def published(ratio_evidence, db):
    return ratio_evidence


def published_figures(test: str) -> dict:
    return Result.objects.get(test__key=test, current=True).published


def test_a_cell_of_each_kind_holds_what_the_circuit_says(published):
    """0.3 dB: 50 ohm beside 700 ohm and 20 uH across it, by the current divider; SWR 1.08 likewise."""
    cells = {cell.kind: cell for cell in Cell.objects.filter(design__key=published, band="")}
    assert set(cells) == {"insertion_loss", "load_match"}
    loss = np.frombuffer(bytes(cells["insertion_loss"].worst_db), "<f4").reshape(4, -1)
    at = cells["insertion_loss"].bands.index("40m")
    # -10 log10 of the share of 1/50 in 1/50 + 1/R, with the mismatch of that; from the circuit, closed form
    for value, person in zip(sorted(loss[:, at], reverse=True), range(4), strict=True):
        across = 700 * (1 + 0.03 * person)
        admittance = 1 / 50.2 + 1 / across + 1 / (2j * np.pi * 7.0e6 * 20e-6)
        gamma = (1 - 50 * admittance) / (1 + 50 * admittance)
        share = (50 / 50.2**2) / admittance.real * (1 - abs(gamma) ** 2)
        assert value == pytest.approx(-10 * np.log10(share), abs=0.1)
    assert cells["load_match"].devices == cells["load_match"].contributors == 4


def test_the_design_is_judged_by_loss_first_and_by_each_kind_when_asked(published):
    reader = factories.member("reader")
    row = designs.get_design(reader, published, bands=("40m",))
    (shown,) = row.evidence
    assert (row.kind, shown["kind"], shown["limit"], shown["benchmark_db"]) == (
        "insertion_loss",
        "insertion_loss",
        0.5,
        None,
    )
    assert shown["verdict"] == "typically_meets" and "rejection_db" not in shown
    assert shown["loss_db"]["median"] == pytest.approx(0.3, abs=0.101)
    (match,) = designs.get_design_evidence(reader, published, bands=("40m",), kind="load_match")
    assert match["limit"] == 1.5 and 1.0 < match["swr"]["median"] < 1.3
    (none,) = designs.get_design_evidence(reader, published, bands=("40m",), kind="common_mode")
    assert none["verdict"] == "not_enough_devices" and none["rejection_db"]["median"] is None


def test_another_limit_has_no_verdict_below_ten_people(published):
    reader = factories.member("reader")
    (shown,) = designs.get_design_evidence(reader, published, bands=("40m",), metric_limit=0.3)
    assert shown["verdict"] is None and shown["chance"] is None and "limit" in shown["reason"]
    with pytest.raises(BenchnightError) as refused:
        designs.get_design_evidence(reader, published, kind="common_mode", metric_limit=0.3)
    assert refused.value.code == "limit.kind"


def test_a_loss_that_is_not_known_well_enough_has_no_vote(db):
    """A direct sweep of a ratio device and an analyser of 20 dB match: neither may be held against 0.5 dB."""
    by = factories.member("Wilma")
    made = factories.device(by, factories.design(by, **ratio_benches.UNUN), tag="W-1")
    poor = ratio_benches.record_loss(by, made, analyser='{"paths":1,"reflection_residual":0.1}')
    result = Result.objects.get(test__key=poor, current=True)
    bands = [band for band in result.figures["bands"] if band["coverage"] == "full"]
    assert min(band["uncertainty"]["loss_db"] for band in bands) > 0.25  # it was judged, and too coarsely
    assert not result.counts_as_evidence and result.published is None


def test_a_halved_pair_never_votes(db):
    """S21 of a pair alone gives half the pair's loss, which is of no device."""
    by = factories.member("Wilma")
    made = factories.device(by, factories.design(by, **{**ratio_benches.UNUN, "ratio": "4:1"}), tag="W-1")
    rows = [f"{hz:.0f} {10 ** (-0.6 / 20):.6f} 0" for hz in np.linspace(1e6, 31e6, 151)]
    s21 = "\n".join(["freq_hz,s21_re,s21_im", *(row.replace(" ", ",") for row in rows)]).encode()
    key = tests.record_test(
        by=by,
        device=made,
        uploads={"sweep": Upload("pair.csv", s21)},
        settings=parse_settings(
            {"kind": "insertion_loss", "method": "back_to_back", "ratio": "4:1", "calibrated": "true"}
        ),
        measured_on=ratio_benches.date(2026, 3, 14),
    ).key
    result = Result.objects.get(test__key=key, current=True)
    assert any(band["loss_db"]["worst"] is not None for band in result.figures["bands"])
    assert not result.counts_as_evidence


def test_a_test_at_another_ratio_than_the_designs_has_no_vote_until_the_device_is_refiled(db):
    by = factories.member("Wilma")
    key = factories.design(by, **ratio_benches.UNUN)
    other = factories.design(by, **{**ratio_benches.UNUN, "ratio": "9:1"})
    made = factories.device(by, key, tag="W-1")
    test = ratio_benches.record_loss(by, made, ratio="9:1")
    assert not Result.objects.get(test__key=test, current=True).counts_as_evidence
    devices.update_device(by=by, device=made, version=Device.objects.get(key=made).version, design=other)
    assert Result.objects.get(test__key=test, current=True).counts_as_evidence


def test_each_kind_waits_for_three_joiners_of_its_own(published):
    """Three people who add a match test renew the match alone; the loss stays as it was."""
    for person in range(20, 23):
        by = factories.member(f"winder-{person}")
        made = factories.device(by, published, tag=f"late-{person}")
        ratio_benches.record_match(by, made)
    release()
    cells = {cell.kind: cell for cell in Cell.objects.filter(design__key=published, last_release=None)}
    assert (cells["load_match"].contributors, cells["insertion_loss"].contributors) == (7, 4)
    assert cells["insertion_loss"].first_release == 1 and cells["load_match"].first_release == 2


def test_two_joiners_change_nothing(published):
    for person in range(20, 22):
        by = factories.member(f"winder-{person}")
        ratio_benches.record_loss(by, factories.device(by, published, tag=f"late-{person}"))
    release()
    cell = Cell.objects.get(design__key=published, kind="insertion_loss", last_release=None)
    assert cell.contributors == 4


def test_votes_of_one_kind_are_of_tests_of_that_kind(published):
    for cell in Cell.objects.filter(design__key=published):
        keys = set(PublishedVote.objects.filter(cell=cell).values_list("test_key", flat=True))
        kinds = set(Result.objects.filter(test__key__in=keys).values_list("test__kind", flat=True))
        assert kinds == {cell.kind}


def test_pools_and_spreads_are_of_one_kind(published):
    assert {
        pool.name: pool.figures["kind"] for pool in PublishedPool.objects.exclude(name="repeatability")
    } == {
        "usual_spread_loss": "insertion_loss",
        "usual_spread_match": "load_match",
    }
    assert set(Release.objects.get().usual_spreads) == {"common_mode", "insertion_loss", "load_match"}


def test_a_choke_is_found_as_a_current_balun_and_the_reverse(db):
    by = factories.member("Wilma")
    choke = factories.design(by)
    balun = factories.design(by, purpose="balun", turns=10)
    voltage = factories.design(by, purpose="balun", principle="voltage", turns=9)
    four = factories.design(by, purpose="balun", ratio="4:1", turns=8)

    def find(**asked) -> set[str]:
        return {row.key for row in designs.list_designs(by, filters=DesignFilters(**asked)).results}

    assert find(purpose="choke") == {choke, balun}
    assert find(purpose="balun", principle="current") == {choke, balun, four}
    assert find(purpose="balun", principle="current", ratio="1:1") == {choke, balun}
    assert find(purpose="balun", principle="voltage") == {voltage}
    assert find(purpose="balun", ratio="4:1") == {four}
    assert Design.objects.count() == 4
