"""A trusted partner's stored loss is taken off a pair; quotas; typed readings."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import Result, Test
from measurements.services.tests import analysis, tests
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories

DAY = date(2026, 3, 14)


def attenuator_s2p(loss_db: float) -> bytes:
    """A matched pad, both ways: an ideal pad's S21 is its loss and S11 is zero (closed form)."""
    s21 = 10 ** (-loss_db / 20)
    rows = (f"{hz:.0f} 0.001 0 {s21:.9f} 0 {s21 - 1e-9:.9f} 0 0.0011 0" for hz in np.linspace(1e6, 30e6, 201))
    return ("# Hz S RI R 50\n" + "\n".join(rows) + "\n").encode()


def loss(by, device, loss_db: float, **settings):
    return tests.record_test(
        by=by,
        device=device,
        uploads={"sweep": Upload("pad.s2p", attenuator_s2p(loss_db))},
        settings=parse_settings({"kind": "insertion_loss", "calibrated": "true", **settings}),
        measured_on=DAY,
    ).key


def test_the_partner_is_taken_off_the_pair(member):
    partner = loss(member, factories.device(member, tag="T-1"), 0.2, method="direct")
    key = loss(member, factories.device(member, tag="T-2"), 0.5, method="known_partner", partner=partner)
    figures = Result.objects.get(test__key=key).figures
    assert figures["method"] == "known_partner"
    (band,) = (band for band in figures["bands"] if band["band"] == "40m")
    assert band["loss_db"]["worst"] == pytest.approx(0.3, abs=0.001)
    assert band["uncertainty_db"]["worst"] > 0


def test_a_partner_must_be_an_own_insertion_loss_test(member):
    theirs = factories.member("Bo")
    foreign = loss(theirs, factories.device(theirs), 0.2)
    choke = factories.record(member, factories.device(member, tag="T-1"))
    device = factories.device(member, tag="T-2")
    for partner in (foreign, choke, "nosuchkey"):
        with pytest.raises(BenchnightError) as caught:
            loss(member, device, 0.5, method="known_partner", partner=partner)
        assert (caught.value.code, caught.value.field) == ("test.partner", "partner")
    with pytest.raises(BenchnightError) as caught:
        analysis.analyse_uploads(
            uploads_by_role={"sweep": Upload("pad.s2p", attenuator_s2p(0.5))},
            settings=parse_settings(
                {"kind": "insertion_loss", "method": "known_partner", "partner": foreign}
            ),
            by=ANONYMOUS,
        )
    assert caught.value.code == "test.partner"


def test_an_account_stores_so_much_and_no_more(member, settings):
    device = factories.device(member)
    settings.BENCHNIGHT_MEMBER_BYTES = len(factories.choke_s2p(seed=1)) + 10
    factories.record(member, device, factories.choke_s2p(seed=1))
    with pytest.raises(BenchnightError) as caught:
        factories.record(member, device, factories.choke_s2p(seed=2))
    assert (caught.value.code, caught.value.kind) == ("upload.quota", "too_large")
    assert Test.objects.count() == 1


def test_readings_of_an_swr_start_at_one(member):
    readings = '[{"frequency_hz": 7100000, "value": 0.9}]'
    with pytest.raises(BenchnightError) as caught:
        analysis.analyse_uploads(
            uploads_by_role={}, settings=parse_settings({"kind": "load_match", "readings": readings})
        )
    assert caught.value.field == "readings"
