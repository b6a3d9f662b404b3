"""What every test stands on: the database engine, static files, generated cases, the browser.

Network: pyproject.toml lets tests connect to this machine only. Warnings are errors there too.
"""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

pytest_plugins = ["tests.engines", "tests.scenes", "tests.browsing", "tests.storage"]

# The same cases on every run and machine: a check that fails only sometimes is not believed.
# `HYPOTHESIS_PROFILE=search` looks for new ones.
settings.register_profile(
    "repeatable",
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.register_profile("search", deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeatable"))


@pytest.fixture(scope="session", autouse=True)
def _static_files_without_collecting(tmp_path_factory: pytest.TempPathFactory):
    """Pages in tests name static files plainly: hashed names need `collectstatic` first."""
    from django.conf import settings as django_settings
    from django.test import override_settings

    storages = dict(django_settings.STORAGES)
    storages["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    pictures = {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": tmp_path_factory.mktemp("pictures"),
    }
    kept = {**django_settings.CACHES, "pictures": pictures}
    with override_settings(STORAGES=storages, STATIC_ROOT=tmp_path_factory.mktemp("static"), CACHES=kept):
        yield


@pytest.fixture(scope="session", autouse=True)
def _tasks_at_once():
    """Background tasks run when what they work on is committed, in the test's own thread and transaction."""
    from django.test import override_settings

    with override_settings(
        TASKS={"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
    ):
        yield


@pytest.fixture(autouse=True)
def _nothing_kept_from_other_tests():
    """Tests go back in time: a database that is rolled back gives the same state to other content."""
    from django.core.cache import caches

    from measurements.models import group_facts
    from tests import factories

    for each in caches.all(initialized_only=True):
        each.clear()
    # no test but those of the facts themselves pays the query that each process makes every few seconds
    group_facts.keep_group_facts({}, for_s=float("inf"))
    factories.start_noise(factories.TEST_SEEDS)
