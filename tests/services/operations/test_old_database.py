"""Check that a database of the time before the modules were moved reaches today without a loss.

`before_restructuring.db.gz` holds it, `old_database.json` lists what must be in it, README.md tells how both
were made. Neither is ever made again: where a later migration moves something, change the tables below.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import re
import sqlite3
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from types import MethodType, SimpleNamespace
from typing import Any
from uuid import UUID

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder
from django.test import override_settings

KEPT = Path(__file__).parent
EXPECTED = json.loads((KEPT / "old_database.json").read_text(encoding="utf-8"))
NAME = "of_old"  # the connection's
TO_THE_OLD = SimpleNamespace(db_for_read=lambda *_, **__: NAME, db_for_write=lambda *_, **__: NAME)

# ---- to be changed where a later migration moves something ---------------------------------------
# the old file's `table` or `table.column` -> its name of today; None: taken away on purpose
MOVED: dict[str, str | None] = {
    "measurements_decisionmark": None,
    "measurements_device.due_reason": None,  # now a row of measurements_duemark
    "measurements_device.due_since": None,
    "measurements_evidencechange": None,
    "measurements_moveddevice": None,
    # what was published under the older rule is withdrawn: `test_old_releases_are_withdrawn`
    "measurements_cell": None,
    "measurements_evidencesample": None,
    "measurements_publishedvote": None,
    "measurements_learnedmodel": None,
    "measurements_releasefilepart": None,
    "measurements_releasefile.withdrawn": None,
}
# tables in which migrations, or the framework after them, add rows of their own
GROWING = {"auth_permission", "django_content_type"}
# what old_database.json holds under the same names, read from the database of today
QUERIES = {
    "accounts": "SELECT name, role, is_active FROM measurements_member",
    "designs": """SELECT d.key, d.title, d.recipe_sha256, i.key FROM measurements_design d
        LEFT JOIN measurements_design i ON i.id = d.merged_into_id""",
    "devices": """SELECT d.key, d.tag, m.name, c.guest_name, s.key, b.key, d.place FROM measurements_device d
        JOIN measurements_contributor c ON c.id = d.contributor_id
        JOIN measurements_design s ON s.id = d.design_id LEFT JOIN measurements_member m ON m.id = c.member_id
        LEFT JOIN measurements_test b ON b.id = d.baseline_id""",
    "tests": """SELECT t.key, d.key, t.kind, measured_on, n.key, excluded_reason FROM measurements_test t
        JOIN measurements_device d ON d.id = device_id LEFT JOIN measurements_night n ON n.id = night_id""",
    "sweeps": """SELECT t.key, s.role, s.name, s.raw, s.raw_sha256 FROM measurements_sweepfile s
        JOIN measurements_test t ON t.id = s.test_id""",
    "jig": "SELECT role, name, raw, raw_sha256 FROM measurements_nightjigfile",
    "tokens": """SELECT t.digest, t.token_key, m.name, t.label, t.scope FROM api_accesstoken t
        JOIN measurements_member m ON m.id = t.user_id""",
    "claim_codes": """SELECT k.code_sha256, m.name, c.guest_name FROM measurements_claimcode k
        JOIN measurements_contributor c ON c.id = k.contributor_id
        LEFT JOIN measurements_member m ON m.id = c.member_id""",
    "feeds": """SELECT f.secret_sha256, m.name, f.label FROM measurements_calendarfeed f
        JOIN measurements_member m ON m.id = f.member_id""",
    "links": """SELECT l.secret_sha256, m.name FROM measurements_signinlink l
        JOIN measurements_member m ON m.id = l.member_id""",
    "releases": "SELECT number, content_sha256 FROM measurements_release",
}
FIGURES = """SELECT t.key, r.figures FROM measurements_result r
    JOIN measurements_test t ON t.id = r.test_id WHERE r.current"""
RELEASE_FILES = """SELECT f.id, f.sha256, p.content FROM measurements_releasefile f
    JOIN measurements_releasefilepart p ON p.file_id = f.id ORDER BY f.id, p.number"""
# the types of PostgreSQL that take a value of the file only when it is said so; all others take it as it is
AS_POSTGRESQL: dict[str, Any] = {"boolean": bool, "timestamp with time zone": "{}+00".format}
SELECT = 'SELECT "{}" FROM "{}"'
COLUMNS = "SELECT column_name, data_type, is_identity FROM information_schema.columns WHERE table_name = %s"
# each with one row of something that must not be lost, for the test that looks whether a loss is noticed
LOSSES = (
    "DELETE FROM measurements_claimcode WHERE used_at IS NULL",
    "DELETE FROM api_accesstoken WHERE label = 'reading only'",
    "DELETE FROM measurements_sweepfile WHERE role = 'far_short'",
    "UPDATE measurements_device SET tag = 'M-8' WHERE tag = 'M-9'",
    "UPDATE measurements_test SET measured_on = '2026-02-13' WHERE kind = 'balance'",
)


# ---- bringing the old database here --------------------------------------------------------------
@pytest.fixture(scope="module", params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def today(request: Any, old_file: Path, django_db_blocker: Any) -> Iterator[BaseDatabaseWrapper]:
    """Give the old database on one engine, migrated to the newest state."""
    moved = old_file.with_name("moved.sqlite3")
    on_sqlite = request.param == "sqlite"
    url = f"sqlite:///{moved}" if on_sqlite else request.getfixturevalue("postgresql").new_database()
    described = connections.configure_settings({"default": {}, NAME: settings.DATABASE_OF(url)})
    connections.databases[NAME] = described[NAME]
    connection = connections[NAME]
    # this connection alone is let through, so that nothing reaches the database of the settings
    connection.ensure_connection = MethodType(django_db_blocker._real_ensure_connection, connection)
    try:
        # a library's migration does not say which database it means: without the router it means the default
        with override_settings(DATABASE_ROUTERS=[TO_THE_OLD]):
            if on_sqlite:
                moved.write_bytes(old_file.read_bytes())
            else:
                with closing(sqlite3.connect(old_file)) as old:
                    migrate_as_far_as(old, connection)
                    copy(old, connection)
            call_command("migrate", database=NAME, verbosity=0)
        yield connection
    finally:
        connection.close()
        del connections[NAME], connections.databases[NAME]


@pytest.fixture(scope="module")
def old_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the kept file, unpacked."""
    file = tmp_path_factory.mktemp("kept") / "old.sqlite3"
    file.write_bytes(gzip.decompress((KEPT / "before_restructuring.db.gz").read_bytes()))
    return file


def migrate_as_far_as(old: sqlite3.Connection, connection: BaseDatabaseWrapper) -> None:
    """Migrate an empty database to exactly where the old one stood."""
    applied = set(old.execute("SELECT app, name FROM django_migrations"))
    executor = MigrationExecutor(connection)
    graph = executor.loader.graph.node_map
    older = {(parent.key, node[0]) for node in applied for parent in graph[node].parents}
    executor.migrate(sorted(node for node in applied if (node, node[0]) not in older))
    assert set(MigrationRecorder(connection).applied_migrations()) == applied


def copy(old: sqlite3.Connection, connection: BaseDatabaseWrapper) -> None:
    """Copy every row into PostgreSQL by the names of the columns, without triggers, and set its counters."""
    quoted = connection.ops.quote_name
    with transaction.atomic(using=NAME), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        cursor.execute(f"TRUNCATE {', '.join(map(quoted, tables_of(old)))}")
        for table in tables_of(old):
            cursor.execute(COLUMNS, [table])
            types = {name: (type_, identity == "YES") for name, type_, identity in cursor.fetchall()}
            names = columns_of(old, table)
            assert set(names) == set(types), table
            listed = ", ".join(map(quoted, names))
            said = [AS_POSTGRESQL.get(types[name][0], lambda value: value) for name in names]
            with cursor.copy(f"COPY {quoted(table)} ({listed}) FROM STDIN") as into:
                for row in old.execute(f"SELECT {listed} FROM {quoted(table)}"):
                    into.write_row([v if v is None else say(v) for say, v in zip(said, row, strict=True)])
            for name in (name for name, (_, counted) in types.items() if counted):
                counter = f"pg_get_serial_sequence('{table}', '{name}'), coalesce(max({name}), 1)"
                cursor.execute(f"SELECT setval({counter}, max({name}) IS NOT NULL) FROM {quoted(table)}")


# ---- reading both in one form --------------------------------------------------------------------
def tables_of(old: sqlite3.Connection) -> list[str]:
    """Name the tables that hold something; which migrations were applied is compared when they are."""
    listed = old.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    return [name for (name,) in listed if name not in ("django_migrations", "sqlite_sequence")]


def columns_of(old: sqlite3.Connection, table: str) -> list[str]:
    return [row[1] for row in old.execute(f'PRAGMA table_info("{table}")')]


def plain(value: Any) -> Any:
    """Give one form to a value of either engine: UTC times, whole numbers for truth, hashes for bytes."""
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d(\.\d+)?", value):
        value = datetime.fromisoformat(value)
    if isinstance(value, datetime):
        return (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC).isoformat()
    if isinstance(value, bytes | memoryview):
        return hashlib.sha256(value).hexdigest()
    if isinstance(value, str) and value[:1] in ("{", "["):
        number = lambda text: float(text) + 0.0  # noqa: E731  engines write 1e22 and -0.0 in their own ways
        return json.dumps(json.loads(value, parse_float=number, parse_int=number), sort_keys=True)
    if isinstance(value, date):
        return value.isoformat()
    return value.hex if isinstance(value, UUID) else int(value) if isinstance(value, bool) else value


def read(connection: Any, query: str) -> list[list[Any]]:
    """Read rows in one form and order; `connection` is Django's, or the file's own."""
    with closing(connection.cursor()) as cursor:
        cursor.execute(query)
        return sorted(([plain(value) for value in row] for row in cursor.fetchall()), key=repr)


def figures(connection: Any) -> dict[str, dict[str, dict[str, Any]]]:
    """Read each test's verdict and worst figures on each band, rounded."""
    found: dict[str, dict[str, dict[str, Any]]] = {}
    for test, text in read(connection, FIGURES):
        for band in json.loads(text)["bands"]:
            of_band = found.setdefault(test, {}).setdefault(band["band"], {"meets": band["meets"]})
            for name, value in band.items():
                if isinstance(value, dict) and value.get("worst") is not None:
                    of_band[name] = round(value["worst"], 3)
    return found


def losses(connection: Any, old: sqlite3.Connection) -> set[str]:
    """Name whatever is not as old_database.json has it, and each table whose old rows are not all there."""
    found = {"figures"} if figures(connection) != EXPECTED["figures"] else set()
    found |= {name for name, query in QUERIES.items() if read(connection, query) != EXPECTED[name]}
    for table, rows in EXPECTED["rows"].items():
        if (there := MOVED.get(table, table)) is None:
            continue
        kept = {name: new for name in columns_of(old, table) if (new := MOVED.get(f"{table}.{name}", name))}
        before = Counter(map(repr, read(old, SELECT.format('", "'.join(kept), table))))
        now = Counter(map(repr, read(connection, SELECT.format('", "'.join(kept.values()), there))))
        if before.total() != rows or before - now or (now - before and table not in GROWING):
            found.add(table)
    return found


def test_nothing_is_lost(today: BaseDatabaseWrapper, old_file: Path) -> None:
    with closing(sqlite3.connect(old_file)) as old:
        assert set(tables_of(old)) == set(EXPECTED["rows"])
        assert losses(today, old) == set()
    today.check_constraints()


def test_bytes_hash_to_what_is_stored(today: BaseDatabaseWrapper) -> None:
    for *named, of_bytes, stored in read(today, QUERIES["sweeps"]) + read(today, QUERIES["jig"]):
        assert of_bytes == stored, named


def test_old_releases_are_withdrawn(today: BaseDatabaseWrapper, old_file: Path) -> None:
    """Check that their numbers stay, and that no figure and no file of them does."""
    with closing(sqlite3.connect(old_file)) as old:
        assert len(read(old, RELEASE_FILES)) >= EXPECTED["release_files"] > 0
        assert read(old, "SELECT id FROM measurements_evidencesample")
        assert read(today, QUERIES["releases"]) == read(old, QUERIES["releases"]) != []
    for table in ("cell", "publishedvote", "learnedmodel", "releasefilepart"):
        assert read(today, f"SELECT * FROM measurements_{table}") == [], table
    assert read(today, "SELECT id FROM measurements_releasefile WHERE NOT withdrawn") == []
    assert "measurements_evidencesample" not in today.introspection.table_names()


def test_every_secret_still_opens(today: BaseDatabaseWrapper) -> None:
    """Check that what a member holds (token, link, address, card) has its hash in the database of today."""
    for kind, secrets in EXPECTED["clear"].items():
        kept = {row[0]: row for row in read(today, QUERIES[kind])}
        for secret, whose in secrets.items():
            text = secret.replace("-", "") if kind == "claim_codes" else secret
            digest = hashlib.new("sha512" if kind == "tokens" else "sha256", text.encode()).hexdigest()
            assert whose in kept[digest], kind


@pytest.mark.parametrize("loss", LOSSES)
def test_a_loss_is_noticed(today: BaseDatabaseWrapper, old_file: Path, loss: str) -> None:
    with closing(sqlite3.connect(old_file)) as old, transaction.atomic(using=NAME):
        with today.cursor() as cursor:
            cursor.execute(loss)
            assert cursor.rowcount > 0
        assert losses(today, old)
        transaction.set_rollback(True, using=NAME)
