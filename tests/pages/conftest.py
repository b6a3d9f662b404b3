"""Who opens the pages in tests, and a small invented group for them to see."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from time import time

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from measurements.disclosure.viewers import Viewer
from measurements.pages.accounts import browser_sessions
from measurements.services.analysers import analysers
from measurements.services.nights import nights
from measurements.services.releases import releases
from measurements.services.upkeep import calendar_feeds, fault_searches, inspections, photos
from tests import factories, scenes
from tests.photo_samples import picture


@dataclass(frozen=True)
class Group:
    """Six people with a tested device each of one design, a release, one more member, and a club night.

    The owner's device was inspected and photographed, and a fault search on it has begun.
    """

    owner: Viewer
    stranger: Viewer
    steward: Viewer
    design: str
    device: str
    test: str
    operator: Viewer
    night: str
    inspection: str
    photo: str
    search: str
    feed: str
    analyser: str


def signed_in(viewer: Viewer, *, by_link: bool = True) -> Client:
    """A browser in which this viewer is signed in: just now by a link, or by something that was long ago."""
    client = Client()
    client.force_login(get_user_model().objects.get(pk=viewer.member_id))
    if by_link:
        session = client.session
        session[browser_sessions.OPENED_BY_LINK] = time()
        session.save()
    return client


def build_group() -> Group:
    """Build the group through services; needs the reference data."""
    design = factories.evidence(6)
    owner = factories.member("person-0")
    device = factories.device(owner, design, tag="QX-TAG-77")
    test = factories.record(owner, device, factories.choke_s2p(seed=99), name="secret-name.s2p")
    releases.make_release()
    look = inspections.record_inspection(
        by=owner, device=device, inspected_on=date(2026, 4, 2), findings={"terminals": {"state": "ok"}}
    )
    photo = photos.add_photo(by=owner, device=device, data=picture(), caption="the lid")
    search = fault_searches.begin_fault_search(by=owner, device=device, symptom="high_swr", band="40m")
    operator = factories.member("Ola", "operator")
    night = nights.open_night(by=operator, held_on=date(2026, 3, 14), title="Autumn bench")
    analyser = analysers.describe_analyser(by=owner, name="QX-analyser", paths=1).key
    return Group(
        analyser=analyser,
        owner=owner,
        stranger=factories.member("Ben"),
        steward=factories.member("Cleo", "steward"),
        design=design,
        device=device,
        test=test,
        operator=operator,
        night=night.key,
        inspection=look.key,
        photo=photo.key,
        search=search.key,
        feed=calendar_feeds.create_calendar_feed(by=owner),
    )


page_group = scenes.share("page_group", build_group)


@pytest.fixture
def group(page_group: Group, db: None) -> Group:
    return page_group


@pytest.fixture
def owner(group: Group) -> Client:
    return signed_in(group.owner)


@pytest.fixture
def stranger(group: Group) -> Client:
    return signed_in(group.stranger)


@pytest.fixture
def nobody(group: Group) -> Client:
    return Client()
