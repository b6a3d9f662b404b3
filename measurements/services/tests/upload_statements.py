"""The SQL of an upload: one statement asks everything, and its rows go to the server together.

An upload waits for each round trip to the database longer than for the answer. So this module, and no other
one, writes SQL for tables that the rest of the house reaches through the ORM. It uses Django's cursor and, on
PostgreSQL, psycopg's pipeline. Column names and values come from the models.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from django.db import connection
from django.db.models import Model

from measurements.models import Allocation, Benchmark, Contributor, Device, SweepFile, Test
from measurements.rf.bands import Band

_TEST, _DEVICE, _CONTRIBUTOR = (table._meta.db_table for table in (Test, Device, Contributor))

# part, two texts, two numbers, three whole numbers; what a part leaves empty has a type all the same, because
# PostgreSQL gives a bare NULL the type of a text
_ASK_DEVICE = f"""
SELECT 'device', CAST(NULL AS VARCHAR(64)),
  CASE WHEN d.is_check_standard THEN CAST('check standard' AS VARCHAR(64)) END,
  CASE WHEN c.is_group THEN 1.0 ELSE 0.0 END, CAST(NULL AS DOUBLE PRECISION),
  d.id, d.contributor_id, c.member_id
FROM {_DEVICE} d JOIN {_CONTRIBUTOR} c ON c.id = d.contributor_id WHERE d.key = %s
"""  # noqa: S608  # names of our own tables, here and below
_ASK_SAME_TEST = f"""
SELECT 'same test', t.key, NULL, NULL, NULL, NULL, NULL, NULL
FROM {_TEST} t JOIN {_DEVICE} d ON d.id = t.device_id WHERE d.key = %s AND t.content_sha256 = %s
"""  # noqa: S608
_ASK_LIMITS = f"""
SELECT 'limit', b.kind, b.metric, b.value, NULL, ROW_NUMBER() OVER (ORDER BY b.as_of, b.id), NULL, NULL
FROM {Benchmark._meta.db_table} b
"""  # noqa: S608
_ASK_BANDS = f"""
SELECT 'band', a.band, NULL, a.start_hz, a.stop_hz, NULL, NULL, NULL
FROM {Allocation._meta.db_table} a
WHERE a.region = %s AND a.valid_from <= %s AND (a.valid_to IS NULL OR a.valid_to >= %s)
"""  # noqa: S608
# the reply does not tell that another contributor stored the same file: look up both every time
_ASK_HOLDER = f"""
SELECT '{{part}}', NULL, NULL, NULL, NULL, NULL, NULL, NULL
WHERE EXISTS (
  SELECT 1 FROM {SweepFile._meta.db_table} f JOIN {_TEST} t ON t.id = f.test_id
  JOIN {_DEVICE} d ON d.id = t.device_id WHERE f.raw_sha256 IN ({{marks}}) AND {{negation}} (
    d.contributor_id = (SELECT o.contributor_id FROM {_DEVICE} o WHERE o.key = %s)
    OR COALESCE(t.recorded_by_id, 0) = %s))
"""  # noqa: S608
_HOLDER_PARTS = (("own holder", ""), ("other holder", "NOT"))


@dataclass(frozen=True)
class UploadFacts:
    """Answers to all that storing a test asks first.

    device: with its owner, other columns deferred; None where there is none of this key. same_test: key of
    the test that these bytes became before. is_held: a test of the same owner, or one that the same account
    stored, holds one of the sweeps. is_held_by_other: another test does. limits: (kind, metric, value), the
    oldest first. bands: of the region on the day of the measurement, the lowest first.
    """

    device: Device | None
    same_test: str | None
    is_held: bool
    is_held_by_other: bool
    limits: tuple[tuple[str, str, float], ...]
    bands: tuple[Band, ...]


def read_upload_facts(
    *, device: str, content_sha256: str, digests: Sequence[str], region: int, on: date, by: int | None
) -> UploadFacts:
    """Ask everything in one statement. digests: SHA-256 of the test's own sweeps, in hexadecimal.

    by: row number of the account that stores it.
    """
    asked = [_ASK_DEVICE, _ASK_SAME_TEST, _ASK_LIMITS, _ASK_BANDS]
    params: list[Any] = [device, device, content_sha256, region, on, on]
    if digests:
        marks = ", ".join(["%s"] * len(digests))
        for part, negation in _HOLDER_PARTS:
            asked.append(_ASK_HOLDER.format(part=part, marks=marks, negation=negation))
            params += [*digests, device, by or -1]
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(asked), params)
        rows = cursor.fetchall()
    parts: dict[str, list[Any]] = {}
    for part, *columns in rows:
        parts.setdefault(part, []).append(columns)
    limits = sorted(parts.get("limit", []), key=lambda row: row[4])
    bands = sorted(parts.get("band", []), key=lambda row: row[2])
    return UploadFacts(
        device=next((_make_device(device, row) for row in parts.get("device", [])), None),
        same_test=next((row[0] for row in parts.get("same test", [])), None),
        is_held="own holder" in parts,
        is_held_by_other="other holder" in parts,
        limits=tuple((kind, metric, value) for kind, metric, value, *_ in limits),
        bands=tuple(Band(name, start_hz, stop_hz) for name, _, start_hz, stop_hz, *_ in bands),
    )


def _make_device(key: str, row: Sequence[Any]) -> Device:
    _, standard, of_group, _, device_id, contributor_id, member_id = row
    device = Device.from_db(
        "default",
        ("id", "key", "contributor_id", "is_check_standard"),
        (device_id, key, contributor_id, standard is not None),
    )
    device.contributor = Contributor.from_db(
        "default", ("id", "member_id", "is_group"), (contributor_id, member_id, bool(of_group))
    )
    return device


def insert_test(test: Test, others: Sequence[Model]) -> None:
    """Insert a test and rows that refer to it or to nothing new. Call inside a transaction.

    The rows' `test_id` is looked up by the test's key, which we make ourselves: so no statement waits for the
    answer to another one. Raises IntegrityError as an INSERT through the ORM would.
    """
    in_one_go = (
        connection.connection.pipeline() if connection.vendor == "postgresql" else contextlib.nullcontext()
    )
    # the pipeline raises psycopg's own errors when it ends
    with connection.wrap_database_errors, in_one_go, connection.cursor() as cursor:
        for row in (test, *others):
            cursor.execute(_build_insert(type(row), connection.vendor), _list_values(row, test.key))


@cache
def _build_insert(table: type[Model], _vendor: str) -> str:
    quote = connection.ops.quote_name
    fields = [field for field in table._meta.concrete_fields if not field.primary_key]
    columns = ", ".join(quote(field.column) for field in fields)
    marks = ", ".join(
        f"(SELECT id FROM {quote(_TEST)} WHERE key = %s)" if field.attname == "test_id" else "%s"  # noqa: S608
        for field in fields
    )
    return f"INSERT INTO {quote(table._meta.db_table)} ({columns}) VALUES ({marks})"  # noqa: S608


def _list_values(row: Model, test_key: str) -> list[Any]:
    return [
        test_key
        if field.attname == "test_id"
        else field.get_db_prep_save(field.pre_save(row, add=True), connection)
        for field in row._meta.concrete_fields
        if not field.primary_key
    ]
