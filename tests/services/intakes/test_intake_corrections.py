"""Refused files say why with line and column, and are mended and sent again without the others."""

from __future__ import annotations

import pytest

from measurements.models import Device, Test
from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.services.intakes import file_rows
from measurements.services.intakes import intakes as intakes_services
from measurements.services.uploads.uploads import Upload
from tests import club, factories
from tests.intake_samples import choke, one_port, reasons, states, taken_in
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


def test_a_faulty_file_takes_its_test_with_it_and_no_other(by, night):
    design = factories.design(by)
    broken = Upload("bad.s2p", b"# Hz S RI R 50\n1000000 0.1 0.1\n")
    lines = [
        f"bad.s2p,G-1,Gwenna,common_mode,,,,{design}",
        f"c2.s2p,G-2,Gwenna,common_mode,,,,{design}",
    ]
    key = taken_in(by, night, [broken, choke(2)], lines)
    assert states(by, key) == ["refused", "stored"]
    assert "Line 2" in reasons(by, key)[0]  # of the sweep: its second line is short of numbers
    assert [device.tag for device in Device.objects.all()] == ["G-2"]  # nothing half of G-1
    intakes_services.correct_file(by=by, intake=key, number=1, upload=choke(1, "better.s2p"))
    assert intakes_selectors.get_intake(by, key).state == "queued"
    intakes_services.work_on_intake(intake=key)
    assert states(by, key) == ["stored", "stored"]
    assert Test.objects.count() == 2


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        ("c1.s2p,G-1,Gwenna,common_mode,,,,", "tag", "name its design"),
        ("c1.s2p,G-1,Gwenna,common_mode,,,,nosuch", "design", "no design"),
        ("c1.s2p,G-1,Gwenna,chokes,,,,{design}", "kind", "Choose one of"),
        ("c1.s2p,G-1,Gwenna,common_mode,,swept,,{design}", "role", "Choose one of"),
        ("c1.s2p,G-1,Gwenna,insertion_loss,guess,,,{design}", "method", "Choose one of"),
        ("c1.s2p,G-1,Gwenna,load_match,,,4/0,{design}", "ratio", ""),
        ("c1.s2p,,Gwenna,common_mode,,,,{design}", "tag", "Give the tag"),
        ("c1.s2p,G-1,Gwenna,,,,,{design}", "kind", "Give what was tested"),
        ("c1.s2p,G-1,,common_mode,,,,{design}", "contributor", "Say whose it is"),
    ],
)
def test_a_refused_line_names_line_and_column(by, night, line, column, words):
    key = taken_in(by, night, [choke(1)], [line.format(design=factories.design(by))])
    (reason,) = reasons(by, key)
    assert column in reason and words in reason, reason
    if column not in ("tag", "contributor", "design") or "Give" in words:
        assert reason.startswith(f"Line 2, column {column}: "), reason
    assert not Test.objects.exists() and not Device.objects.exists()


def test_lines_and_files_that_do_not_meet_are_refused_alone(by, night):
    design = factories.design(by)
    lines = [
        f"c1.s2p,G-1,Gwenna,common_mode,,,,{design}",
        f"lost.s2p,G-3,Gwenna,common_mode,,,,{design}",
    ]
    key = taken_in(by, night, [choke(1), choke(2)], lines)
    assert states(by, key) == ["stored", "refused", "refused"]
    assert reasons(by, key)[1] == file_rows.UNASSIGNED
    assert "Line 3, column file" in reasons(by, key)[2]
    assigned = {"tag": "G-2", "contributor": "Gwenna", "kind": "common_mode", "design": design}
    intakes_services.correct_file(by=by, intake=key, number=2, assignment=assigned)
    intakes_services.correct_file(by=by, intake=key, number=3, upload=choke(3))
    intakes_services.work_on_intake(intake=key)
    assert states(by, key) == ["stored"] * 3
    assert sorted(device.tag for device in Device.objects.all()) == ["G-1", "G-2", "G-3"]


def test_files_of_one_test_that_contradict_each_other_are_refused_together(by, night):
    design = factories.design(by, ratio="4:1", purpose="unun", principle="voltage")
    lines = [
        f"o.s1p,U-1,Gwenna,insertion_loss,one_port,far_open,4:1,{design}",
        f"s.s1p,U-1,Gwenna,insertion_loss,one_port,far_short,9:1,{design}",
    ]
    key = taken_in(by, night, [one_port("o.s1p", 900j), one_port("s.s1p", 3j)], lines)
    assert states(by, key) == ["refused", "refused"]
    first, second = reasons(by, key)
    assert second == "Line 3, column ratio: This says '9:1', another file of the same test '4:1'."
    assert first.startswith("It belongs to one test with s.s1p")
    # what is said of the test counts for both; their roles stay
    intakes_services.correct_file(by=by, intake=key, number=2, assignment={"tag": "U-2", "ratio": "4:1"})
    assert states(by, key) == ["waiting", "waiting"]
    assert [file.assignment["tag"] for file in intakes_selectors.get_intake(by, key).files] == ["U-2", "U-2"]
    intakes_services.work_on_intake(intake=key)
    assert all("far_load" in reason for reason in reasons(by, key)), reasons(by, key)


def test_files_without_a_manifest_are_assigned_at_once_and_meet(by, night):
    design = factories.design(by)
    forward = Upload("f.s2p", factories.choke_s2p(one_direction=True, points=101))
    turned = Upload("r.s2p", factories.choke_s2p(one_direction=True, points=101, seed=2))
    key = intakes_services.begin_intake(by=by, night=night, files=[forward, turned], manifest=None).key
    assert states(by, key) == ["refused", "refused"]
    shared = {"tag": "G-1", "contributor": "Gwenna", "kind": "common_mode", "design": design}
    intakes_services.correct_files(
        by=by, intake=key, assignments={1: shared, 2: {**shared, "role": "sweep_reversed"}}
    )
    intakes_services.work_on_intake(intake=key)
    assert states(by, key) == ["stored", "stored"], reasons(by, key)
    assert Test.objects.get().sweeps.count() == 2
    refused("intake.not_refused", intakes_services.correct_files, by=by, intake=key, assignments={1: {}})


def test_an_unknown_column_of_an_assignment_is_named(by, night):
    key = intakes_services.begin_intake(by=by, night=night, files=[choke(1)], manifest=None).key
    fault = refused(
        "intake.column",
        intakes_services.correct_file,
        by=by,
        intake=key,
        number=1,
        assignment={"colour": "red"},
    )
    assert fault.field == "colour"
    refused(
        "manifest.too_long",
        intakes_services.correct_file,
        by=by,
        intake=key,
        number=1,
        assignment={"tag": "x" * 301},
    )
    assert states(by, key) == ["refused"]


def test_what_is_not_refused_is_not_sent_again(by, night):
    key = taken_in(by, night, [choke(1)], [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"])
    refused("intake.not_refused", intakes_services.correct_file, by=by, intake=key, number=1)
    refused("intake.not_refused", intakes_services.drop_file, by=by, intake=key, number=1)
    refused("intake.not_found", intakes_services.correct_file, by=by, intake=key, number=7)
    refused("intake.not_found", intakes_services.correct_file, by=by, intake="nosuch", number=1)


def test_a_refused_file_can_be_dropped(by, night):
    key = taken_in(by, night, [choke(1)], [])
    intakes_services.drop_file(by=by, intake=key, number=1)
    assert intakes_selectors.get_intake(by, key).total == 0
