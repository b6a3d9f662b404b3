"""A backup holds everything, is verified, and brings it all back, on either engine, release for release."""

from __future__ import annotations

import json
import random
import shutil
import stat
import zipfile
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Release, ReleaseFilePart, SweepFile, Test
from measurements.selectors.releases import release_files
from measurements.services.operations import backup, restore, table_rows
from measurements.services.releases import releases
from tests import factories

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("filled")]


@pytest.fixture
def filled(db):
    from measurements.services.reference import reference_files

    reference_files.load_reference_data()
    factories.evidence(4)
    releases.make_release(rng=random.Random(1))
    factories.evidence(2, first=4)
    releases.make_release(rng=random.Random(2))


@pytest.fixture
def other(tmp_path, tmp_path_factory, monkeypatch, django_db_blocker):
    """Django's name of another, empty, migrated database: a SQLite file."""
    from deploy import databases

    file = tmp_path / "other.sqlite3"
    empty = tmp_path_factory.getbasetemp() / "empty.sqlite3"  # migrated once for all of these tests
    if empty.exists():
        shutil.copyfile(empty, file)
    named = connections.configure_settings({"default": {}, "other": databases.build_sqlite_settings(file)})
    connections.databases["other"] = named["other"]
    # tests may use the databases of the settings only; this one is made here and gone with its directory
    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", django_db_blocker._real_ensure_connection)
    for blocked in ("connect", "temporary_connection", "cursor", "chunked_cursor"):
        vars(connections["other"]).pop(blocked, None)
    if not empty.exists():
        call_command("migrate", database="other", verbosity=0)
        connections["other"].close()
        shutil.copyfile(file, empty)
    yield "other"
    connections["other"].close()
    del connections["other"], connections.databases["other"]


def content(using: str = "default") -> dict[str, tuple[int, str]]:
    """Rows and SHA-256 of every table."""
    found = {}
    for table in table_rows.list_tables():
        tally = table_rows.LineTally()
        for line in table_rows.read_table_lines(table, table_rows.list_columns(table), using=using):
            tally.take(line)
        found[table_rows.get_table_label(table)] = (tally.rows, tally.sha256)
    return found


def written(tmp_path: Path) -> Path:
    file = tmp_path / "kept.zip"
    backup.write_backup(file)
    return file


def changed(file: Path, change) -> Path:
    """The backup with its members rewritten by `change(name, bytes) -> bytes | None`."""
    other = file.with_name("changed.zip")
    with zipfile.ZipFile(file) as before, zipfile.ZipFile(other, "w") as after:
        for name in before.namelist():
            new = change(name, before.read(name))
            if new is not None:
                after.writestr(name, new)
    return other


def test_every_table_is_in_it_or_left_out_with_a_reason():
    ours = {
        table._meta.label for app in table_rows.OWN_APPS for table in apps.get_app_config(app).get_models()
    }
    covered = {table_rows.get_table_label(table) for table in table_rows.list_tables()}
    assert ours - covered == set(table_rows.EXCLUDED_TABLES)


def test_what_was_backed_up_comes_back(tmp_path, other):
    before = content()
    file = written(tmp_path)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert [each.name for each in tmp_path.iterdir() if "kept" in each.name] == ["kept.zip"]
    done = restore.restore_backup(file, using=other)
    assert done.rows == sum(rows for rows, _ in before.values()) > 100
    assert content(other) == before == content()
    release = Release.objects.using(other).order_by("number").last()
    assert release.content_sha256 == Release.objects.get(number=release.number).content_sha256
    parts = [
        [
            bytes(part)
            for part in ReleaseFilePart.objects.using(name).order_by("pk").values_list("content", flat=True)
        ]
        for name in ("default", other)
    ]
    assert parts[0] == parts[1] != []


def test_numbering_goes_on_after_it(tmp_path, other):
    restore.restore_backup(written(tmp_path), using=other)
    highest = AuditEntry.objects.order_by("pk").last().pk
    added = AuditEntry.objects.using(other).create(actor="x", action="x", subject="x")
    assert added.pk > highest


def test_a_backup_is_never_written_over(tmp_path):
    file = written(tmp_path)
    size = file.stat().st_size
    with pytest.raises(BenchnightError) as caught:
        backup.write_backup(file)
    assert caught.value.code == "backup.exists" and file.stat().st_size == size
    with pytest.raises(BenchnightError) as caught:
        backup.write_backup(tmp_path / "nowhere" / "kept.zip")
    assert caught.value.code == "backup.place"


def test_nothing_is_left_of_one_that_fails(tmp_path, monkeypatch):
    def fails(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(table_rows, "read_table_lines", fails)
    with pytest.raises(OSError, match="No space"):
        backup.write_backup(tmp_path / "kept.zip")
    assert list(tmp_path.glob("*kept*")) == []


def test_a_damaged_one_is_refused_before_anything_is_stored(tmp_path, other):
    def one_digit(name: str, data: bytes) -> bytes:
        return data.replace(b'"kind":"common_mode"', b'"kind":"common_mude"', 1) if "Test." in name else data

    file = changed(written(tmp_path), one_digit)
    with pytest.raises(BenchnightError) as caught:
        restore.restore_backup(file, using=other)
    assert caught.value.code == "backup.damaged" and "measurements.Test" in caught.value.detail
    assert not Test.objects.using(other).exists()
    cut = tmp_path / "cut.zip"
    cut.write_bytes(file.read_bytes()[:-400])
    with pytest.raises(BenchnightError) as caught:
        backup.verify_backup(cut)
    assert caught.value.code == "backup.not_one"


def test_a_filled_database_is_not_touched(tmp_path):
    before = content()
    with pytest.raises(BenchnightError) as caught:
        restore.restore_backup(written(tmp_path))
    assert caught.value.code == "restore.not_empty"
    assert content() == before


def rewritten(data: bytes, change) -> bytes:
    """A table's lines with `change` applied to each row."""
    rows = [change(json.loads(line)) for line in data.decode().splitlines()]
    return "".join(table_rows.format_line(row) for row in rows).encode()


def as_version(file: Path, table: str, change, columns) -> Path:
    """The backup as a version would have written it whose rows of `table` are changed."""
    held: dict[str, bytes] = {}

    def of_table(name: str, data: bytes) -> bytes:
        held[name] = rewritten(data, change) if name == f"{table}.ndjson" else data
        return held[name]

    first = changed(file, of_table)

    def of_manifest(name: str, data: bytes) -> bytes:
        if name != backup.MANIFEST_FILE:
            return data
        manifest = json.loads(data)
        for each in manifest["tables"]:
            if each["table"] == table:
                tally = table_rows.LineTally()
                for line in held[f"{table}.ndjson"].decode().splitlines(keepends=True):
                    tally.take(line)
                each.update(columns=columns(each["columns"]), sha256=tally.sha256)
        return json.dumps(manifest).encode()

    second = first.rename(first.with_name("first.zip"))
    return changed(second, of_manifest)


def test_one_of_the_version_before_lacks_a_column(tmp_path, other):
    without = lambda row: {key: value for key, value in row.items() if key != "place"}  # noqa: E731
    file = as_version(
        written(tmp_path), "measurements.Device", without, lambda names: [n for n in names if n != "place"]
    )
    assert restore.restore_backup(file, using=other).unknown == ()
    assert content(other)["measurements.Device"] == content()["measurements.Device"]  # its default is empty


def test_one_of_the_next_version_has_one_more(tmp_path, other):
    file = as_version(
        written(tmp_path),
        "measurements.Device",
        lambda row: {**row, "weight_g": 5},
        lambda names: [*names, "weight_g"],
    )
    with pytest.raises(BenchnightError) as caught:
        restore.restore_backup(file, using=other)
    assert caught.value.code == "restore.unknown" and "measurements.Device.weight_g" in caught.value.detail
    done = restore.restore_backup(file, leave_out_unknown=True, using=other)
    assert done.unknown == ("measurements.Device.weight_g",)
    assert content(other) == content()


def test_everything_is_moved_to_another_database(other):
    before = content()
    assert restore.transfer_database(source="default", target=other) == sum(
        rows for rows, _ in before.values()
    )
    assert content(other) == before == content()


def test_numbers_have_one_form_on_both_engines():
    assert table_rows._canonicalise_number({"a": [1e22, -0.0, True, 3, 10**22, None]}) == {
        "a": [1e22, 0.0, True, 3, 1e22, None]
    }


def test_commands_say_what_they_did(tmp_path, capsys):
    file = tmp_path / "by-command.zip"
    call_command("backup", str(file))
    assert "verified" in capsys.readouterr().out
    with pytest.raises(CommandError, match="already"):
        call_command("backup", str(file))
    with pytest.raises(CommandError, match="not empty"):
        call_command("restore", str(file))


def test_readers_read_and_sweeps_are_whole_after_it(tmp_path, other):
    restore.restore_backup(written(tmp_path), using=other)
    mine = SweepFile.objects.order_by("pk").first()
    there = SweepFile.objects.using(other).get(pk=mine.pk)
    assert bytes(there.raw) == bytes(mine.raw) and bytes(there.s) == bytes(mine.s)
    reader = factories.member("reader")
    assert release_files.get_file_content(reader, 2, "evidence.csv")[1]
