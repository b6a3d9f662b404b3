"""A pooled release of 100 groups, 2,000 persons and 100,000 votes, in one pass; it takes minutes."""

from __future__ import annotations

import resource
import time

import numpy as np
import pytest
from django.db import connection

from measurements.models import KeptDesign, KeptGroup, KeptOffset, KeptRecord, KeptReleaseFile
from measurements.services.designs import designs
from measurements.services.pooling.keeper_releases import make_pooled_release
from tests import factories
from tests.services.pooling.invented_groups import BANDS

GROUPS, PERSONS, VOTES, DESIGNS = 100, 2000, 100_000, 1000


def fill(rng: np.random.Generator) -> None:
    """Groups of 20 persons with 50 votes each on popular designs; one group's jig reads 2 dB high."""
    groups = KeptGroup.objects.bulk_create(
        KeptGroup(key=rng.bytes(32).hex(), name=f"Club {n}") for n in range(GROUPS)
    )
    recipes = [designs.preview_design(factories.recipe(turns=n + 1)) for n in range(150)]
    made = KeptDesign.objects.bulk_create(
        KeptDesign(
            recipe_sha256=rng.bytes(32).hex(),
            recipe_form=1,
            recipe=recipes[n % 150].as_json,
            title=f"Design {n}",
        )
        for n in range(DESIGNS)
    )
    middle = rng.uniform(15, 35, (DESIGNS, len(BANDS)))
    popularity = 1 / np.arange(1, DESIGNS + 1) ** 0.7
    popularity /= popularity.sum()
    rows = []
    for person in range(PERSONS):
        group = person % GROUPS
        for design in rng.choice(DESIGNS, VOTES // PERSONS, p=popularity, replace=False):
            noise = rng.normal(0, 2.0) - 15 * (rng.random() < 0.1) + (2.0 if group == 0 else 0.0)
            figures = np.clip(middle[design] + noise + rng.normal(0, 0.5, len(BANDS)), -4, 99)
            curve = np.round(10 * (middle[design].mean() + noise) + rng.normal(0, 5, 97)).astype("<i2")
            names = [rng.bytes(16).hex() for _ in range(3)]
            rows.append(
                KeptRecord(
                    group=groups[group],
                    design=made[design],
                    kind="common_mode",
                    person=names[0],
                    device=names[1],
                    vote=names[2],
                    bands=dict(zip(BANDS, figures.round(1).tolist(), strict=True)),
                    u_class="quarter",
                    curve=curve.tobytes(),
                    quarter="2026-Q4",
                )
            )
    KeptRecord.objects.bulk_create(rows, batch_size=2000)


@pytest.mark.long
@pytest.mark.django_db
def test_a_hundred_groups_in_one_pass():
    fill(np.random.default_rng(1))
    assert KeptRecord.objects.count() == VOTES
    begun, used = time.monotonic(), time.process_time()
    made = make_pooled_release()
    took, cpu = time.monotonic() - begun, time.process_time() - used
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    size = sum(len(bytes(file.content)) for file in KeptReleaseFile.objects.all())
    told = KeptOffset.objects.filter(certain=True)
    named = told.filter(group__name="Club 0").count()
    print(
        f"{connection.vendor}: {made.groups} groups, {PERSONS} persons, {VOTES} votes, {made.replaced} "
        f"designs: first pooled release in {took:.0f} s, {cpu:.0f} s of processor time, peak {peak:.0f} MB, "
        f"files {size / 1e6:.1f} MB; offsets named: {told.count()}, of them {named} of the group whose jig "
        "is 2 dB off"
    )
    assert made.groups == GROUPS and made.replaced > 900
    assert told.filter(group__name="Club 0").count() == len(BANDS)
    begun = time.process_time()
    again = make_pooled_release()
    print(f"the next one, nothing new: {time.process_time() - begun:.0f} s of processor time")
    assert again.kept == made.replaced
    assert cpu < 600
