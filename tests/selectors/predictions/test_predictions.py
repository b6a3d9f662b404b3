"""Predictions as rows: what they rest on for each circle, in a fixed number of queries."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.errors import BenchnightError
from measurements.models import LearnedModel
from measurements.selectors.predictions import prediction_basis, predictions, proposals
from measurements.selectors.predictions.proposals import WindingRequest
from measurements.services.designs import designs
from measurements.services.releases import learning, releases
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def reader() -> Viewer:
    return factories.member("Reader")


def predicted(viewer: Viewer, bands: tuple[str, ...] = (), **changes):
    recipe = designs.preview_design(factories.recipe(**changes))
    return predictions.predict_recipe(viewer, recipe.as_json, recipe.title, bands=bands)


def test_until_a_release_is_learned_from_the_tables_stand_alone(reader):
    factories.evidence(5)
    releases.make_release()
    assert prediction_basis.get_prediction_basis(reader).release is None
    learning.learn_models()
    assert prediction_basis.get_prediction_basis(reader).release == 1
    factories.evidence(3, turns=9)  # of the same persons: nobody joined
    releases.make_release()
    learning.learn_models()
    assert prediction_basis.get_prediction_basis(reader).release == 1
    factories.evidence(3, turns=9, first=10)
    releases.make_release()
    assert prediction_basis.get_prediction_basis(reader).release == 1  # until it is learned from
    learning.learn_models()
    assert prediction_basis.get_prediction_basis(reader).release == 3


def test_validation_that_comes_later_is_seen(reader):
    factories.evidence(5)
    releases.make_release()
    learning.learn_models()
    LearnedModel.objects.update(validation={})
    assert prediction_basis.get_prediction_basis(reader).validation is None
    learning.validate_models()
    assert prediction_basis.get_prediction_basis(reader).validation["designs"] == 1


def test_each_circle_is_told_of_its_own_evidence(reader):
    factories.evidence(3, turns=9)
    releases.make_release()
    learning.learn_models()
    members, public = predicted(reader, turns=9), predicted(ANONYMOUS, turns=9)
    assert members.built and members.rests_on.learned and members.near[0].same
    assert not public.built and not public.rests_on.learned and public.near == ()
    assert members.rejection_db["median"] != public.rejection_db["median"]
    assert "rests on" not in members.note and members.note.startswith("The maker's table of mix 31")


def test_evidence_narrows_a_prediction(reader):
    factories.evidence(6)
    before = predicted(reader)
    releases.make_release()
    learning.learn_models()
    after = predicted(reader)

    def width(row):
        return row.rejection_db["p90"][20] - row.rejection_db["p10"][20]

    assert width(after) < width(before)


def test_turns_that_do_not_fit_are_told(reader):
    assert predicted(reader, conductor="RG-213", turns=12).fits is False  # 10.3 mm in a bore of 35.6 mm
    assert predicted(reader, conductor="RG-213", turns=6).fits is True
    assert predicted(reader, conductor="other", turns=12).fits is None


def test_what_limits_is_in_the_words(reader):
    low = predicted(reader, ("160m",), mix="61", turns=6)
    assert low.chance == 0 and "On 160m it is short of inductance" in low.why
    high = predicted(reader, ("10m",), turns=25)
    assert high.chance < 0.9 and "On 10m it lies above its resonance" in high.why


def test_where_the_model_does_not_reach_it_refuses(reader):
    for changes in ({"mix": "52"}, {"principle": "voltage", "purpose": "balun"}, {"shape": "rod"}):
        with pytest.raises(BenchnightError) as refused:
            predicted(reader, **changes)
        assert refused.value.code.startswith("predict.")


def test_a_search_takes_as_many_queries_for_one_core_as_for_all(reader):
    factories.evidence(5)
    releases.make_release()
    learning.learn_models()
    prediction_basis.get_prediction_basis(reader)
    counts = []
    for parts in (("2631803802",), ()):
        with CaptureQueriesContext(connection) as queries:
            proposals.find_proposals(reader, WindingRequest(("40m",), parts=parts))
        counts.append(len(queries))
    assert counts[0] <= 14 and counts[1] <= counts[0]
