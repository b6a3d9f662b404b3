"""The demo: invented sweeps through the real writes, of every verdict, clean, and loaded once."""

from __future__ import annotations

from collections import Counter

import pytest

from measurements.disclosure.circles import ANONYMOUS
from measurements.ingest import demo, releases
from measurements.models import Contributor, Design, Device, Member, Result, Test
from measurements.queries import designs
from tests import factories

# what a clean sweep of a usual bench may carry: what was not measured, and what the jig cannot show
MAY_BE_NOTED = {
    "unmeasured_columns",
    "floor_unknown",
    "jig_incomplete",
    "jig_limited",
    "calibration_unknown",
    "no_stray_capacitance",
    "no_self_resonance",
    "balance_no_loss",
    "ratio_indicative",
}
# and what the scenario plants on purpose
PLANTED = {"uncalibrated": 2, "readings": 1}


@pytest.fixture(scope="module")
def _loaded(django_db_setup, django_db_blocker):
    """Loaded once for the tests of this module, and taken away again."""
    with django_db_blocker.unblock():
        from django.db import transaction

        with transaction.atomic():
            first = demo.load()
            again = demo.load()
            releases.make()
            yield first, again
            transaction.set_rollback(True)


@pytest.fixture
def loaded(_loaded, db):
    return _loaded


def test_it_is_a_group_and_loading_twice_changes_nothing(loaded):
    first, again = loaded
    assert first.devices >= 60 and first.designs >= 15 and first.members >= 12
    assert (again.members, again.designs, again.devices, again.tests) == (0, 0, 0, 0)
    assert Device.objects.count() == first.devices and Test.objects.count() == first.tests
    assert Contributor.objects.count() >= 12
    assert set(Member.objects.values_list("role", flat=True)) == {"member", "operator", "steward"}


def test_clean_sweeps_raise_no_flag(loaded):
    flags = Counter(
        flag["code"]
        for figures in Result.objects.values_list("figures", flat=True)
        for flag in figures["flags"]
    )
    assert {code: count for code, count in flags.items() if code not in MAY_BE_NOTED} == PLANTED


def test_a_full_and_calibrated_sweep_over_an_open_jig_has_no_flag_at_all(loaded):
    """The best a bench can do is not nagged."""
    spotless = [
        figures
        for figures in Result.objects.filter(test__kind="common_mode").values_list("figures", flat=True)
        if figures["measured"]["s22"] and figures["summary"]["floor_db"] is not None and not figures["flags"]
    ]
    assert spotless


def test_designs_of_every_verdict_for_both_circles(loaded):
    for viewer in (ANONYMOUS, factories.member("Visiting")):
        verdicts = {shown["verdict"] for row in designs.listing(viewer).results for shown in row.evidence}
        assert verdicts == {"typically_meets", "mixed", "typically_falls_short", "not_enough_devices"}


def test_every_kind_is_there(loaded):
    kinds = set(Test.objects.values_list("kind", flat=True))
    assert kinds == {"common_mode", "load_match", "insertion_loss", "balance", "in_situ"}


def test_physics_is_visible_in_the_figures(loaded):
    """Mix 61 chokes less than mix 31 at 3.7 MHz and both choke at 14 MHz (published permeabilities)."""
    medians = {}
    for row in designs.listing(factories.member("Visiting"), bands=("80m", "20m")).results:
        for shown in row.evidence:
            if shown["rejection_db"]["median"] is not None:
                medians.setdefault((row.mix, shown["band"]), []).append(shown["rejection_db"]["median"])
    assert max(medians["61", "80m"]) < min(medians["31", "20m"])
    assert max(medians["61", "80m"]) < max(medians["31", "80m"])
    assert Design.objects.filter(mix="61").exists()
