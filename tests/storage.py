"""What tests of the storing rooms stand on: reference data, and a member."""

from __future__ import annotations

import pytest

from measurements.disclosure.circles import Viewer


@pytest.fixture
def reference_data(db: None) -> None:
    """Bands, benchmarks, mixes, cores and conductors."""
    from measurements.ingest import reference

    reference.load()


@pytest.fixture
def member(reference_data: None) -> Viewer:
    """A member without devices."""
    from tests import factories

    return factories.member("Ada")
