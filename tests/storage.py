"""What tests of the storing rooms stand on: reference data, and a member."""

from __future__ import annotations

import pytest

from measurements.disclosure.viewers import Viewer


@pytest.fixture
def reference_data(db: None) -> None:
    """A database with bands, benchmarks, mixes, cores and conductors (`tests.engines`)."""


@pytest.fixture
def member(reference_data: None) -> Viewer:
    """A member without devices."""
    from tests import factories

    return factories.member("Ada")


@pytest.fixture
def no_reference_data(db: None) -> None:
    """A database without bands, benchmarks, mixes, cores and conductors."""
    from measurements.models import Allocation, Benchmark, Conductor, Core, Mix

    for table in (Allocation, Benchmark, Conductor, Core, Mix):
        table.objects.all().delete()
