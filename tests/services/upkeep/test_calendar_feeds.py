"""Calendar addresses: shown once, kept as a hash, revoked at once."""

from __future__ import annotations

import pytest

from measurements.errors import BenchnightError
from measurements.models import CalendarFeed, Member
from measurements.selectors.upkeep import due_devices
from measurements.services.upkeep import calendar_feeds
from tests import factories


def test_the_secret_is_kept_nowhere(member):
    secret = calendar_feeds.create_calendar_feed(by=member, label=" phone ")
    row = CalendarFeed.objects.get()
    assert len(secret) >= 40 and secret not in (row.secret_sha256, row.label) and row.label == "phone"
    assert secret not in str(due_devices.list_calendar_feeds(member))


def test_it_opens_as_its_owner_and_no_more(reference_data):
    """A steward's calendar shows the steward's own devices, not the group's."""
    steward = factories.member("Stella", "steward")
    secret = calendar_feeds.create_calendar_feed(by=steward)
    viewer, of_group = calendar_feeds.open_calendar_feed(secret=secret)
    assert (viewer.member_id, viewer.role) == (steward.member_id, "member")
    assert not of_group and not viewer.keeps_kit
    assert due_devices.list_calendar_feeds(steward)[0].last_used_on is not None


def test_revoked_it_is_gone(member):
    secrets = [calendar_feeds.create_calendar_feed(by=member, label=label) for label in ("phone", "desk")]
    calendar_feeds.revoke_calendar_feed(by=member, feed=due_devices.list_calendar_feeds(member)[0].name)
    with pytest.raises(BenchnightError) as caught:
        calendar_feeds.open_calendar_feed(secret=secrets[0])
    assert caught.value.code == "feed.not_found"
    viewer, of_group = calendar_feeds.open_calendar_feed(secret=secrets[1])
    assert viewer.member_id == member.member_id and not of_group


def test_others_cannot_revoke_it(member):
    calendar_feeds.create_calendar_feed(by=member)
    with pytest.raises(BenchnightError):
        calendar_feeds.revoke_calendar_feed(
            by=factories.member("Nils"), feed=due_devices.list_calendar_feeds(member)[0].name
        )
    assert (
        len(due_devices.list_calendar_feeds(member)) == 1
        and due_devices.list_calendar_feeds(factories.member("Nils")) == ()
    )


@pytest.mark.parametrize("secret", ["", "x", "x" * 43])
def test_a_guess_opens_nothing(member, secret):
    calendar_feeds.create_calendar_feed(by=member)
    with pytest.raises(BenchnightError):
        calendar_feeds.open_calendar_feed(secret=secret)


def test_an_account_that_is_shut_has_no_calendar(member):
    secret = calendar_feeds.create_calendar_feed(by=member)
    Member.objects.update(is_active=False)
    with pytest.raises(BenchnightError):
        calendar_feeds.open_calendar_feed(secret=secret)


def test_not_without_end(member, monkeypatch):
    monkeypatch.setattr(calendar_feeds, "MOST_FEEDS", 1)
    calendar_feeds.create_calendar_feed(by=member)
    with pytest.raises(BenchnightError) as caught:
        calendar_feeds.create_calendar_feed(by=member)
    assert caught.value.code == "feed.too_many"
