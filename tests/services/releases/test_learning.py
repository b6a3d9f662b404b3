"""What is learned comes from a release alone, from each circle's own share, and waits for three persons."""

from __future__ import annotations

import json

import numpy as np
import pytest
from django.core.management import call_command

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import LearnedModel, Test
from measurements.rf.bands import Band
from measurements.rf.evidence_grid import GRID_HZ
from measurements.rf.ferrites import learned_windings
from measurements.selectors.evidence import design_curves
from measurements.selectors.reference import reference
from measurements.services.releases import learning, releases
from measurements.services.tests import tests
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


def bands() -> tuple[Band, ...]:
    return tuple(Band(row.band, row.start_hz, row.stop_hz) for row in reference.list_bands())


def model(circle: str) -> learned_windings.LearnedWindings:
    found = learned_windings.parse_learned_windings(LearnedModel.objects.get(circle=circle).figures)
    assert found is not None
    return found


def test_nothing_is_learned_before_the_first_release():
    with pytest.raises(BenchnightError) as refused:
        learning.learn_models()
    assert refused.value.code == "release.none"
    assert learning.learn_missing_models() == ()


def test_each_circle_learns_from_the_designs_it_sees():
    popular, sparse = factories.evidence(6), factories.evidence(3, turns=9)
    factories.evidence(2, turns=7)  # nobody but the owners sees that
    releases.make_release()
    members, public = learning.learn_models()
    assert (members.designs, members.devices) == (2, 9)
    assert (public.designs, public.devices) == (1, 5)  # the lower end of "5-9"
    assert model("members").designs.keys() == {popular, sparse}
    assert model("public").designs.keys() == {popular}


def test_the_public_model_rests_on_what_its_pages_show():
    key = factories.evidence(6)
    releases.make_release()
    (seen,) = learning.get_training_evidence("public", bands()).evidence
    shown = design_curves.get_design_curves(ANONYMOUS, key).rejection_db["median"]
    by_frequency = dict(zip(GRID_HZ, shown, strict=True))
    assert [by_frequency[f] for f in seen.freq_hz] == seen.rejection_db.tolist()
    assert seen.z_ohm is None and seen.curves_ohm.size == 0


def test_what_only_members_see_does_not_move_the_public_model():
    factories.evidence(6)
    releases.make_release()
    learning.learn_models()
    before = LearnedModel.objects.get(circle="public").figures
    members_before = model("members").mean
    factories.evidence(4, turns=9, peak_ohm=900.0, first=10)
    releases.make_release()
    learning.learn_models()
    after = LearnedModel.objects.get(circle="public").figures
    assert after == before
    assert not np.allclose(model("members").mean, members_before)


def test_a_model_stays_until_three_persons_joined_what_it_was_learned_from():
    """Between two releases somebody withdraws, two join and another design of the same persons appears."""
    key = factories.evidence(5)
    releases.make_release()
    learning.learn_models()
    before = {row.circle: (row.release_id, row.figures) for row in LearnedModel.objects.all()}
    test = Test.objects.filter(device__design__key=key).first()
    tests.withdraw_test(by=factories.member(test.device.contributor.member.name), test=test.key)
    factories.evidence(3, turns=9)
    factories.evidence(2, first=20)
    releases.make_release()
    learning.learn_models()
    assert {row.circle: (row.release_id, row.figures) for row in LearnedModel.objects.all()} == before
    factories.evidence(3, first=30)
    releases.make_release()
    assert len(learning.learn_missing_models()) == 2
    assert {row.release_id for row in LearnedModel.objects.all()} == {3}
    assert learning.learn_missing_models() == ()  # it is there now
    LearnedModel.objects.filter(circle="public").delete()
    assert len(learning.learn_missing_models()) == 1


def test_nothing_of_a_person_is_kept():
    factories.evidence(5, turns=11)
    releases.make_release()
    learning.learn_models()
    kept = json.dumps([[row.figures, row.validation] for row in LearnedModel.objects.all()])
    for word in ("person-", "C-1", "sweep.s2p", "2026-"):  # figures may well hold the digits of a year
        assert word not in kept


def test_windings_the_model_does_not_reach_are_left_out():
    factories.evidence(5, purpose="balun", principle="voltage", ratio="4:1")
    releases.make_release()
    assert learning.get_training_evidence("members", bands()).evidence == []


def test_commands_learn_and_validate(capsys):
    with pytest.raises(Exception, match="no release yet"):
        call_command("learn")
    factories.evidence(5)
    factories.evidence(5, turns=10, first=5)
    call_command("release")
    assert LearnedModel.objects.count() == 2
    call_command("learn")
    assert "members: learned from 2 designs, 10 devices" in capsys.readouterr().out
    call_command("validate_prediction")
    told = capsys.readouterr().out
    assert "2 of 2 designs left out" in told and "in the 80 % interval" in told
    assert "The model is " in told
    stored = LearnedModel.objects.get(circle="members").validation
    assert stored["left_out"] == 2 and 0 <= stored["coverage"] <= 1
    LearnedModel.objects.all().delete()
    with pytest.raises(Exception, match=r"run `manage\.py learn`"):
        call_command("validate_prediction")
