"""A filled database goes back to an older version and forward again, and what both know is as it was."""

from __future__ import annotations

import random

import numpy as np
import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Cell, Release, Result
from measurements.rf.sweeps import result_values
from measurements.rf.sweeps.sweep import Floats
from measurements.selectors.designs import evidence_records
from measurements.selectors.releases import release_files
from measurements.services.operations import table_rows
from measurements.services.reference import reference_files
from measurements.services.releases import releases
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)
OLDER = ("measurements", "0003_nights_and_upkeep")
# what the older version does not hold: the next release works it out, or asks for it, again
LOST = {"measurements.NightDevice", "measurements.PublishedPool", "measurements.ReleaseAnswer"}
WITHDRAWN = {
    "measurements.Cell",
    "measurements.PublishedVote",
    "measurements.ReleaseFile",
    "measurements.ReleaseFilePart",
}


def migrate(*targets: tuple[str, str]) -> None:
    MigrationExecutor(connection).migrate(list(targets))


@pytest.fixture
def at_head():
    yield
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def content() -> dict[str, str]:
    found = {}
    for table in table_rows.list_tables():
        tally = table_rows.LineTally()
        for line in table_rows.read_table_lines(table, table_rows.list_columns(table), using="default"):
            tally.take(line)
        found[table_rows.get_table_label(table)] = f"{tally.rows} {tally.sha256}"
    return found


def drawn() -> list[tuple[tuple[object, ...], dict[str, Floats]]]:
    """Every result: what it holds beside its curves, and those."""
    made_again = ("trace_names", "traces", "published")  # the last by the next release, of the figures
    names = [field.attname for field in Result._meta.concrete_fields if field.name not in made_again]
    plain = Result.objects.order_by("pk").values_list(*names)
    packed = Result.objects.order_by("pk").values_list("trace_names", "traces")
    return [
        (figures, result_values.unpack_traces(*block)) for figures, block in zip(plain, packed, strict=True)
    ]


def test_back_and_forward_again(at_head):
    reference_files.load_reference_data()
    factories.evidence(4)
    releases.make_release(rng=random.Random(1))
    reader = factories.member("reader")
    rows, before, curves = list_rows(reader), content(), drawn()
    migrate(OLDER)
    executor = MigrationExecutor(connection)
    migrate(*executor.loader.graph.leaf_nodes())
    after = content()
    changed = {name for name in before if after[name] != before[name]} - LOST
    # Curves go back with seven digits. Columns that are newer than the old state (spreads of a release,
    # doubts of a recipe) have nowhere to go on the way back
    newer = {"measurements.Release", "measurements.Test", "measurements.Result"}
    assert changed <= newer | WITHDRAWN
    for (figures, was), (figures_after, now) in zip(curves, drawn(), strict=True):
        assert figures_after == figures and now.keys() == was.keys() >= {"freq_hz", "rejection_db"}
        for name, values in was.items():
            np.testing.assert_allclose(now[name], values, rtol=1e-6)
    # what was published before migration 0018 is withdrawn, and the next release starts afresh
    assert not Cell.objects.exists()
    with pytest.raises(BenchnightError, match="withdrawn"):
        release_files.get_file_content(reader, 1, "evidence.csv")
    assert releases.make_release(rng=random.Random(2)).replaced == 1
    assert list_rows(reader) == rows != []
    assert Release.objects.count() == 2


def list_rows(reader: Viewer) -> list[dict[str, object]]:
    """List the evidence without the number of its release."""
    return [{**row, "release": None} for row in evidence_records.stream_evidence_records(reader)]
