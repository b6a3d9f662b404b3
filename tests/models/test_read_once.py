"""What a request has read is remembered until it ends; reference data until the log says that it changed."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from measurements.models.read_once import read_catalogue, read_once, remember_reads
from measurements.selectors.reference import reference
from measurements.services.reference import benchmarks
from tests import factories

asked: list[object] = []


@read_once
def read(what: object) -> object:
    asked.append(what)
    return what


@read_catalogue
def read_kept(what: object) -> object:
    asked.append(what)
    return what


@pytest.fixture(autouse=True)
def _nothing_asked():
    asked.clear()


def test_outside_a_request_every_call_reads(db):
    for each in (read, read_kept):
        each(1)
        each(1)
    assert asked == [1, 1, 1, 1]


def test_inside_one_request_a_read_is_shared_and_ends_with_it():
    for _ in range(2):
        with remember_reads():
            assert (read(1), read(2), read(1)) == (1, 2, 1)
    assert asked == [1, 2, 1, 2]


def test_a_refused_read_is_asked_again():
    @read_once
    def refuse():
        asked.append("refused")
        raise LookupError

    with remember_reads():
        for _ in range(2):
            with pytest.raises(LookupError):
                refuse()
    assert len(asked) == 2


def test_reference_data_is_kept_over_requests_until_it_changes(reference_data):
    steward = factories.member("Cleo", "steward")
    found = []
    for change in (None, None, 23.0, None):
        if change:
            benchmarks.change_benchmark(
                by=steward,
                kind="common_mode",
                metric="rejection_db",
                value=change,
                as_of=timezone.localdate(),
                source="the group decided so",
            )
        with remember_reads(), CaptureQueriesContext(connection) as captured:
            found.append((reference.get_benchmark_db(), reference.list_bands() != (), len(captured)))
    assert [row[0] for row in found] == [20.0, 20.0, 23.0, 23.0]
    # the state of the log alone, where nothing changed
    assert [row[2] for row in found] == [3, 1, 3, 1]


def test_nothing_of_a_viewer_is_kept_over_requests():
    """A function with a viewer among its arguments may be remembered for its request only."""
    import ast

    from deploy.environment import ROOT

    kept = []
    for path in (ROOT / "measurements").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and any(
                isinstance(each, ast.Name) and each.id == "read_catalogue" for each in node.decorator_list
            ):
                kept.append(node.name)
                assert "viewer" not in [each.arg for each in (*node.args.args, *node.args.kwonlyargs)]
    assert len(kept) > 8
