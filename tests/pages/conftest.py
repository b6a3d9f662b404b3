"""Who opens the pages in tests, and a small invented group for them to see."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from measurements.disclosure.circles import Viewer
from measurements.ingest import nights, releases
from tests import factories


@dataclass(frozen=True)
class Group:
    """Six people with a tested device each of one design, a release, one more member, and a club night."""

    owner: Viewer
    stranger: Viewer
    steward: Viewer
    design: str
    device: str
    test: str
    operator: Viewer
    night: str


def signed_in(viewer: Viewer) -> Client:
    """A browser in which this viewer is signed in."""
    client = Client()
    client.force_login(get_user_model().objects.get(pk=viewer.member_id))
    return client


@pytest.fixture
def group(reference_data: None) -> Group:
    design = factories.evidence(6)
    owner = factories.member("person-0")
    device = factories.device(owner, design, tag="QX-TAG-77")
    test = factories.record(owner, device, factories.choke_s2p(seed=99), name="secret-name.s2p")
    releases.make()
    operator = factories.member("Ola", "operator")
    night = nights.open_night(by=operator, held_on=date(2026, 3, 14), title="Autumn bench")
    return Group(
        owner=owner,
        stranger=factories.member("Ben"),
        steward=factories.member("Cleo", "steward"),
        design=design,
        device=device,
        test=test,
        operator=operator,
        night=night.key,
    )


@pytest.fixture
def owner(group: Group) -> Client:
    return signed_in(group.owner)


@pytest.fixture
def stranger(group: Group) -> Client:
    return signed_in(group.stranger)


@pytest.fixture
def nobody(group: Group) -> Client:
    return Client()
