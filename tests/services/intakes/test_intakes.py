"""Many files of a night at once become tests: each ends stored, already there, or refused."""

from __future__ import annotations

import pytest

from measurements.errors import BenchnightError
from measurements.models import Design, Device, Intake, IntakeFile, SweepFile, Test
from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.selectors.nights import nights as nights_selectors
from measurements.services.intakes import intakes as intakes_services
from measurements.services.nights import nights as nights_services
from measurements.services.uploads.uploads import Upload
from tests import club, factories
from tests.intake_samples import HEAD, choke, one_port, reasons, states, taken_in
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


def test_files_become_tests_of_guests_and_members(by, night):
    ada = factories.member("Ada")
    design = factories.design(ada)
    label = factories.device(ada, design, "A-1")
    lines = [
        f"c1.s2p,G-1,Gwenna,common_mode,,sweep,,{design}",
        f"c2.s2p,G-2,gwenna,common_mode,,,,{design}",
        f"c3.s2p,{label},,common_mode,,sweep,1:1,",
    ]
    key = intakes_services.begin_intake(
        by=by, night=night, files=[choke(1), choke(2), choke(3)], manifest="\n".join([HEAD, *lines])
    ).key
    before = intakes_selectors.get_intake(by, key)
    assert (before.state, before.done, before.total) == ("queued", 0, 3)
    assert {file.state for file in before.files} == {"waiting"}
    intakes_services.work_on_intake(intake=key)
    after = intakes_selectors.get_intake(by, key)
    assert (after.state, after.done, after.total, states(by, key)) == ("done", 3, 3, ["stored"] * 3)
    row = nights_selectors.get_night(by, night)
    assert [(d.tag, d.owner, d.is_guest, d.tests) for d in row.devices] == [
        ("A-1", "", False, 1),
        ("G-1", "Gwenna", True, 1),
        ("G-2", "Gwenna", True, 1),
    ]
    assert [(i.state, i.done, i.total, i.refused) for i in row.intakes] == [("done", 3, 3, 0)]
    assert {test.measured_on for test in Test.objects.all()} == {club.HELD_ON}
    assert {test.settings["calibrated"] for test in Test.objects.all()} == {True}
    # the bytes are the tests' now, unchanged
    assert bytes(SweepFile.objects.get(name="c1.s2p").raw) == choke(1).data
    assert all(not bytes(file.raw) for file in IntakeFile.objects.all())


def test_the_same_intake_again_makes_no_duplicate(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    first = taken_in(by, night, [choke(1)], lines)
    again = taken_in(by, night, [choke(1)], lines)
    assert states(by, again) == ["already_there"]
    assert (
        intakes_selectors.get_intake(by, again).files[0].test
        == intakes_selectors.get_intake(by, first).files[0].test
    )
    assert (Test.objects.count(), Device.objects.count()) == (1, 1)


def test_also_after_the_jig_was_swept_anew_a_sweep_finds_its_test(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    nights_services.set_night_jig(by=by, night=night, uploads=club.jig())
    taken_in(by, night, [choke(1)], lines)
    nights_services.set_night_jig(by=by, night=night, uploads=club.jig(0.4e-12))
    assert states(by, taken_in(by, night, [choke(1)], lines)) == ["already_there"]


def test_files_of_one_tag_kind_and_method_are_one_test(by, night):
    design = factories.design(by, ratio="4:1", purpose="unun", principle="voltage")
    shared = f"U-1,Gwenna,insertion_loss,one_port,{{role}},4:1,{design},200"
    files = [
        one_port("o.s1p", 3000j + 5),
        one_port("s.s1p", 3j + 0.2),
        one_port("l.s1p", 49 + 1j),
    ]
    lines = [
        f"{name}.s1p,{shared.format(role=role)}"
        for name, role in (("o", "far_open"), ("s", "far_short"), ("l", "far_load"))
    ]
    key = taken_in(by, night, files, lines, f"{HEAD},load_ohm")
    assert states(by, key) == ["stored"] * 3, reasons(by, key)
    test = Test.objects.get()
    assert sorted(test.sweeps.values_list("role", flat=True)) == ["far_load", "far_open", "far_short"]
    assert (test.settings["ratio"], test.settings["load_ohm"]) == ("4:1", 200.0)


def test_a_second_sweep_of_the_same_device_is_a_second_test(by, night):
    design = factories.design(by)
    lines = [f"c{n}.s2p,G-1,Gwenna,common_mode,,,,{design}" for n in (1, 2)]
    taken_in(by, night, [choke(1), choke(2)], lines)
    assert (Test.objects.count(), Device.objects.count()) == (2, 1)


@pytest.mark.parametrize("role", ["member", "operator"])
def test_intakes_are_their_nights_operators(by, night, role):
    key = taken_in(by, night, [choke(1)], [])
    other = factories.member("Other", role)
    code = "account.operators_only" if role == "member" else "intake.not_found"
    refused(code, intakes_selectors.get_intake, viewer=other, key=key)
    refused(code, intakes_services.correct_file, by=other, intake=key, number=1)
    code = "account.operators_only" if role == "member" else "night.not_found"
    refused(code, intakes_services.begin_intake, by=other, night=night, files=[choke(1)], manifest=None)
    refused(code, intakes_services.make_manifest_template, by=other, night=night, names=["a.s2p"])
    assert intakes_selectors.get_intake(factories.member("Stew", "steward"), key).total == 1


def test_what_cannot_begin_stores_nothing(by, night, settings):
    settings.BENCHNIGHT_INTAKE_ENTRIES = 2
    settings.BENCHNIGHT_SWEEP_BYTES = 100_000
    ok = choke(1)
    begin = {"by": by, "night": night, "manifest": None}
    refused("intake.empty", intakes_services.begin_intake, files=[], **begin)
    refused("intake.same_name", intakes_services.begin_intake, files=[ok, choke(2, "C1.s2p")], **begin)
    refused("intake.too_many", intakes_services.begin_intake, files=[choke(n) for n in range(3)], **begin)
    refused(
        "sweep.too_large", intakes_services.begin_intake, files=[Upload("big.s2p", b"x" * 100_001)], **begin
    )
    refused(
        "manifest.missing_column",
        intakes_services.begin_intake,
        by=by,
        night=night,
        files=[ok],
        manifest="file,tag\n",
    )
    settings.BENCHNIGHT_MEMBER_BYTES = 10
    refused("intake.no_room", intakes_services.begin_intake, files=[ok], **begin)
    assert not Intake.objects.exists() and not IntakeFile.objects.exists()


def test_the_template_is_filled_with_what_names_and_night_say(by, night):
    guest = club.guest(by, night)
    club.guests_device(by, night, guest, factories.design(by), "G-1")
    text = intakes_services.make_manifest_template(by=by, night=night, names=["G-1 choke.s2p", "=evil.s1p"])
    lines = text.splitlines()
    assert lines[0].startswith("file,tag,contributor,kind,method,role,ratio")
    assert lines[1].startswith("G-1 choke.s2p,G-1,Gwenna,common_mode,,sweep,1:1")
    assert lines[2].startswith("'=evil.s1p,")
    (row, other) = intakes_services.suggest_manifest_rows(
        by=by, night=night, names=["G-1 choke.s2p", "x.txt"]
    )
    assert row["contributor"] == "Gwenna" and other["contributor"] == ""


def test_a_filled_template_is_a_manifest(by, night):
    guest = club.guest(by, night)
    club.guests_device(by, night, guest, factories.design(by), "G-1")
    text = intakes_services.make_manifest_template(by=by, night=night, names=["G-1 choke.s2p"])
    key = intakes_services.begin_intake(
        by=by, night=night, files=[choke(1, "G-1 choke.s2p")], manifest=text
    ).key
    intakes_services.work_on_intake(intake=key)
    assert states(by, key) == ["stored"], reasons(by, key)


def test_benchnight_errors_of_whole_manifests_name_every_line(by, night):
    text = f"{HEAD}\nc1.s2p,G-1\nC1.s2p,G-2\n,G-3\n"
    with pytest.raises(BenchnightError) as caught:
        intakes_services.begin_intake(by=by, night=night, files=[choke(1)], manifest=text)
    assert [(fault.line, fault.field) for fault in caught.value.errors] == [(3, "file"), (4, "file")]


def test_a_design_is_named_by_its_title_too_and_a_merged_one_leads_on(by, night):
    kept, gone = factories.design(by), factories.design(by, turns=13)
    Design.objects.filter(key=gone).update(merged_into=Design.objects.get(key=kept))
    title = Design.objects.get(key=kept).title
    for seed, (tag, named) in enumerate((("G-1", title.upper()), ("G-2", gone)), start=1):
        line = f'c{seed}.s2p,{tag},Gwenna,common_mode,,,,"{named}"'
        assert states(by, taken_in(by, night, [choke(seed)], [line])) == ["stored"]
    assert {device.design.key for device in Device.objects.select_related("design")} == {kept}
