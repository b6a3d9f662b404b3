"""A file's name stays its owner's: kept as given, shown to the owner, never the name of a download."""

from __future__ import annotations

import pytest

from measurements.errors import BenchnightError
from measurements.models import SweepFile
from measurements.selectors.tests import tests as tests_selectors
from tests import factories

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference_data")]


def test_the_owner_finds_the_own_name():
    owner = factories.member("Ben")
    device = factories.device(owner, factories.evidence(1))
    key = factories.record(owner, device, factories.choke_s2p(seed=6), name="garden choke, wet.s2p")
    assert [row.name for row in tests_selectors.get_test(owner, key).sweeps] == ["garden choke, wet.s2p"]


def test_a_wrong_ending_stores_nothing():
    owner = factories.member("Ben")
    device = factories.device(owner, factories.evidence(1))
    before = SweepFile.objects.count()
    with pytest.raises(BenchnightError, match=r"ends in \.exe"):
        factories.record(owner, device, factories.choke_s2p(seed=6), name="choke.exe")
    assert SweepFile.objects.count() == before
