"""A release publishes one set of votes for the core bands; what is asked over several bands rests on it."""

from __future__ import annotations

import random

import numpy as np
import pytest

from measurements.disclosure.votes import Vote
from measurements.errors import BenchnightError
from measurements.models import Cell, PoolVote, PublishedPool, PublishedVote, Release
from measurements.selectors.designs import designs
from measurements.services.releases import design_decisions, ledger_audit, pools, releases
from measurements.services.releases.evidence_rows import WORST_DTYPE
from measurements.services.releases.ledger_audit import FamilySet
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")
BANDS = ("80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m")


def short_sweep(low_hz: float, seed: int) -> bytes:
    """A choke's sweep that begins at `low_hz`."""
    lines = factories.choke_s2p(3000, seed=seed, points=101).decode().splitlines()
    kept = [line for line in lines if line[0] in "!#" or float(line.split()[0]) >= low_hz]
    return ("\n".join(kept) + "\n").encode()


def join(name: str, design: str, low_hz: float = 1e6) -> None:
    who = factories.member(name)
    sweep = short_sweep(low_hz, seed=sum(map(ord, name)))
    factories.record(who, factories.device(who, design, f"{name}-{design}"), sweep)


def release() -> None:
    releases.make_release(rng=random.Random(3), files=False)


def persons(design: str, *bands: str) -> int | None:
    row = designs.get_design(factories.member("reader"), design, bands=bands)
    return (row.joint if len(bands) > 1 else row.evidence[0])["contributors"]


def test_bands_asked_together_never_differ_by_the_one_person_who_lacks_a_band():
    """Before, 40 m rested on eleven persons and 40 with 80 m on ten: the difference was one figure."""
    design = factories.evidence(10)
    join("without 80 m", design, low_hz=5e6)
    release()
    assert {persons(design, band) for band in BANDS} == {10}
    for pair in (("40m", "80m"), ("40m", "20m"), BANDS):
        assert persons(design, *pair) == 10
    cell = Cell.objects.get(design__key=design, band="")
    worst_db = np.frombuffer(bytes(cell.worst_db), WORST_DTYPE)
    assert not np.isnan(worst_db).any()


def test_a_question_beyond_the_core_set_has_no_answer():
    """Three of eight do not reach 160 m: its set is one of its own, and is never crossed with the core's."""
    design = factories.evidence(5)
    for name in ("f", "g", "h"):
        join(name, design, low_hz=3e6)
    release()
    assert (persons(design, "40m"), persons(design, "160m")) == (8, 5)
    assert persons(design, "40m", "160m") is None
    assert {cell.band for cell in Cell.objects.all()} == {"", "160m"}


def test_a_curve_goes_no_further_than_its_set():
    design = factories.evidence(5)
    for name in ("f", "g", "h"):
        join(name, design, low_hz=3e6)
    release()
    curves = Cell.objects.get(design__key=design, band="").curves
    counts = np.array(curves["contributors"])
    assert set(counts.tolist()) == {0, 8}


def audit(number: int, families=()):
    groups = design_decisions.list_design_groups({})
    return ledger_audit.audit_ledger(number, groups, 3, families=families)


def add_cell(design: str, people: str, number: int, bands=("40m",)) -> Cell:
    """Write a cell past the rule, as a defect would."""
    source = Cell.objects.get(design__key=design, first_release=1, band="")
    Cell.objects.filter(design=source.design, last_release=None).update(last_release=number - 1)
    made = Cell.objects.create(
        design=source.design,
        first_release=number,
        devices=len(people),
        contributors=len(people),
        bands=list(bands),
        worst_db=np.full(len(people) * len(bands), 25, dtype=WORST_DTYPE).tobytes(),
        content_sha256="0" * 64,
    )
    PublishedVote.objects.bulk_create(
        PublishedVote(cell=made, contributor_key=who, device_key=f"d-{who}", test_key=f"t-{who}")
        for who in people
    )
    return made


def test_the_audit_names_a_cell_with_too_few_new_persons():
    design = factories.evidence(4)
    release()
    add_cell(design, "abc", 2)
    assert audit(2) is None
    add_cell(design, "abcd", 3)
    found = audit(3)
    assert "on 40m in release 3" in found.what and found.joiners == 1


def test_the_audit_names_a_band_without_all_votes_of_its_set():
    design = factories.evidence(4)
    release()
    cell = add_cell(design, "abc", 2, bands=("40m", "80m"))
    holes = np.full((3, 2), 25, dtype=WORST_DTYPE)
    holes[1, 1] = np.nan
    Cell.objects.filter(pk=cell.pk).update(worst_db=holes.tobytes())
    assert "80m" in audit(2).what


def test_the_audit_names_a_family_that_is_no_union_of_published_sets():
    one, other = factories.evidence(4), factories.evidence(4, turns=9, first=10)
    release()
    pks = tuple(Cell.objects.order_by("design").values_list("design", flat=True))
    assert audit(1, [FamilySet("a family on 40m", "40m", pks)]) is None
    shared = PublishedVote.objects.filter(cell__design__key=one).first()
    PublishedVote.objects.filter(pk=PublishedVote.objects.filter(cell__design__key=other).first().pk).update(
        contributor_key=shared.contributor_key, device_key=shared.device_key, test_key=shared.test_key
    )
    assert audit(1, [FamilySet("a family on 40m", "40m", pks)]).what == "a family on 40m"


@pytest.mark.parametrize("name", [pools.REPEATABILITY, pools.LEARNED["public"]])
def test_the_audit_names_a_pool_that_too_few_joined(name):
    release()
    for number, people in ((1, "abcd"), (2, "abcde")):
        pool = PublishedPool.objects.create(name=name, release=number)
        PoolVote.objects.bulk_create(
            PoolVote(pool=pool, contributor_key=who, device_key=f"d-{who}", test_key=f"t-{who}")
            for who in people
        )
    assert audit(1) is None
    found = audit(2)
    assert (found.what, found.joiners) == (f"the pool {name} in release 2", 1)


def test_a_release_that_fails_the_audit_is_not_made_public(monkeypatch):
    design = factories.evidence(4)
    release()
    factories.evidence(1, first=20)

    def choose_everything(wanted: frozenset[Vote], *_rest) -> None:
        return None

    monkeypatch.setattr("measurements.disclosure.release_rule.find_hindrance", choose_everything)
    with pytest.raises(BenchnightError) as refused:
        release()
    assert refused.value.code == "release.audit" and "1 new people" in str(refused.value)
    assert Release.objects.count() == 1
    assert persons(design, "40m") == 4
