"""Groups of people that many tests begin with: built once, and rolled back when another test begins.

A scene is built inside one open transaction. Each test that wants it runs in a transaction nested in that
one, as every database test does, so that what the test writes is undone and the scene stays as it was built.
A test that does not want the scene never sees it: the scene is rolled back before that test begins.

    page_group = scenes.share("page_group", build_group)

    @pytest.fixture
    def group(page_group, db):
        return page_group
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection, transaction
from pytest_django.plugin import blocking_manager_key

from tests import engines, factories

# far from those of the tests, so that no device of a test has the noise of one of the scene
SCENE_SEEDS = 5000


@dataclass(frozen=True)
class _Open:
    """The scene that is in the database now, and the transaction to roll back."""

    name: str
    value: Any
    transaction: transaction.Atomic


_builders: dict[str, Callable[[], Any]] = {}
_open: list[_Open] = []


def share(name: str, build: Callable[[], Any]) -> Any:
    """Make the pytest fixture `name`, unique in all tests, that gives what `build` makes through services.

    A test that commits, or whose transaction began before the database was set up, gets a scene of its own.
    """
    _builders[name] = build

    @pytest.fixture(name=name)
    def scene(request: pytest.FixtureRequest, django_db_setup: None, django_db_blocker: Any) -> Any:
        with django_db_blocker.unblock():
            if _open:
                return _open[0].value
            if connection.in_atomic_block or engines.has_own_transactions(request.node):
                return build()
            return _enter(name)

    return scene


def _enter(name: str) -> Any:
    entered = transaction.atomic()
    entered.__enter__()
    try:
        factories.start_noise(SCENE_SEEDS)
        value = _builders[name]()
    except BaseException:
        transaction.set_rollback(True)
        entered.__exit__(None, None, None)
        raise
    cache.clear()
    factories.start_noise(factories.TEST_SEEDS)
    _open.append(_Open(name, value, entered))
    return value


def _leave() -> None:
    scene = _open.pop()
    if not connection.in_atomic_block:
        raise RuntimeError(f"the scene {scene.name} is on a connection that a test put another in place of")
    transaction.set_rollback(True)
    scene.transaction.__exit__(None, None, None)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let tests of one scene follow each other, in whatever order they are otherwise."""
    items.sort(key=lambda item: _find_wanted(item) or "")


def _find_wanted(item: pytest.Item) -> str | None:
    """Find the scene that a test wants and does not commit to."""
    if engines.has_own_transactions(item):
        return None
    return next((name for name in item.fixturenames if name in _builders), None)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Take out the scene that this test does not want, and enter the one it wants."""
    wanted = _find_wanted(item)
    with item.config.stash[blocking_manager_key].unblock():
        # a test that closed the connection has lost the scene with it
        if _open and (_open[0].name != wanted or connection.closed_in_transaction):
            _leave()
        if wanted and not _open and engines.is_set_up():
            _enter(wanted)


def leave_last() -> None:
    """Take out the last scene, before the database goes or this thread gets another connection to it."""
    if _open:
        _leave()
