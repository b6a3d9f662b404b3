"""Own curves are the viewer's own: newest per device, nobody else's, whatever their role."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.disclosure.viewers import ANONYMOUS
from measurements.selectors.evidence import design_curves
from measurements.services.releases import releases
from measurements.services.tests import tests
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def ada(reference_data):
    """Ada has two devices of the design; the first was tested twice."""
    ada = factories.member("Ada")
    design = factories.design(ada)
    first, second = (factories.device(ada, design, tag=tag) for tag in ("A-1", "A-2"))
    factories.record(ada, first, factories.choke_s2p(1000), measured_on=date(2026, 1, 5))
    newest = factories.record(ada, first, factories.choke_s2p(2000), measured_on=date(2026, 2, 5))
    factories.record(ada, second, factories.choke_s2p(4000), measured_on=date(2026, 1, 7))
    return ada, design, newest


def test_the_newest_curve_of_each_own_device(ada):
    viewer, design, newest = ada
    first, second = design_curves.list_own_curves(viewer, design)
    assert (first.tag, first.test, second.tag) == ("A-1", newest, "A-2")
    peak_ohm = np.nanmax(np.array(first.impedance_ohm, dtype=float))
    assert peak_ohm == pytest.approx(2000, rel=0.05)  # the choke of the sweep, by its construction
    # 20 log10 |1 + Z/100|, CISPR 17
    assert max(value for value in first.rejection_db if value is not None) == pytest.approx(26.4, abs=0.5)


def test_nobody_else_gets_them(ada):
    _, design, newest = ada
    for viewer in (ANONYMOUS, factories.member("Ben"), factories.member("Cleo", "steward")):
        assert design_curves.list_own_curves(viewer, design) == ()
    tests.withdraw_test(by=ada[0], test=newest)
    assert (
        design_curves.list_own_curves(ada[0], design)[1].tag == "A-1"
    )  # its older test, from January the 5th


def test_three_at_most_in_one_query(ada):
    viewer, design, _ = ada
    for number in range(3):
        device = factories.device(viewer, design, tag=f"more-{number}")
        factories.record(viewer, device, factories.choke_s2p(seed=number))
    with CaptureQueriesContext(connection) as queries:
        assert len(design_curves.list_own_curves(viewer, design)) == 3
    assert len(queries) == 1


def test_curves_of_several_designs_cost_two_queries_whatever_their_number(reference_data):
    keys = [factories.evidence(5, turns=turns, first=10 * turns) for turns in (3, 4, 5)]
    keys.append(factories.evidence(2, turns=6, first=90))
    releases.make_release()
    reader = factories.member("reader")
    for viewer, count in ((reader, 3), (ANONYMOUS, 3)):
        with CaptureQueriesContext(connection) as queries:
            found = design_curves.get_curves_by_design(viewer, keys)
        assert list(found) == keys[:count] and len(queries) <= 2
        for key, one in found.items():
            assert one == design_curves.get_design_curves(viewer, key)
