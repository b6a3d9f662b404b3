"""Families pool what a circle sees anyway, and nothing that is withheld from it."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.disclosure.circles import ANONYMOUS
from measurements.ingest import releases
from measurements.queries import designs, families
from measurements.queries.design_filters import DesignFilters
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def wires(reference_data):
    """Twelve turns of three wires: six people, four people, and two (never published)."""
    keys = [
        factories.evidence(6, conductor="RG-316"),
        factories.evidence(4, peak_ohm=1500, conductor="RG-400", first=6),
        factories.evidence(2, peak_ohm=300, conductor="RG-58", first=10),
    ]
    releases.make()
    return keys


def test_members_see_the_published_designs_pooled(wires):
    (family,) = families.by_core_and_turns(factories.member("reader"), bands=("30m",))
    assert (family.turns, family.mix, family.designs) == (12, "31", 2)
    assert family.evidence[0]["devices"] == 10  # never the two of the design that is not published


def test_the_public_pool_holds_only_designs_that_the_public_sees(wires):
    (family,) = families.by_core_and_turns(ANONYMOUS, bands=("30m",))
    assert family.designs == 1
    shown = family.evidence[0]
    assert shown["devices"] == "5-9" and shown["rejection_db"]["median"] % 0.5 == 0
    assert shown["share"] is None and shown["rejection_db"]["p10"] is None


def test_filters_hold_and_without_a_release_there_is_none(reference_data):
    factories.evidence(3)
    reader = factories.member("reader")
    assert families.by_core_and_turns(reader) == ()
    releases.make()
    assert len(families.by_core_and_turns(reader)) == 1
    assert families.by_core_and_turns(reader, filters=DesignFilters(mix="43")) == ()


def test_queries_do_not_grow_with_the_families(wires):
    reader = factories.member("reader")
    counts = []
    for turns in (None, 10):
        if turns:
            factories.evidence(3, turns=turns)
            releases.make()
        families.by_core_and_turns(reader)
        with CaptureQueriesContext(connection) as queries:
            families.by_core_and_turns(reader)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 4


def test_a_band_on_which_a_design_is_withheld_is_not_pooled(reference_data):
    """Five people stand behind the second design, three on 80 m: there the public sees nothing of it."""
    whole = factories.evidence(8, conductor="RG-316")
    partly = factories.evidence(3, peak_ohm=300, conductor="RG-400", first=8)
    for person in (11, 12):
        by = factories.member(f"person-{person}")
        device = factories.device(by, partly, tag=f"short-{person}")
        factories.record(by, device, above_5_mhz(factories.choke_s2p(300, seed=person)))
    releases.make()
    assert designs.one(ANONYMOUS, partly, bands=("80m",)).evidence[0]["devices"] is None
    (family,) = families.by_core_and_turns(ANONYMOUS, bands=("80m",))
    assert family.evidence == designs.one(ANONYMOUS, whole, bands=("80m",)).evidence
    (family,) = families.by_core_and_turns(ANONYMOUS, bands=("30m",))
    assert family.designs == 2 and family.evidence[0]["devices"] == "10-19"


def above_5_mhz(touchstone: bytes) -> bytes:
    """The sweep without its points below 5 MHz."""
    return b"".join(
        line
        for line in touchstone.splitlines(keepends=True)
        if line[:1] in b"!#" or float(line.split()[0]) >= 5e6
    )
