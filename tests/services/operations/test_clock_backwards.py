"""The clock goes back an hour: what is stored keeps its order, limits hold, unfinished work is taken up."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.utils import timezone

from measurements.models import Release, Test
from measurements.services.intakes import intakes, leases, processing
from measurements.services.operations import use_counts
from measurements.services.releases import releases
from tests import club, factories
from tests.intake_samples import HEAD, choke, states

pytestmark = pytest.mark.usefixtures("reference_data")
BACK = timedelta(hours=1)


@pytest.fixture
def clock(monkeypatch):
    """Call it with how far the clock is to be off from now on."""
    real = timezone.now

    def off(by: timedelta) -> None:
        def now() -> datetime:
            return real() + by

        monkeypatch.setattr(timezone, "now", now)

    return off


def test_a_dead_workers_intake_is_not_held_for_the_hour_that_went_back(clock):
    by = club.operator()
    night = club.night(by, calibrated=True)
    lines = [f"c{n}.s2p,G-{n},Gwenna,common_mode,,,,{factories.design(by)}" for n in (1, 2)]
    manifest = "\n".join([HEAD, *lines])
    key = intakes.begin_intake(by=by, night=night, files=[choke(1), choke(2)], manifest=manifest).key
    clock(BACK)
    held = leases.take_lease(key, "worker before")
    processing._process_unit(held, 1)  # and dies, with a lease that ends an hour from what will be now
    clock(timedelta())
    assert intakes.resume_stale_intakes(here=True) == 1
    assert states(by, key) == ["stored", "stored"]
    assert Test.objects.count() == 2


def test_a_worker_whose_clock_is_a_little_ahead_keeps_its_intake(clock):
    by = club.operator()
    night = club.night(by, calibrated=True)
    line = f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"
    key = intakes.begin_intake(by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, line])).key
    clock(timedelta(seconds=10))
    assert leases.take_lease(key, "worker on a host ahead") is not None
    clock(timedelta())
    assert intakes.resume_stale_intakes(here=True) == 0
    assert leases.take_lease(key, "another") is None


def test_releases_and_tests_keep_their_order(clock):
    by = factories.member("Ines")
    releases.make_release(by=None)
    clock(-BACK)
    factories.record(by, factories.device(by))
    releases.make_release(by=None)
    numbers = list(Release.objects.order_by("pk").values_list("number", flat=True))
    assert numbers == sorted(set(numbers)) and len(numbers) == 2
    assert Test.objects.count() == 1


def test_a_limit_that_was_reached_gives_no_second_helping_in_the_same_window():
    for _ in range(2):
        use_counts.count_use("a", limit=2, window_s=60, now=7200.0)
    assert use_counts.count_use(
        "a", limit=2, window_s=60, now=3600.0
    ).allowed  # the hour before was not used up
    assert not use_counts.count_use("a", limit=2, window_s=60, now=7210.0).allowed
