"""A filled database goes back to an older version and forward again, and what both know is as it was."""

from __future__ import annotations

import random

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from measurements.ingest import reference, releases, table_rows
from measurements.models import Release
from measurements.queries import evidence, release_files
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


def test_back_and_forward_again(at_head):
    reference.load()
    factories.evidence(4)
    releases.make(rng=random.Random(1))
    reader = factories.member("reader")
    rows, before = list(evidence.stream(reader)), content()
    table = release_files.content(reader, 1, "evidence.csv")[1]
    migrate(OLDER)
    executor = MigrationExecutor(connection)
    migrate(*executor.loader.graph.leaf_nodes())
    after = content()
    changed = {name for name in before if after[name] != before[name]} - LOST
    # a file's pieces are packed anew; unpacked they are the same
    assert changed <= {"measurements.ReleaseFilePart"}
    assert list(evidence.stream(reader)) == rows != []
    assert release_files.content(reader, 1, "evidence.csv")[1] == table
    assert releases.make(rng=random.Random(2)).kept == 1
    assert Release.objects.count() == 2
