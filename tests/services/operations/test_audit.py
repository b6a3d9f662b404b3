"""The audit log only grows: no code of ours changes or removes a line, and the database refuses to."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from django.db import DatabaseError, connection, transaction

from measurements.models import AuditEntry
from measurements.services.operations import audit
from tests import factories

ROOT = Path(__file__).resolve().parents[3]
# who may name the table at all: its definition, the one place that writes it, the one that reads it
ALLOWED = {
    "measurements/models/operations.py": set(),
    "measurements/models/__init__.py": set(),
    "measurements/services/operations/audit.py": {"create"},
    "measurements/services/accounts/membership.py": {"filter"},  # was an account of this name deleted?
    "measurements/selectors/operations/audit.py": {"order_by"},
    "measurements/models/read_once.py": {"filter"},  # did anything of the catalogue change?
    "measurements/services/operations/database_rights.py": set(),  # names the table, to allow less on it
    "measurements/selectors/accounts/account_export.py": {"filter"},
    "measurements/services/devices/due_marks.py": {"bulk_create"},  # a line for each marked device
    "measurements/selectors/accounts/security_digest.py": {"filter"},
    "measurements/selectors/operations/server_figures.py": {"order_by"},  # the time of the newest line
}


def test_a_line_says_who_what_and_which(db: None):
    audit.record_action(
        by=factories.member("stella", "steward"), action="test.exclude", subject="k", reason_length=12
    )
    entry = AuditEntry.objects.get(action="test.exclude")
    assert (entry.actor, entry.subject, entry.detail) == ("stella", "k", {"reason_length": 12})


def test_the_database_refuses_to_change_a_line(db: None):
    audit.record_action(by=None, action="one", subject="k")
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        AuditEntry.objects.update(actor="somebody else")
    entry = AuditEntry.objects.get(action="one")
    entry.action = "other"
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        entry.save()
    assert AuditEntry.objects.get(pk=entry.pk).action == "one"


def test_postgresql_refuses_to_remove_a_line(db: None):
    """SQLite has no such trigger: there a test's emptied database could not be told from a removed line."""
    audit.record_action(by=None, action="one", subject="k")
    if connection.vendor != "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'audit_%'"
            )
            assert cursor.fetchone() == (1,)
        return
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        AuditEntry.objects.all().delete()
    assert AuditEntry.objects.filter(action="one").exists()


def test_no_code_of_ours_does_more_than_add_and_read():
    """Every mention of the table in the source, and the first method called on its manager."""
    found: dict[str, set[str]] = {}
    for path in sorted([*ROOT.glob("measurements/**/*.py"), *ROOT.glob("api/**/*.py")]):
        if "migrations" in path.parts:
            continue
        text = path.read_text(encoding="utf-8")
        if "AuditEntry" in text or "measurements_auditentry" in text:
            name = path.relative_to(ROOT).as_posix()
            found[name] = _called_on_manager(ast.parse(text))
    found.pop("measurements/disclosure/field_classes.py")  # names every table as a word
    assert set(found) <= set(ALLOWED)
    for name, methods in found.items():
        assert methods <= ALLOWED[name], name


def _called_on_manager(tree: ast.AST) -> set[str]:
    return {
        node.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and ast.unparse(node.value).endswith("AuditEntry.objects")
    }
