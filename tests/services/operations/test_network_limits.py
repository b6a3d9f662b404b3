"""Networks as they are counted.

A site gets a /48 or a /56, one subnet is a /64 (RFC 6177, section 2; RFC 4291, section 2.5.1); IPv4-mapped
addresses are of RFC 4291, section 2.5.5.2; documentation prefixes of RFC 3849 and RFC 5737.
"""

from __future__ import annotations

import pytest

from measurements.models import UseCount
from measurements.services.operations import network_limits, use_counts

WIDE = network_limits.WIDE_FACTOR


@pytest.fixture(autouse=True)
def _one_window(monkeypatch):
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_800_000_030.0)


@pytest.mark.parametrize(
    ("address", "networks"),
    [
        ("192.0.2.7", ("192.0.2.7",)),
        ("::ffff:192.0.2.7", ("192.0.2.7",)),
        ("2001:db8:1:2:3:4:5:6", ("2001:db8:1:2::/64", "2001:db8:1::/48")),
        ("2001:DB8:1:2::1%eth0", ("2001:db8:1:2::/64", "2001:db8:1::/48")),
        ("::1", ("::/64", "::/48")),
        ("unix:", ("unix:",)),
        ("", ("",)),
    ],
)
def test_networks(address, networks):
    assert network_limits.list_networks(address) == networks


def uses(address: str, limit: int, scope: str = "s") -> bool:
    return network_limits.count_visit(scope, address, limit=limit).allowed


@pytest.mark.django_db
def test_a_flood_that_changes_addresses_within_a_64():
    assert [uses(f"2001:db8:0:1::{number:x}", 3) for number in range(4)] == [True] * 3 + [False]
    assert uses("2001:db8:0:2::1", 3)


@pytest.mark.django_db
def test_a_flood_that_changes_networks_within_a_48():
    """Each request from a /64 of its own."""
    taken = [uses(f"2001:db8:7:{number:x}::1", 3) for number in range(3 * WIDE + 1)]
    assert taken == [True] * (3 * WIDE) + [False]
    assert uses("2001:db8:8::1", 3)


@pytest.mark.django_db
def test_all_of_ipv4_is_not_one_network():
    assert [uses(f"::ffff:192.0.2.{number}", 1) for number in range(9)] == [True] * 9
    assert not uses("192.0.2.1", 1)


@pytest.mark.django_db
def test_scopes_count_apart_and_no_address_is_stored():
    assert uses("2001:db8::1", 1, "a") and uses("2001:db8::1", 1, "b") and not uses("2001:db8::2", 1, "a")
    keys = list(UseCount.objects.values_list("key", flat=True))
    assert len(keys) == 4 and not any("2001" in key or "db8" in key for key in keys)


@pytest.mark.django_db
def test_the_strictest_of_several_answers_and_each_is_counted():
    limits = {"narrow": 5, "wide": 2}
    answers = [use_counts.count_uses(limits, window_s=60) for _ in range(3)]
    assert [answer.allowed for answer in answers] == [True, True, False]
    assert [answer.limit for answer in answers] == [2, 2, 2]
    assert use_counts.count_use("narrow", limit=5, window_s=60).remaining == 1
