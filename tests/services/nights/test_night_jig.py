"""The night's jig: swept once, stored unchanged, used by every common-mode test of the night."""

from __future__ import annotations

import pytest

from measurements.models import NightJigFile, Result, SweepFile, Test
from measurements.selectors.nights import nights as nights_selectors
from measurements.services.nights import nights as nights_services
from measurements.services.tests import recomputation
from measurements.services.uploads.uploads import Upload
from tests import club, factories
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")
JIG_ROLES = {"jig_through", "jig_open", "jig_short"}


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


@pytest.fixture
def device(by, night) -> str:
    return club.guests_device(by, night, club.guest(by, night))


def roles(key: str) -> set[str]:
    return set(SweepFile.objects.filter(test__key=key).values_list("role", flat=True))


def test_it_is_kept_as_it_came_with_what_it_is_good_for(by, night):
    figures = nights_services.set_night_jig(by=by, night=night, uploads=club.jig())
    row = nights_selectors.get_night(by, night)
    assert row.jig_figures == figures and row.version == 2
    assert {file.role for file in row.jig_files} == JIG_ROLES
    kept = NightJigFile.objects.get(night__key=night, role="jig_open")
    assert bytes(kept.raw) == club.jig()["jig_open"].data
    # 0.2 pF at 29.7 MHz: 26.8 kohm, 48.6 dB; the leads of 20 nH change nothing visible
    assert figures["floor_db"] == pytest.approx(48.6, abs=0.1)
    assert figures["good_up_to_db"] == pytest.approx(38.6, abs=0.1)
    assert (figures["good_enough"], figures["tests_before"]) == (True, 0)


def test_a_common_mode_test_of_the_night_is_corrected_with_it(by, night, device):
    nights_services.set_night_jig(by=by, night=night, uploads=club.jig())
    made = club.record(by, device, night).key
    assert roles(made) == {"sweep", *JIG_ROLES}
    test = Test.objects.get(key=made)
    summary = Result.objects.get(test=test).figures["summary"]
    assert summary["rejection_judged"] == "compensated" and summary["floor_db"] is not None
    assert test.settings["calibrated"] is True  # the night said so
    # the stored files are the jig's own bytes
    stored = SweepFile.objects.get(test=test, role="jig_open")
    assert bytes(stored.raw) == club.jig()["jig_open"].data


def test_who_brings_a_jig_sweep_uses_that_and_none_of_the_nights(by, night, device):
    from measurements.services.tests import tests
    from measurements.services.uploads.uploads import parse_settings

    nights_services.set_night_jig(by=by, night=night, uploads=club.jig())
    own = Upload("own.s2p", club.jig(0.4e-12)["jig_open"].data)
    made = tests.record_test(
        by=by,
        device=device,
        uploads={"sweep": Upload("s.s2p", factories.choke_s2p()), "jig_open": own},
        settings=parse_settings({"kind": "common_mode", "calibrated": "false"}),
        measured_on=club.HELD_ON,
        night=night,
    ).key
    assert roles(made) == {"sweep", "jig_open"}
    test = Test.objects.get(key=made)
    assert bytes(test.sweeps.get(role="jig_open").raw) == own.data
    assert test.settings["calibrated"] is False  # said otherwise


def test_a_loss_uses_the_through_and_what_does_not_pass_the_jig_uses_nothing(by, night, device):
    nights_services.set_night_jig(by=by, night=night, uploads=club.jig())
    loss = club.record(by, device, night, kind="insertion_loss", method="direct").key
    match = club.record(by, device, night, kind="load_match").key
    ada = factories.member("Ada")
    home = factories.record(ada, factories.device(ada, tag="A-1"))
    assert roles(loss) == {"sweep", "jig_through"}
    assert roles(match) == roles(home) == {"sweep"}


def test_a_jig_swept_anew_counts_from_then_on(by, night, device):
    nights_services.set_night_jig(by=by, night=night, uploads=club.jig())
    before = club.record(by, device, night).key
    figures = nights_services.set_night_jig(by=by, night=night, uploads=club.jig(0.4e-12))
    assert figures["tests_before"] == 1
    after = club.record(by, device, night, factories.choke_s2p(seed=9)).key
    opened = {
        key: bytes(SweepFile.objects.get(test__key=key, role="jig_open").raw) for key in (before, after)
    }
    assert opened[before] == club.jig()["jig_open"].data
    assert opened[after] == club.jig(0.4e-12)["jig_open"].data
    # and a recomputation by a later engine uses what each test has
    Result.objects.update(engine_version="0.0.1")
    assert recomputation.recompute_stale_tests() == 2
    floors = {
        key: Result.objects.get(test__key=key, current=True).figures["summary"]["floor_db"]
        for key in (before, after)
    }
    assert floors[before] - floors[after] == pytest.approx(6.0, abs=0.1)  # twice the capacitance


def test_roles_that_are_not_sent_again_are_gone(by, night):
    nights_services.set_night_jig(by=by, night=night, uploads=club.jig())
    only = {"jig_open": club.jig()["jig_open"]}
    nights_services.set_night_jig(by=by, night=night, uploads=only)
    assert [file.role for file in nights_selectors.get_night(by, night).jig_files] == ["jig_open"]


@pytest.mark.parametrize(
    ("uploads", "code"),
    [
        ({}, "jig.nothing"),
        ({"sweep": Upload("a.s2p", b"x")}, "jig.role"),
        ({"jig_open": Upload("a.s2p", b"# Hz S RI R 50\n1e6 0 0\n")}, None),
        ({"jig_open": club.jig()["jig_short"]}, "jig.mixed_up"),
    ],
)
def test_a_faulty_jig_leaves_the_old_one(by, night, uploads, code):
    nights_services.set_night_jig(by=by, night=night, uploads=club.jig())
    if code is None:
        from measurements.errors import BenchnightError

        with pytest.raises(BenchnightError) as caught:
            nights_services.set_night_jig(by=by, night=night, uploads=uploads)
        assert caught.value.errors[0].line == 2
    else:
        refused(code, nights_services.set_night_jig, by=by, night=night, uploads=uploads)
    assert len(nights_selectors.get_night(by, night).jig_files) == 3
