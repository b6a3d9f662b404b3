"""Backups for whoever holds the private key alone; and databases that a backup cannot go into.

The format is age v1 (C2SP, age.md): the first line `age-encryption.org/v1`, then a line `-> X25519 ...` for
each key. What comes out is opened by the library alone, without our code.
"""

from __future__ import annotations

import io
import stat
import zipfile

import pyrage
import pytest
from django.core.management import CommandError, call_command
from django.db import connections

from measurements.errors import BenchnightError
from measurements.services.operations import backup, backup_encryption, restore
from tests.services.operations.test_backup import content, filled, other  # noqa: F401  # fixtures

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("filled")]


@pytest.fixture
def keys(tmp_path):
    """(file of the private key, public key)"""
    file = tmp_path / "private.key"
    return file, backup_encryption.write_key_pair(file)


def code_of(call, *arguments, **options) -> str:
    with pytest.raises(BenchnightError) as caught:
        call(*arguments, **options)
    return caught.value.code


def test_it_is_read_with_the_private_key_and_by_nobody_else(tmp_path, keys, other):  # noqa: F811
    private, public = keys
    file = tmp_path / "kept.zip.age"
    backup.write_backup(file, public_keys=[public])
    raw = file.read_bytes()
    assert raw.startswith(b"age-encryption.org/v1\n-> X25519 ")
    assert b"PK\x03\x04" not in raw and b"manifest" not in raw
    assert not zipfile.is_zipfile(file)
    # by the library alone
    identity = pyrage.x25519.Identity.from_str(private.read_text().splitlines()[1])
    plain = pyrage.decrypt(raw, [identity])
    assert zipfile.ZipFile(io.BytesIO(plain)).testzip() is None
    with pytest.raises(pyrage.DecryptError):
        pyrage.decrypt(raw, [pyrage.x25519.Identity.generate()])
    restore.restore_backup(file, key_file=private, using=other)
    assert content(other) == content()


def test_nothing_plain_stays_beside_it_and_all_is_the_owners_alone(tmp_path, keys, other):  # noqa: F811
    private, public = keys
    place = tmp_path / "backups"
    place.mkdir()
    backup.write_backup(place / "kept.zip.age", public_keys=[public])
    restore.restore_backup(place / "kept.zip.age", key_file=private, using=other)
    assert [each.name for each in place.iterdir()] == ["kept.zip.age"]
    assert stat.S_IMODE((place / "kept.zip.age").stat().st_mode) == 0o600
    assert stat.S_IMODE(private.stat().st_mode) == 0o600


def test_two_keys_open_it_each(tmp_path, keys, other):  # noqa: F811
    second = tmp_path / "second.key"
    public = backup_encryption.write_key_pair(second)
    backup.write_backup(tmp_path / "kept.zip.age", public_keys=[keys[1], public])
    restore.restore_backup(tmp_path / "kept.zip.age", key_file=second, using=other)


def test_each_refusal_says_what_to_do(tmp_path, keys, other):  # noqa: F811
    private, public = keys
    file = tmp_path / "kept.zip.age"
    backup.write_backup(file, public_keys=[public])
    stranger, none = tmp_path / "stranger.key", tmp_path / "none.key"
    backup_encryption.write_key_pair(stranger)
    none.write_text("nothing of the kind\n")
    assert code_of(restore.restore_backup, file, using=other) == "backup.encrypted"
    assert code_of(restore.restore_backup, file, key_file=stranger, using=other) == "backup.wrong_key"
    assert code_of(restore.restore_backup, file, key_file=none, using=other) == "backup.private_key"
    for damage in (lambda raw: raw[:-100], lambda raw: raw[:-50] + b"x" + raw[-49:], lambda raw: raw[:60]):
        broken = tmp_path / "broken.age"
        broken.write_bytes(damage(file.read_bytes()))
        assert code_of(restore.restore_backup, broken, key_file=private, using=other) in (
            "backup.damaged",
            "backup.wrong_key",
        )
    assert code_of(restore.restore_backup, tmp_path / "nowhere", using=other) == "backup.not_one"
    assert code_of(backup.write_backup, tmp_path / "b", public_keys=["age1nonsense"]) == "backup.public_key"
    assert code_of(backup_encryption.write_key_pair, private) == "backup.exists"
    assert not [each for each in tmp_path.iterdir() if each.name.startswith(".")]


def test_the_setting_encrypts_what_the_timer_writes(tmp_path, keys, settings, capsys):
    settings.BENCHNIGHT_BACKUP_KEYS, settings.BENCHNIGHT_VAR = [keys[1]], tmp_path / "var"
    call_command("backup", str(tmp_path / "kept.zip"))
    assert "encrypted" in capsys.readouterr().out
    assert not (tmp_path / "kept.zip").exists()
    assert backup_encryption.is_encrypted(tmp_path / "kept.zip.age")


@pytest.mark.parametrize("migrated", ["not at all", "in part"])
def test_an_unmigrated_database_is_named_and_no_traceback(tmp_path, other, migrated):  # noqa: F811
    file = tmp_path / "kept.zip"
    backup.write_backup(file)
    tables = connections[other].introspection.table_names()
    with connections[other].cursor() as cursor:
        if migrated == "in part":
            cursor.execute("DELETE FROM django_migrations WHERE app = 'api'")
        else:
            cursor.execute("PRAGMA foreign_keys=OFF")
            for table in tables:
                cursor.execute(f'DROP TABLE "{table}"')
    assert code_of(restore.restore_backup, file, using=other) == "database.not_migrated"
    assert code_of(backup.write_backup, tmp_path / "none.zip", using=other) == "database.not_migrated"
    assert not (tmp_path / "none.zip").exists()


def test_the_commands_say_it_in_a_sentence(tmp_path, keys):
    with pytest.raises(CommandError, match="no public key"):
        call_command("backup", str(tmp_path / "kept.zip"), "--to", "age1nonsense")
    with pytest.raises(CommandError, match=r"There is a private\.key already"):
        call_command("backup_key", str(keys[0]))
