"""The scene of each test module: built once inside a transaction, rolled back at its end."""

from __future__ import annotations

import pytest

from tests.api import scene as scene_module


@pytest.fixture(scope="module")
def _built(django_db_setup, django_db_blocker):
    from django.db import transaction

    from measurements.services.reference import reference_files

    with django_db_blocker.unblock(), transaction.atomic():
        reference_files.load_reference_data()
        yield scene_module.build()
        transaction.set_rollback(True)


@pytest.fixture
def scene(_built, db, settings) -> scene_module.Scene:
    """The group; what a test writes is undone after it. Limits are out of the way."""
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_TOKEN_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1_000_000
    return _built
