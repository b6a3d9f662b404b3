"""Families pool what a circle sees anyway, and nothing that is withheld from it."""

from __future__ import annotations

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.disclosure.viewers import ANONYMOUS
from measurements.selectors.designs import designs, families
from measurements.selectors.designs.design_filters import DesignFilters
from measurements.selectors.evidence import evidence_table
from measurements.services.releases import releases
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
    releases.make_release()
    return keys


def test_members_see_the_published_designs_pooled(wires):
    (family,) = families.list_families_by_core(factories.member("reader"), bands=("30m",))
    assert (family.shared["turns"], family.mix, family.designs) == (12, "31", 2)
    assert family.evidence[0]["devices"] == 10  # never the two of the design that is not published


def test_the_public_pool_holds_only_designs_that_the_public_sees(wires):
    (family,) = families.list_families_by_core(ANONYMOUS, bands=("30m",))
    assert family.designs == 1
    shown = family.evidence[0]
    assert shown["devices"] == "5-9" and shown["rejection_db"]["median"] % 0.5 == 0
    assert shown["share"] is None and shown["rejection_db"]["p10"] is None


def test_filters_hold_and_without_a_release_there_is_none(reference_data):
    factories.evidence(3)
    reader = factories.member("reader")
    assert families.list_families_by_core(reader) == ()
    releases.make_release()
    assert len(families.list_families_by_core(reader)) == 1
    assert families.list_families_by_core(reader, filters=DesignFilters(mix="43")) == ()


def test_queries_do_not_grow_with_the_families(wires):
    reader = factories.member("reader")
    counts = []
    for turns in (None, 10):
        if turns:
            factories.evidence(3, turns=turns)
            releases.make_release()
        families.list_families_by_core(reader)
        with CaptureQueriesContext(connection) as queries:
            families.list_families_by_core(reader)
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
    releases.make_release()
    assert designs.get_design(ANONYMOUS, partly, bands=("80m",)).evidence[0]["devices"] is None
    (family,) = families.list_families_by_core(ANONYMOUS, bands=("80m",))
    assert family.evidence == designs.get_design(ANONYMOUS, whole, bands=("80m",)).evidence
    (family,) = families.list_families_by_core(ANONYMOUS, bands=("30m",))
    assert family.designs == 2 and family.evidence[0]["devices"] == "10-19"


def test_a_design_belongs_to_the_narrow_and_the_wide_family(wires):
    """Other turns of the same mix and ratio are in the wide one only; another mix is in neither."""
    factories.evidence(5, turns=9, peak_ohm=900, first=12)
    factories.evidence(5, turns=12, mix="43", first=17)
    releases.make_release()
    reader = factories.member("reader")
    own = designs.get_design(reader, wires[0])
    narrow, wide = families.list_families_of_design(reader, own, bands=("30m",))
    assert (narrow.kind, narrow.designs, narrow.evidence[0]["devices"]) == ("core_and_turns", 2, 10)
    assert (wide.kind, wide.designs, wide.evidence[0]["devices"]) == ("mix_and_ratio", 3, 15)
    assert (wide.mix, wide.shared) == ("31", {"ratio": "1:1"})
    public = families.list_families_of_design(
        ANONYMOUS, designs.get_design(ANONYMOUS, wires[0]), bands=("30m",)
    )
    assert [(row.kind, row.designs) for row in public] == [("mix_and_ratio", 2)]  # RG-400 has four people
    assert public[0].evidence[0]["devices"] == "10-19"


def test_a_design_that_nobody_tested_learns_from_its_families(wires):
    reader = factories.member("reader")
    untested = factories.design(reader, conductor="RG-142")
    rows = families.list_families_of_design(reader, designs.get_design(reader, untested), bands=("30m",))
    assert [row.designs for row in rows] == [2, 2]


def test_a_family_of_one_design_is_no_family(reference_data):
    alone = factories.evidence(5)
    releases.make_release()
    assert families.list_families_of_design(ANONYMOUS, designs.get_design(ANONYMOUS, alone)) == ()


@pytest.mark.parametrize("viewer", ["public", "members"])
def test_a_wide_family_minus_its_designs_leaves_nobody(wires, viewer):
    """Decision 9: on every band the pool is exactly the designs that this reader sees there one by one."""
    reader = ANONYMOUS if viewer == "public" else factories.member("reader")
    factories.evidence(3 if viewer == "public" else 2, turns=9, peak_ohm=300, first=12)
    factories.evidence(5, turns=8, peak_ohm=900, first=16)
    releases.make_release()
    own = designs.get_design(reader, wires[0])
    (wide,) = [row for row in families.list_families_of_design(reader, own) if row.kind == "mix_and_ratio"]
    table = evidence_table.get_evidence_table()
    for shown in wide.evidence:
        band = shown["band"]
        rows = designs.list_designs(reader, bands=(band,)).results
        seen = [row.key for row in rows if row.evidence[0]["devices"] is not None]
        assert (shown["devices"] is None) == (seen == [])
        pooled = np.concatenate([column_db(table, key, band) for key in seen]) if seen else np.empty(0)
        if pooled.size:
            # people may stand behind several designs: only the largest counts, six, so whole decibels
            assert shown["rejection_db"]["p10"] is None
            assert shown["rejection_db"]["median"] == round(float(np.median(pooled)))


def column_db(table: evidence_table.EvidenceTable, design: str, band: str) -> np.ndarray:
    """Pick the worst-in-band rejections of a design's devices on a band, dB."""
    values = table.worst[table.design == table.index_of[design], table.bands.index(band)]
    return values[~np.isnan(values)]


def above_5_mhz(touchstone: bytes) -> bytes:
    """The sweep without its points below 5 MHz."""
    return b"".join(
        line
        for line in touchstone.splitlines(keepends=True)
        if line[:1] in b"!#" or float(line.split()[0]) >= 5e6
    )
