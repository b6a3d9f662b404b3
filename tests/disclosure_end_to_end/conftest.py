"""The planted group: built once a module inside a transaction, rolled back at its end."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.disclosure_end_to_end import planted_group, site_reader

Seen = Callable[[str], site_reader.Reading]


@pytest.fixture(scope="module")
def _built(django_db_setup, django_db_blocker):
    from django.db import transaction

    from measurements.services.reference import reference_files

    with django_db_blocker.unblock(), transaction.atomic():
        reference_files.load_reference_data()
        yield planted_group.build()
        transaction.set_rollback(True)


@pytest.fixture
def planted(_built, db, settings) -> planted_group.Planted:
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_TOKEN_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1_000_000
    return _built


@pytest.fixture(scope="module")
def _readings() -> dict[str, site_reader.Reading]:
    return {}


@pytest.fixture
def seen(planted: planted_group.Planted, _readings: dict[str, site_reader.Reading]) -> Seen:
    """What a reader gets to see of the group as it was built; read once a module."""

    def of(who: str) -> site_reader.Reading:
        if who not in _readings:
            _readings[who] = site_reader.everything(planted, who)
        return _readings[who]

    return of
