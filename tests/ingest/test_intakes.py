"""Many files of a night at once: each ends stored, already there or refused with a reason, to be mended."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, OperationalError, transaction
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.ingest import intake_files, intake_lease, intake_work, intakes, nights, tests
from measurements.ingest.uploads import Upload
from measurements.models import Design, Device, Intake, IntakeFile, SweepFile, Test
from measurements.queries import intakes as intake_rows
from measurements.queries import nights as night_rows
from tests import factories
from tests.ingest import club
from tests.ingest.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")

HEAD = "file,tag,contributor,kind,method,role,ratio,design"


def choke(seed: int, name: str | None = None) -> Upload:
    return Upload(name or f"c{seed}.s2p", factories.choke_s2p(seed=seed, points=101))


def taken_in(by, night, files, lines, head=HEAD) -> str:
    """The key of an intake that was worked on to its end."""
    key = intakes.begin(by=by, night=night, files=files, manifest="\n".join([head, *lines])).key
    intakes.work(intake=key)
    return key


def states(by, key) -> list[str]:
    return [file.state for file in intake_rows.one(by, key).files]


def reasons(by, key) -> list[str]:
    return [file.reason for file in intake_rows.one(by, key).files]


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


def test_files_become_tests_of_guests_and_members(by, night):
    ada = factories.member("Ada")
    design = factories.design(ada)
    factories.device(ada, design, "A-1")
    lines = [
        f"c1.s2p,G-1,Gwenna,common_mode,,sweep,,{design}",
        f"c2.s2p,G-2,gwenna,common_mode,,,,{design}",
        "c3.s2p,a-1,Ada,common_mode,,sweep,1:1,",
    ]
    key = intakes.begin(
        by=by, night=night, files=[choke(1), choke(2), choke(3)], manifest="\n".join([HEAD, *lines])
    ).key
    before = intake_rows.one(by, key)
    assert (before.state, before.done, before.total) == ("queued", 0, 3)
    assert {file.state for file in before.files} == {"waiting"}
    intakes.work(intake=key)
    after = intake_rows.one(by, key)
    assert (after.state, after.done, after.total, states(by, key)) == ("done", 3, 3, ["stored"] * 3)
    row = night_rows.one(by, night)
    assert [(d.tag, d.owner, d.is_guest, d.tests) for d in row.devices] == [
        ("A-1", "Ada", False, 1),
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
    assert intake_rows.one(by, again).files[0].test == intake_rows.one(by, first).files[0].test
    assert (Test.objects.count(), Device.objects.count()) == (1, 1)


def test_also_after_the_jig_was_swept_anew_a_sweep_finds_its_test(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    nights.set_jig(by=by, night=night, uploads=club.jig())
    taken_in(by, night, [choke(1)], lines)
    nights.set_jig(by=by, night=night, uploads=club.jig(0.4e-12))
    assert states(by, taken_in(by, night, [choke(1)], lines)) == ["already_there"]


def one_port(name: str, z_ohm: complex) -> Upload:
    lines = ["# MHz S RI R 50"]
    for tenth in range(10, 301, 5):
        s11 = (z_ohm - 50) / (z_ohm + 50)
        lines.append(f"{tenth / 10} {s11.real:.8f} {s11.imag:.8f}")
    return Upload(name, "\n".join(lines).encode())


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
    intakes.mend(by=by, intake=key, number=1, upload=choke(1, "better.s2p"))
    assert intake_rows.one(by, key).state == "queued"
    intakes.work(intake=key)
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
    assert reasons(by, key)[1] == intake_files.UNASSIGNED
    assert "Line 3, column file" in reasons(by, key)[2]
    assigned = {"tag": "G-2", "contributor": "Gwenna", "kind": "common_mode", "design": design}
    intakes.mend(by=by, intake=key, number=2, assignment=assigned)
    intakes.mend(by=by, intake=key, number=3, upload=choke(3))
    intakes.work(intake=key)
    assert states(by, key) == ["stored"] * 3
    assert sorted(device.tag for device in Device.objects.all()) == ["G-1", "G-2", "G-3"]


def test_files_of_one_test_that_contradict_each_other_are_refused_together(by, night):
    design = factories.design(by)
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
    intakes.mend(by=by, intake=key, number=2, assignment={"tag": "U-2", "ratio": "4:1"})
    assert states(by, key) == ["waiting", "waiting"]
    assert [file.assignment["tag"] for file in intake_rows.one(by, key).files] == ["U-2", "U-2"]
    intakes.work(intake=key)
    assert all("far_load" in reason for reason in reasons(by, key)), reasons(by, key)


def test_files_without_a_manifest_are_assigned_at_once_and_meet(by, night):
    design = factories.design(by)
    forward = Upload("f.s2p", factories.choke_s2p(one_direction=True, points=101))
    turned = Upload("r.s2p", factories.choke_s2p(one_direction=True, points=101, seed=2))
    key = intakes.begin(by=by, night=night, files=[forward, turned], manifest=None).key
    assert states(by, key) == ["refused", "refused"]
    shared = {"tag": "G-1", "contributor": "Gwenna", "kind": "common_mode", "design": design}
    intakes.assign(by=by, intake=key, assignments={1: shared, 2: {**shared, "role": "sweep_reversed"}})
    intakes.work(intake=key)
    assert states(by, key) == ["stored", "stored"], reasons(by, key)
    assert Test.objects.get().sweeps.count() == 2
    refused("intake.not_refused", intakes.assign, by=by, intake=key, assignments={1: {}})


def test_an_unknown_column_of_an_assignment_is_named(by, night):
    key = intakes.begin(by=by, night=night, files=[choke(1)], manifest=None).key
    fault = refused("intake.column", intakes.mend, by=by, intake=key, number=1, assignment={"colour": "red"})
    assert fault.field == "colour"
    refused("manifest.too_long", intakes.mend, by=by, intake=key, number=1, assignment={"tag": "x" * 301})
    assert states(by, key) == ["refused"]


def test_what_is_not_refused_is_not_sent_again(by, night):
    key = taken_in(by, night, [choke(1)], [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"])
    refused("intake.not_refused", intakes.mend, by=by, intake=key, number=1)
    refused("intake.not_refused", intakes.drop, by=by, intake=key, number=1)
    refused("intake.not_found", intakes.mend, by=by, intake=key, number=7)
    refused("intake.not_found", intakes.mend, by=by, intake="nosuch", number=1)


def test_a_refused_file_can_be_dropped(by, night):
    key = taken_in(by, night, [choke(1)], [])
    intakes.drop(by=by, intake=key, number=1)
    assert intake_rows.one(by, key).total == 0


@pytest.mark.parametrize("role", ["member", "operator"])
def test_intakes_are_their_nights_operators(by, night, role):
    key = taken_in(by, night, [choke(1)], [])
    other = factories.member("Other", role)
    code = "account.operators_only" if role == "member" else "intake.not_found"
    refused(code, intake_rows.one, viewer=other, key=key)
    refused(code, intakes.mend, by=other, intake=key, number=1)
    code = "account.operators_only" if role == "member" else "night.not_found"
    refused(code, intakes.begin, by=other, night=night, files=[choke(1)], manifest=None)
    refused(code, intakes.template, by=other, night=night, names=["a.s2p"])
    assert intake_rows.one(factories.member("Stew", "steward"), key).total == 1


def test_an_operator_whose_role_was_taken_stores_nothing_more(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    key = intakes.begin(by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])).key
    factories.member("Osric", "member")
    intakes.work(intake=key)
    steward = factories.member("Stew", "steward")
    assert states(steward, key) == ["refused"]
    assert not Test.objects.exists()


def test_what_cannot_begin_stores_nothing(by, night, settings):
    settings.BENCHNIGHT_INTAKE_ENTRIES = 2
    settings.BENCHNIGHT_SWEEP_BYTES = 100_000
    ok = choke(1)
    begin = {"by": by, "night": night, "manifest": None}
    refused("intake.empty", intakes.begin, files=[], **begin)
    refused("intake.same_name", intakes.begin, files=[ok, choke(2, "C1.s2p")], **begin)
    refused("intake.too_many", intakes.begin, files=[choke(n) for n in range(3)], **begin)
    refused("sweep.too_large", intakes.begin, files=[Upload("big.s2p", b"x" * 100_001)], **begin)
    refused("manifest.missing_column", intakes.begin, by=by, night=night, files=[ok], manifest="file,tag\n")
    settings.BENCHNIGHT_MEMBER_BYTES = 10
    refused("intake.no_room", intakes.begin, files=[ok], **begin)
    assert not Intake.objects.exists() and not IntakeFile.objects.exists()


def test_a_worker_that_is_alive_keeps_its_intake_and_a_dead_one_loses_it(by, night):
    lines = [f"c{n}.s2p,G-{n},Gwenna,common_mode,,,,{factories.design(by)}" for n in (1, 2)]
    key = intakes.begin(
        by=by, night=night, files=[choke(1), choke(2)], manifest="\n".join([HEAD, *lines])
    ).key
    held = intake_lease.take(key, "worker one")
    assert held is not None and intake_lease.take(key, "worker two") is None
    intakes.work(intake=key)  # another one: does nothing
    assert states(by, key) == ["waiting", "waiting"]
    intake_work._do(held, 1)
    assert intakes.resume_stale(here=True) == 0
    # the worker dies here: its lease runs out
    Intake.objects.update(alive_until=timezone.now() - timedelta(seconds=1))
    assert intakes.resume_stale(here=True) == 1
    assert states(by, key) == ["stored", "stored"]
    assert intake_rows.one(by, key).state == "done"
    # and the first one, if it only slept, stores nothing more
    with pytest.raises(intake_lease.LeaseLostError), transaction.atomic():
        intake_lease.renew(held)
    assert Test.objects.count() == 2


def test_a_worker_that_was_taken_over_rolls_its_unit_back(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    key = intakes.begin(by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])).key
    held = intake_lease.take(key, "slow worker")
    Intake.objects.update(worker="quick worker")
    with pytest.raises(intake_lease.LeaseLostError):
        intake_work._do(held, 1)
    assert not Test.objects.exists() and not Device.objects.exists()
    assert states(by, key) == ["waiting"]


def test_a_defect_in_one_unit_keeps_no_other_waiting(by, night, monkeypatch, caplog):
    design = factories.design(by)
    lines = [f"c{n}.s2p,G-{n},Gwenna,common_mode,,,,{design}" for n in (1, 2)]
    real = tests.keep

    def keep(*, device, **rest):
        if device.tag == "G-1":
            raise ZeroDivisionError
        return real(device=device, **rest)

    monkeypatch.setattr(tests, "keep", keep)
    key = taken_in(by, night, [choke(1), choke(2)], lines)
    assert states(by, key) == ["refused", "stored"]
    assert reasons(by, key)[0] == intake_work.FAILED
    assert "ZeroDivisionError" in caplog.text


def test_forgotten_intakes_are_taken_up(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    key = intakes.begin(by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])).key
    assert intakes.resume_stale(here=True) == 0  # its task may only just begin
    Intake.objects.update(made_at=timezone.now() - timedelta(minutes=5))
    assert intakes.resume_stale(here=True) == 1
    assert states(by, key) == ["stored"]
    assert not intakes.unfinished()


def test_the_task_begins_once_the_files_are_committed(by, night, django_capture_on_commit_callbacks):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    with django_capture_on_commit_callbacks(execute=True) as callbacks:
        key = intakes.begin(by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])).key
    assert len(callbacks) == 1
    assert states(by, key) == ["stored"]


def test_the_template_is_filled_with_what_names_and_night_say(by, night):
    guest = club.guest(by, night)
    club.guests_device(by, night, guest, factories.design(by), "G-1")
    text = intakes.template(by=by, night=night, names=["G-1 choke.s2p", "=evil.s1p"])
    lines = text.splitlines()
    assert lines[0].startswith("file,tag,contributor,kind,method,role,ratio")
    assert lines[1].startswith("G-1 choke.s2p,G-1,Gwenna,common_mode,,sweep,1:1")
    assert lines[2].startswith("'=evil.s1p,")
    (row, other) = intakes.suggest(by=by, night=night, names=["G-1 choke.s2p", "x.txt"])
    assert row["contributor"] == "Gwenna" and other["contributor"] == ""


def test_a_filled_template_is_a_manifest(by, night):
    guest = club.guest(by, night)
    club.guests_device(by, night, guest, factories.design(by), "G-1")
    text = intakes.template(by=by, night=night, names=["G-1 choke.s2p"])
    key = intakes.begin(by=by, night=night, files=[choke(1, "G-1 choke.s2p")], manifest=text).key
    intakes.work(intake=key)
    assert states(by, key) == ["stored"], reasons(by, key)


def test_a_closed_night_finishes_what_it_took_in(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    key = intakes.begin(by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])).key
    nights.close(by=by, night=night, version=night_rows.one(by, night).version)
    refused("night.closed", intakes.begin, by=by, night=night, files=[choke(2)], manifest=None)
    intakes.work(intake=key)
    assert states(by, key) == ["stored"]


def test_benchnight_errors_of_whole_manifests_name_every_line(by, night):
    text = f"{HEAD}\nc1.s2p,G-1\nC1.s2p,G-2\n,G-3\n"
    with pytest.raises(BenchnightError) as caught:
        intakes.begin(by=by, night=night, files=[choke(1)], manifest=text)
    assert [(fault.line, fault.field) for fault in caught.value.errors] == [(3, "file"), (4, "file")]


def one_file(by, night, key=None) -> str:
    """An intake of one sweep that can be stored."""
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{key or factories.design(by)}"]
    return intakes.begin(by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])).key


def test_a_busy_database_is_waited_for(by, night, monkeypatch):
    monkeypatch.setattr(intake_work, "PAUSE_S", 0.0)
    real, calls = intake_work._store, []

    def busy_twice(intake, files):
        calls.append(1)
        if len(calls) <= 2:
            raise OperationalError("database is locked")
        real(intake, files)

    monkeypatch.setattr(intake_work, "_store", busy_twice)
    key = one_file(by, night)
    intakes.work(intake=key)
    assert (states(by, key), len(calls)) == (["stored"], 3)


def test_a_database_that_stays_away_leaves_the_intake_to_be_resumed(by, night, monkeypatch):
    monkeypatch.setattr(intake_work, "PAUSE_S", 0.0)

    def never(_intake, _files):
        raise OperationalError("database is locked")

    with monkeypatch.context() as patched:
        patched.setattr(intake_work, "_store", never)
        key = one_file(by, night)
        with pytest.raises(OperationalError):
            intakes.work(intake=key)
    assert intake_rows.one(by, key).state == "queued"  # given back at once: nobody waits for a lease
    intakes.work(intake=key)
    assert states(by, key) == ["stored"]


def test_two_who_register_at_the_same_moment_are_no_fault(by, night, monkeypatch):
    real, calls = intake_work._store, []

    def raced(intake, files):
        calls.append(1)
        if len(calls) == 1:
            raise IntegrityError("device_tag_once_per_contributor")
        real(intake, files)

    monkeypatch.setattr(intake_work, "_store", raced)
    key = one_file(by, night)
    intakes.work(intake=key)
    assert (states(by, key), len(calls)) == (["stored"], 2)


def test_a_design_is_named_by_its_title_too_and_a_merged_one_leads_on(by, night):
    kept, gone = factories.design(by), factories.design(by, turns=13)
    Design.objects.filter(key=gone).update(merged_into=Design.objects.get(key=kept))
    title = Design.objects.get(key=kept).title
    for seed, (tag, named) in enumerate((("G-1", title.upper()), ("G-2", gone)), start=1):
        line = f'c{seed}.s2p,{tag},Gwenna,common_mode,,,,"{named}"'
        assert states(by, taken_in(by, night, [choke(seed)], [line])) == ["stored"]
    assert {device.design.key for device in Device.objects.select_related("design")} == {kept}
