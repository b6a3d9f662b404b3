"""The planted group: built once a module inside a transaction, rolled back at its end."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.disclosure_end_to_end import planted as scenes
from tests.disclosure_end_to_end import reading

Seen = Callable[[str], reading.Reading]


@pytest.fixture(scope="module")
def _built(django_db_setup, django_db_blocker):
    from django.db import transaction

    from measurements.ingest import reference

    with django_db_blocker.unblock(), transaction.atomic():
        reference.load()
        yield scenes.build()
        transaction.set_rollback(True)


@pytest.fixture
def planted(_built, db, settings) -> scenes.Planted:
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_TOKEN_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1_000_000
    return _built


@pytest.fixture(scope="module")
def _readings() -> dict[str, reading.Reading]:
    return {}


@pytest.fixture
def seen(planted: scenes.Planted, _readings: dict[str, reading.Reading]) -> Seen:
    """What a reader gets to see of the group as it was built; read once a module."""

    def of(who: str) -> reading.Reading:
        if who not in _readings:
            _readings[who] = reading.everything(planted, who)
        return _readings[who]

    return of
