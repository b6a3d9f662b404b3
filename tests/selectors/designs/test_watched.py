"""Watched designs: a release that changes a published verdict is in the feed, and nothing else."""

from __future__ import annotations

import pytest

from measurements.models import WatchedDesign
from measurements.pages.upkeep import news_feed
from measurements.selectors.designs import watched
from measurements.services.designs import watching
from measurements.services.releases import releases
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def reader(reference_data):
    return factories.member("reader")


def test_a_changed_verdict_is_told_once_with_both(reader):
    design = factories.evidence(3, peak_ohm=3000)
    releases.make_release()
    watching.watch_design(by=reader, design=design)
    assert watched.list_verdict_changes(reader) == ()
    releases.make_release()
    assert watched.list_verdict_changes(reader) == ()  # a release that changes nothing is no news
    factories.evidence(6, peak_ohm=60, first=10)
    releases.make_release()
    (change,) = watched.list_verdict_changes(reader)
    assert (change.design, change.release) == (design, 3) and change.bands
    assert all(before == "typically_meets" != now for _band, _kind, before, now in change.bands)
    text = news_feed.build_news_feed(
        (), (), (change,), site="http://bench", address="http://bench/x"
    ).decode()
    assert f"http://bench/designs/{design}/#release-3" in text and "typically meets, now" in text
    releases.make_release()
    assert watched.list_verdict_changes(reader) == (change,)


def test_what_was_before_the_watch_is_no_news(reader):
    design = factories.evidence(3)
    releases.make_release()
    watching.watch_design(by=reader, design=design)
    assert watched.list_verdict_changes(reader) == ()
    assert watched.list_verdict_changes(factories.member("other")) == ()


def test_a_design_that_gets_its_first_verdict(reader):
    design = factories.evidence(2)
    releases.make_release()
    watching.watch_design(by=reader, design=design)
    factories.evidence(2, first=10)
    releases.make_release()
    (change,) = watched.list_verdict_changes(reader)
    assert {before for _band, _kind, before, _now in change.bands} == {"no verdict"}


def test_watching_is_of_one_member_bounded_and_ends(reader, monkeypatch):
    one, two = factories.evidence(1), factories.evidence(1, turns=9)
    for _time in range(2):
        watching.watch_design(by=reader, design=one)
    assert WatchedDesign.objects.count() == 1 and watched.is_watched(reader, one)
    assert not watched.is_watched(factories.member("other"), one)
    monkeypatch.setattr(watching, "MOST_WATCHED", 1)
    with pytest.raises(Exception, match="You watch 1 designs"):
        watching.watch_design(by=reader, design=two)
    watching.watch_design(by=reader, design=one)
    for _time in range(2):
        watching.stop_watching_design(by=reader, design=one)
    assert not WatchedDesign.objects.exists()
    with pytest.raises(Exception, match="design"):
        watching.watch_design(by=reader, design="222222222222")
