"""Hand-ins that ask: a folder of 120 files, slips of tags, counters, ratios, files that are no sweeps.

The truth of the folder is written down here; no file may end with a device that is not its own.
"""

from __future__ import annotations

import pytest

from measurements.models import Device, IntakeFile, Test
from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.services.intakes import answers, filename_hints, intakes, manifests, sweep_likeness
from measurements.services.intakes.tag_likeness import find_closest_tags, is_close_tag
from measurements.services.uploads.uploads import Upload
from tests import club, factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


# what people get wrong (from experience at benches, no source), and what is another device
@pytest.mark.parametrize(
    ("typed", "known"),
    [
        ("NB-0l", "NB-01"),
        ("NB-O1", "NB-01"),
        ("NB-1", "NB-01"),
        ("NB-001", "NB-01"),
        ("NB01", "NB-01"),
        ("BN-01", "NB-01"),
        ("NG-01", "NB-01"),
        ("N-01", "NB-01"),
        ("NBB-01", "NB-01"),
        ("NB-011", "NB-01"),
        ("BAL-S", "BAL-5"),
        ("C-1Z", "C-12"),
        ("NB-01a", "NB-01"),
    ],
)
def test_a_slip_is_close_to_the_tag_that_was_meant(typed, known):
    assert is_close_tag(typed, known) and is_close_tag(known, typed)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("NB-12", "NB-13"),
        ("NB-12", "NB-21"),
        ("NB-1", "NB-11"),
        ("C-1", "D-1"),
        ("NB-99", "NB-01"),
        ("AD-4", "BAL-4"),
        ("", "C-1"),
    ],
)
def test_another_device_of_a_series_is_no_slip(one, other):
    assert not is_close_tag(one, other)


@pytest.mark.parametrize(
    ("typed", "known", "closest"),
    [
        ("NB-0l", ("NB-00", "NB-01", "NB-02"), ["NB-01"]),
        ("NB-O2", ("NB-02", "NB-12", "NB-22"), ["NB-02"]),
        ("NB_01", ("NB-01", "NB-1"), ["NB-01"]),
        ("NB-0x", ("NB-01", "NB-02"), ["NB-01", "NB-02"]),
        ("XY-5", ("NB-01",), []),
    ],
)
def test_the_closest_tag_is_proposed_and_none_of_several(typed, known, closest):
    assert find_closest_tags(typed, known) == closest


KNOWN = filename_hints.KnownNames(tags=("NB-01", "NB-02", "AD 3", "VNA"), people=("Gwenna", "Petroc"))


@pytest.mark.parametrize(
    ("name", "tag", "contributor"),
    [
        ("night/Gwenna/NB-01 choke.s2p", "NB-01", "Gwenna"),
        ("2026-05-14/x/NB-07 choke.s2p", "NB-07", ""),
        ("NB-05/choke.s2p", "", ""),
        ("NB_01_cm.s2p", "NB-01", ""),
        ("gwenna NB-02 choke.s2p", "NB-02", "Gwenna"),
        ("AD_3 match.s1p", "AD 3", ""),
        ("NB-01 and NB-02.s2p", "", ""),
        ("VNA_0001.s2p", "", ""),
        ("VNA_12.s2p", "", ""),
        ("SCAN0012.s2p", "", ""),
        ("7.s2p", "", ""),
        ("IMG (3).s1p", "", ""),
        ("NB-01 cm 2.s2p", "NB-01", ""),
        ("4to1_BAL1_match.s1p", "BAL1", ""),
    ],
)
def test_tags_come_from_names_and_never_from_folders_or_counters(name, tag, contributor):
    found = filename_hints.guess_line(name, KNOWN)
    assert (found.tag, found.contributor) == (tag, contributor)


def test_folders_are_what_somebody_says_that_they_are():
    def guess(folders):
        known = filename_hints.KnownNames(folders=folders)
        return filename_hints.guess_line("May/NB-05/choke.s2p", known)

    assert (guess("tag").tag, guess("contributor").contributor) == ("NB-05", "NB-05")
    assert (guess("nothing"), guess("people")) == (guess("people"), guess("nothing"))


@pytest.mark.parametrize(
    ("name", "data", "is_sweep"),
    [
        ("notes.txt", b"NB-01: clips loose\nNB-02 good, 21 dB\n", False),
        ("bench.jpg", b"\xff\xd8\xff\x00\x10JFIF", False),
        ("empty.txt", b"nothing", False),
        ("list.csv", b"tag,name\nNB-01,Gwenna\n", False),
        ("broken.s2p", b"no sweep", True),
        ("sweep.csv", b"frequency,db\n1000000,-20.1\n2000000,-21\n", True),
        ("sweep.txt", b"! by hand\n1.0;-20,1\n2.0;-21,0\n", True),
        ("utf16.csv", "frequency,db\n1,2\n3,4\n".encode("utf-16"), True),
    ],
)
def test_notes_and_pictures_are_no_sweeps(name, data, is_sweep):
    assert sweep_likeness.looks_like_sweep(name, data) is is_sweep


class Folder:
    """A nested folder of 120 files: what each really is of. Devices NB-01 to NB-20 lie on the bench."""

    def __init__(self) -> None:
        self.truth: dict[str, str | None] = {}
        self.files: list[tuple[str, bytes]] = []

    def put(self, path: str, tag: str | None, data: bytes | None = None) -> None:
        number = len(self.files)
        self.files.append((path, data or factories.choke_s2p(seed=number, points=21)))
        self.truth[path.rsplit("/", 1)[-1]] = tag

    def fill(self) -> None:
        for number in range(1, 21):
            for turn in range(1, 5):
                self.put(f"May/Gwenna/set {turn}/NB-{number:02} cm {turn}.s2p", f"NB-{number:02}")
        for place in range(1, 9):
            self.put(f"May/raw/VNA_{place:04}.s2p", f"NB-{place:02}")
        for number, name in ((1, "NB-0l"), (2, "NB-O2"), (3, "BN-03"), (4, "NB-4")):
            for turn in range(3):
                self.put(f"May/Gwenna/late/{name} choke {turn}.s2p", f"NB-{number:02}")
        for number in range(5, 9):
            self.put(f"May/NB-{number:02}/4to1_NB-{number:02}_choke.s2p", f"NB-{number:02}")
        for number in (98, 99):
            for turn in range(5):
                self.put(f"May/Petroc/NB-{number} choke {turn}.s2p", f"NB-{number}")
        for place in range(6):
            self.put(f"May/notes{place}.txt", None, b"clips were loose on the third\n")


def _answer_all(by, key: str, truth: dict[str, str | None], design: str) -> int:
    """Answer like a person who knows the truth until no question is left; count the questions."""
    asked = 0
    for _round in range(6):
        intakes.work_on_intake(intake=key)
        groups: dict[str, list[IntakeFile]] = {}
        for file in IntakeFile.objects.filter(intake__key=key).exclude(question={}).order_by("number"):
            groups.setdefault(file.question["group"], []).append(file)
        if not groups:
            return asked
        for group, files in groups.items():
            asked += 1
            tags = [truth[file.name] for file in files]
            proposed = files[0].question["answer"]
            if tags[0] is None:
                answer, given = "drop", {}
            elif len(set(tags)) > 1 or not proposed:
                answer, given = "other", {str(f.number): truth[f.name] for f in files}
            elif manifests.NEW_DEVICE in proposed:
                answer, given = "new", {"contributor": "Petroc", "design": design}
            else:
                assert proposed.get("tag", tags[0]) == tags[0], (group, proposed)
                answer, given = "yes", {}
            answers.answer_question(by=by, intake=key, group=group, answer=answer, given=given)
    raise AssertionError("it keeps asking")


def test_a_nested_folder_of_120_files_asks_and_assigns_nothing_wrongly(by, night):
    design = factories.design(by)
    for name in ("Gwenna", "Petroc"):
        guest = club.guest(by, night, name)
        if name == "Gwenna":
            for number in range(1, 21):
                club.guests_device(by, night, guest, design, f"NB-{number:02}")
    folder = Folder()
    folder.fill()
    assert len(folder.files) == 120
    lines = intakes.suggest_manifest_rows(by=by, night=night, names=[path for path, _ in folder.files])
    key = intakes.begin_intake(
        by=by,
        night=night,
        files=[Upload(path, data) for path, data in folder.files],
        manifest=manifests.format_manifest(lines),
    ).key
    intakes.work_on_intake(intake=key)
    # what is clear is stored, what is not asks, and nothing became a device
    assert (Test.objects.count(), Device.objects.count()) == (80, 20)
    assert set(IntakeFile.objects.exclude(state="stored").values_list("state", flat=True)) == {"refused"}
    assert not IntakeFile.objects.filter(state="refused", question={}).exists()
    asked = _answer_all(by, key, folder.truth, design)
    stored = IntakeFile.objects.filter(state="stored").values_list("name", "test__device__tag")
    wrong = [(name, tag) for name, tag in stored if tag != folder.truth[name]]
    print(f"\n120 files: {asked} questions, {len(stored)} stored, {len(wrong)} wrong")
    assert not wrong
    assert len(stored) == 114 and IntakeFile.objects.count() == 114
    assert Device.objects.count() == 22
    assert asked == 12  # 4 slips, 4 ratios, 2 new devices, 1 family of counters, 1 of notes


def _handed_in(by, night, rows, files=None) -> str:
    files = files or [
        Upload(row["file"], factories.choke_s2p(seed=at, points=21)) for at, row in enumerate(rows)
    ]
    text = manifests.format_manifest([{"kind": "common_mode", **row} for row in rows])
    key = intakes.begin_intake(by=by, night=night, files=files, manifest=text).key
    intakes.work_on_intake(intake=key)
    return key


def _codes(by, key) -> list[str | None]:
    return [file.question.get("code") for file in intakes_selectors.get_intake(by, key).files]


def test_a_manifest_line_that_names_its_tag_registers_and_its_slip_asks(by, night):
    design = factories.design(by)
    line = {"contributor": "Gwenna", "design": design}
    rows = [
        {**line, "file": "a.s2p", "tag": "NB-01"},
        {**line, "file": "b.s2p", "tag": "NB-01"},
        {**line, "file": "c.s2p", "tag": "NB-0l"},
        {**line, "file": "VNA_0001.s2p", "tag": "VNA"},
        {**line, "file": "VNA_0002.s2p", "tag": "VNA"},
        {**line, "file": "d.s2p", "tag": "NB-77", "new_device": "no"},
    ]
    key = _handed_in(by, night, rows)
    assert _codes(by, key) == [None, None, "question.close_tag", *["question.new_device"] * 3]
    assert Device.objects.count() == 1
    group = intakes_selectors.get_intake(by, key).files[2].question["group"]
    answers.answer_question(by=by, intake=key, group=group, answer="new")
    intakes.work_on_intake(intake=key)
    assert set(Device.objects.values_list("tag", flat=True)) == {"NB-01", "NB-0l"}


def test_another_separator_asks_and_makes_no_second_device(by, night):
    design = factories.design(by)
    club.guests_device(by, night, club.guest(by, night), design, "G-1")
    key = _handed_in(by, night, [{"file": "a.s2p", "tag": "G_1", "contributor": "Gwenna", "design": design}])
    assert (_codes(by, key), Device.objects.count()) == (["question.close_tag"], 1)


def test_a_tag_that_is_somebody_elses_here_asks_whose(by, night):
    design = factories.design(by)
    device = club.guests_device(by, night, club.guest(by, night), design, "G-1")
    key = _handed_in(by, night, [{"file": "a.s2p", "tag": "G-1", "contributor": "Petroc", "design": design}])
    assert _codes(by, key) == ["question.other_owner"]
    (file,) = intakes_selectors.get_intake(by, key).files
    answers.answer_question(by=by, intake=key, group=file.question["group"], answer="yes")
    intakes.work_on_intake(intake=key)
    assert Test.objects.get().device.key == device


def test_a_device_of_an_earlier_night_is_offered_before_a_second_one_is_made(by, night):
    design, earlier = factories.design(by), club.night(by, title="April bench")
    device = club.guests_device(by, earlier, club.guest(by, earlier), design, "G-1")
    key = _handed_in(by, night, [{"file": "a.s2p", "tag": "g 1", "contributor": "Gwenna", "design": design}])
    assert _codes(by, key) == ["question.earlier_night"]
    (file,) = intakes_selectors.get_intake(by, key).files
    answers.answer_question(by=by, intake=key, group=file.question["group"], answer="yes")
    intakes.work_on_intake(intake=key)
    assert (Test.objects.get().device.key, Device.objects.count()) == (device, 1)


def test_another_operators_night_and_a_members_bag_are_no_question(by, night):
    """A tag alone tells nothing of devices that this operator has no part in."""
    other = club.operator("Petra")
    design, theirs = factories.design(other), club.night(other)
    club.guests_device(other, theirs, club.guest(other, theirs, "Senara"), design, "S-1")
    factories.device(factories.member("Ada"), design, tag="S-2")
    rows = [{"file": f"{n}.s2p", "tag": f"S-{n}", "contributor": "Gwenna", "design": design} for n in (1, 2)]
    assert _codes(by, _handed_in(by, night, rows)) == [None, None]


def test_strays_and_unknown_answers(by, night):
    key = intakes.begin_intake(
        by=by, night=night, files=[Upload("notes.txt", b"loose clips"), Upload("x.s2p", b"")]
    ).key
    assert _codes(by, key) == ["question.no_sweep", None]
    (file, _) = intakes_selectors.get_intake(by, key).files
    for group, answer in ((file.question["group"], "maybe"), ("nothing", "yes")):
        with pytest.raises(answers.BenchnightError):
            answers.answer_question(by=by, intake=key, group=group, answer=answer)
    answers.answer_question(by=by, intake=key, group=file.question["group"], answer="drop")
    assert [each.file for each in intakes_selectors.get_intake(by, key).files] == ["x.s2p"]
