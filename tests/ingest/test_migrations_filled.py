"""A filled database goes back to an older version and forward again, and what both know is as it was."""

from __future__ import annotations

import random

import numpy as np
import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from measurements.ingest import reference, releases, table_rows
from measurements.models import Release, Result
from measurements.queries import evidence, release_files
from measurements.rf import packed_traces
from measurements.rf.sweep import Floats
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)
OLDER = ("measurements", "0003_nights_and_upkeep")
# what the older version does not hold: the next release works it out, or asks for it, again
LOST = {"measurements.DecisionMark", "measurements.NightDevice"}


def migrate(*targets: tuple[str, str]) -> None:
    MigrationExecutor(connection).migrate(list(targets))


@pytest.fixture
def at_head():
    yield
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def content() -> dict[str, str]:
    found = {}
    for table in table_rows.tables():
        tally = table_rows.Tally()
        for line in table_rows.lines(table, table_rows.columns(table), using="default"):
            tally.take(line)
        found[table_rows.label(table)] = f"{tally.rows} {tally.sha256}"
    return found


def drawn() -> list[tuple[tuple[object, ...], dict[str, Floats]]]:
    """Every result: what it holds beside its curves, and those."""
    made_again = ("trace_names", "traces", "published")  # the last by the next release, of the figures
    names = [field.attname for field in Result._meta.concrete_fields if field.name not in made_again]
    plain = Result.objects.order_by("pk").values_list(*names)
    packed = Result.objects.order_by("pk").values_list("trace_names", "traces")
    return [(figures, packed_traces.unpack(*block)) for figures, block in zip(plain, packed, strict=True)]


def test_back_and_forward_again(at_head):
    reference.load()
    factories.evidence(4)
    releases.make(rng=random.Random(1))
    reader = factories.member("reader")
    rows, before, curves = list(evidence.stream(reader)), content(), drawn()
    table = release_files.content(reader, 1, "evidence.csv")[1]
    migrate(OLDER)
    executor = MigrationExecutor(connection)
    migrate(*executor.loader.graph.leaf_nodes())
    after = content()
    changed = {name for name in before if after[name] != before[name]} - LOST
    # a file's pieces are packed anew; unpacked they are the same. Curves go back with seven digits
    assert changed <= {"measurements.ReleaseFilePart", "measurements.Result"}
    for (figures, was), (figures_after, now) in zip(curves, drawn(), strict=True):
        assert figures_after == figures and now.keys() == was.keys() >= {"freq_hz", "rejection_db"}
        for name, values in was.items():
            np.testing.assert_allclose(now[name], values, rtol=1e-6)
    assert list(evidence.stream(reader)) == rows != []
    assert release_files.content(reader, 1, "evidence.csv")[1] == table
    assert releases.make(rng=random.Random(2)).kept == 1
    assert Release.objects.count() == 2
