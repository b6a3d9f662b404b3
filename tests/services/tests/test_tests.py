"""Recording a test: whole or not at all, once however often it is sent."""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta

import numpy as np
import pytest
from django.db import connection
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Result, SweepFile, Test
from measurements.rf.sweeps import reading
from measurements.selectors.tests import review
from measurements.selectors.tests import tests as tests_selectors
from measurements.services.reference import reference_files
from measurements.services.releases import design_decisions
from measurements.services.tests import results, tests, upload_statements
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories

SETTINGS = {"kind": "common_mode", "calibrated": "true"}


def test_bytes_arrays_and_figures_are_stored_together(member):
    data = factories.choke_s2p()
    key = factories.record(member, factories.device(member), data, name="C:\\bench\\choke 1.s2p")
    file = SweepFile.objects.get(test__key=key)
    assert bytes(file.raw) == data
    assert file.raw_sha256 == hashlib.sha256(data).hexdigest()
    assert file.name == "choke 1.s2p"
    stored, fresh = results.unpack_sweep(file), reading.read_sweep(data, "choke 1.s2p")
    np.testing.assert_array_equal(stored.freq_hz, fresh.freq_hz)
    np.testing.assert_array_equal(stored.s, fresh.s)
    np.testing.assert_array_equal(stored.measured, fresh.measured)
    result = Result.objects.get(test__key=key)
    assert result.current and result.counts_as_evidence
    assert result.figures["engine_version"] == result.engine_version
    # the model's own figures: 3000 ohm, purely resistive, at 10 MHz; noise adds some percent
    assert result.figures["summary"]["peak_impedance_ohm"] == pytest.approx(3000, rel=0.05)
    assert result.figures["summary"]["self_resonance_hz"] == pytest.approx(10e6, rel=0.01)
    assert AuditEntry.objects.filter(action="test.record", subject=key).exists()


def test_the_same_test_sent_again_is_found(member):
    device = factories.device(member)
    first = factories.record(member, device)
    answer = tests.record_test(
        by=member,
        device=device,
        uploads={"sweep": Upload("another name.s2p", factories.choke_s2p())},
        settings=parse_settings(SETTINGS),
        measured_on=date(2026, 3, 14),
    )
    assert (answer.key, answer.created) == (first, False)
    assert (Test.objects.count(), SweepFile.objects.count(), Result.objects.count()) == (1, 1, 1)


def test_the_same_sweep_for_another_device_is_flagged_and_left_out(member):
    first = factories.record(member, factories.device(member, tag="C-1"))
    second = factories.record(member, factories.device(member, tag="C-2"))
    assert Result.objects.get(test__key=first).counts_as_evidence
    result = Result.objects.get(test__key=second)
    assert "same_sweep" in [flag["code"] for flag in result.figures["flags"]]
    assert not result.counts_as_evidence


def test_the_same_bytes_of_another_member_are_stored_alike_and_kept_out_quietly(member):
    """An oracle otherwise: the flag told at once that somebody else stored this file."""
    other, steward = factories.member("Bea"), factories.member("Stella", "steward")
    factories.record(other, factories.device(other, tag="B-1"))
    design = factories.design(member)
    stored = {
        seed: factories.record(member, factories.device(member, design, tag=f"C-{seed}"), sweep)
        for seed, sweep in ((1, None), (2, factories.choke_s2p(seed=2)))
    }
    same, fresh = (tests_selectors.get_test(member, stored[seed]) for seed in (1, 2))
    assert [flag["code"] for flag in same.result["flags"]] == [flag["code"] for flag in fresh.result["flags"]]
    assert (same.evidence, same.published) == (fresh.evidence, fresh.published)
    assert [Test.objects.get(key=key).shares_bytes for key in stored.values()] == [True, False]
    voting = set(design_decisions.query_voting_results().values_list("test__key", flat=True))
    assert stored[1] not in voting and stored[2] in voting
    assert [row.key for row in review.list_reviews(steward).results] == [stored[1]]
    assert not review.get_review(steward, stored[1]).counts


def test_an_uncalibrated_test_is_kept_and_left_out(member):
    key = factories.record(member, factories.device(member), calibrated="false")
    assert not Result.objects.get(test__key=key).counts_as_evidence


def test_a_faulty_file_stores_nothing_and_names_its_line(member):
    lines = factories.choke_s2p().decode().splitlines()
    lines[9] = lines[9].replace(".", ",")
    with pytest.raises(BenchnightError) as caught:
        factories.record(member, factories.device(member), "\n".join(lines).encode())
    assert (caught.value.field, caught.value.line) == ("sweep", 10)
    assert not Test.objects.exists() and not SweepFile.objects.exists()


def test_a_failure_while_storing_leaves_nothing_behind(member, monkeypatch):
    insert_test = upload_statements.insert_test

    def broken(*rows):
        insert_test(*rows)
        raise RuntimeError("power cut")

    monkeypatch.setattr(upload_statements, "insert_test", broken)
    with pytest.raises(RuntimeError):
        factories.record(member, factories.device(member))
    assert not Test.objects.exists() and not SweepFile.objects.exists()
    assert not AuditEntry.objects.filter(action="test.record").exists()


def test_only_the_owner_records_and_withdraws(member):
    device, other = factories.device(member), factories.member("Bo")
    with pytest.raises(BenchnightError) as caught:
        factories.record(other, device)
    assert caught.value.code == "device.not_found"
    key = factories.record(member, device)
    with pytest.raises(BenchnightError) as caught:
        tests.withdraw_test(by=other, test=key)
    assert caught.value.code == "test.not_found"
    tests.withdraw_test(by=member, test=key)
    assert not Test.objects.exists() and not SweepFile.objects.exists()


@pytest.mark.parametrize("day", [date(1989, 12, 31), timezone.now().date() + timedelta(days=2)])
def test_a_day_that_cannot_be(member, day):
    with pytest.raises(BenchnightError) as caught:
        factories.record(member, factories.device(member), measured_on=day)
    assert caught.value.field == "measured_on"


def test_a_file_under_an_unknown_role_is_refused(member):
    with pytest.raises(BenchnightError) as caught:
        tests.record_test(
            by=member,
            device=factories.device(member),
            uploads={"photo": Upload("sweep.s2p", factories.choke_s2p())},
            settings=parse_settings(SETTINGS),
            measured_on=date(2026, 3, 14),
        )
    assert caught.value.field == "photo"


@pytest.mark.parametrize(
    ("settings", "field"),
    [
        ({}, "kind"),
        ({"kind": "magic"}, "kind"),
        ({"kind": "common_mode", "method": "direct"}, "method"),
        ({"kind": "insertion_loss", "method": "guess"}, "method"),
        ({"kind": "load_match", "ratio": "4/x"}, "ratio"),
        ({"kind": "load_match", "load_ohm": "-3"}, "load_ohm"),
        ({"kind": "load_match", "load_ohm": "nan"}, "load_ohm"),
        ({"kind": "load_match", "series_ohm": "1e99"}, "series_ohm"),
        ({"kind": "common_mode", "calibrated": "perhaps"}, "calibrated"),
        ({"kind": "common_mode", "benchmark_db": "0"}, "benchmark_db"),
        ({"kind": "common_mode", "region": "4"}, "region"),
        ({"kind": "common_mode", "readings": "[1]"}, "readings"),
        ({"kind": "common_mode", "readings": "{"}, "readings"),
        ({"kind": "common_mode", "colour": "red"}, "colour"),
    ],
)
def test_a_wrong_setting_names_its_field(settings, field):
    with pytest.raises(BenchnightError) as caught:
        parse_settings(settings)
    assert [fault.field for fault in caught.value.errors] == [field]


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ({"kind": "load_match", "load_ohm": "-3"}, "Give a number from 0.1 to 100,000 ohm."),
        ({"kind": "common_mode", "benchmark_db": "nan"}, "Give a number from 1 to 80 dB."),
    ],
)
def test_a_wrong_number_is_told_its_unit(settings, said):
    with pytest.raises(BenchnightError) as caught:
        parse_settings(settings)
    assert [fault.detail for fault in caught.value.errors] == [said]


def test_settings_accept_a_decimal_comma_and_leave_out_what_is_empty():
    settings = parse_settings({"kind": "load_match", "ratio": "1:4", "load_ohm": "198,5", "method": ""})
    assert (settings.ratio, settings.load_ohm, settings.method) == ("4:1", 198.5, None)


@pytest.mark.django_db(transaction=True)
def test_twenty_identical_uploads_at_once_make_one_test():
    reference_files.load_reference_data()
    member = factories.member("Ada")
    device, data = factories.device(member), factories.choke_s2p()

    def upload(_: int) -> str:
        try:
            return factories.record(member, device, data)
        finally:
            connection.close()

    with ThreadPoolExecutor(8) as pool:
        keys = set(pool.map(upload, range(20)))
    assert len(keys) == 1
    assert (Test.objects.count(), SweepFile.objects.count(), Result.objects.count()) == (1, 1, 1)
