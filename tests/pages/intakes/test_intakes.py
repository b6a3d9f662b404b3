"""Handing in many files without scripts: what is answered, how files end, and mending one alone."""

from __future__ import annotations

import io
import json
import zipfile
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.selectors.tests import tests
from measurements.services.intakes import intakes as intakes_services
from tests import club, factories
from tests.pages import evening, markup
from tests.pages.conftest import signed_in
from tests.pages.evening import Evening

pytestmark = pytest.mark.usefixtures("reference_data")
JSON = {"Accept": "application/json"}
GOOD = factories.choke_s2p(seed=61, points=51)
HEAD = "file,tag,contributor,kind,method,role,ratio"


@pytest.fixture
def on(reference_data: None) -> Evening:
    return evening.begin(jig=False)


@pytest.fixture
def osric(on: Evening) -> Client:
    return signed_in(on.operator)


def sweeps(**data: bytes) -> list[SimpleUploadedFile]:
    return [SimpleUploadedFile(f"{name}.s2p", each) for name, each in data.items()]


def manifest(*lines: str) -> SimpleUploadedFile:
    return SimpleUploadedFile("manifest.csv", "\n".join([HEAD, *lines]).encode())


def handed_in(osric: Client, on: Evening, **given: Any) -> str:
    """The address of an intake that was worked on to its end."""
    answer = osric.post(f"{on.address}intake/", given)
    assert answer.status_code == 302, markup.words(answer.content)
    intakes_services.work_on_intake(intake=key_of(answer["Location"]))
    return answer["Location"]


def key_of(address: str) -> str:
    return address.rstrip("/").rpartition("/")[2]


@pytest.fixture
def mixed(osric: Client, on: Evening) -> str:
    """An intake of one good and one faulty file, and one without a line."""
    lines = ("good.s2p,G-1,Gwenna,common_mode,,sweep,", "bad.s2p,A-1,,common_mode,,sweep,")
    return handed_in(
        osric, on, sweep=sweeps(good=GOOD, bad=b"no sweep", stray=GOOD), manifest=manifest(*lines)
    )


def test_every_file_ends_with_its_state_and_its_reason(osric: Client, mixed: str):
    page = osric.get(mixed)
    words = markup.words(page.content)
    assert "Done: 3 of 3 files read; 1 stored, 0 already there, 2 refused." in words
    assert "Which frequency unit" in words
    assert markup.read(page.content).one("a", href=f"{mixed}files/2/").text == "bad.s2p"
    said = json.loads(osric.get(f"{mixed}state.json").content)
    assert (said["state"], said["done"], said["total"]) == ("done", 3, 3)
    assert [file["state"] for file in said["files"]] == ["stored", "refused", "refused"]
    assert said["files"][0]["test"].startswith("/tests/") and said["files"][0]["mend"] is None


def test_a_refused_file_is_mended_and_sent_again_alone(osric: Client, on: Evening, mixed: str):
    before = intakes_selectors.get_intake(on.operator, key_of(mixed)).files[0]
    address = f"{mixed}files/2/"
    form = markup.read(osric.get(address).content)
    assert form.one("input", name="tag").attrs["value"] == "A-1"
    given = {"tag": "A-1", "contributor": "", "kind": "common_mode", "role": "sweep"}
    answer = osric.post(
        address, {**given, "sweep": SimpleUploadedFile("mended.s2p", factories.choke_s2p(seed=9))}
    )
    assert answer["Location"] == mixed
    intakes_services.work_on_intake(intake=key_of(mixed))
    files = intakes_selectors.get_intake(on.operator, key_of(mixed)).files
    assert [file.state for file in files] == ["stored", "stored", "refused"]
    assert files[0] == before


def test_a_stray_file_gets_its_line_on_the_page(osric: Client, on: Evening, mixed: str):
    given = {"tag": "A-1", "contributor": "", "kind": "common_mode", "role": "sweep"}
    osric.post(f"{mixed}files/3/", given)
    intakes_services.work_on_intake(intake=key_of(mixed))
    assert intakes_selectors.get_intake(on.operator, key_of(mixed)).files[2].state == "stored"


def test_what_was_typed_to_mend_a_file_stays_when_it_is_refused_again(osric: Client, mixed: str):
    given = {"tag": "T" * 65, "contributor": "Ada", "kind": "common_mode", "role": "sweep", "ratio": "4:1"}
    answer = osric.post(f"{mixed}files/2/", {**given, "sweep": SimpleUploadedFile("again.s2p", GOOD)})
    page = markup.read(answer.content)
    assert answer.status_code == 422
    assert page.one("input", name="ratio").attrs["value"] == "4:1"
    assert "Kept: again.s2p" in markup.words(answer.content)


def test_a_refused_file_can_be_dropped(osric: Client, on: Evening, mixed: str):
    osric.post(f"{mixed}files/3/", {"drop": "yes"})
    assert [file.number for file in intakes_selectors.get_intake(on.operator, key_of(mixed)).files] == [1, 2]


def test_the_same_files_again_are_already_there(osric: Client, on: Evening, mixed: str):
    lines = ("renamed.s2p,G-1,Gwenna,common_mode,,sweep,",)
    again = handed_in(osric, on, sweep=sweeps(renamed=GOOD), manifest=manifest(*lines))
    assert "0 stored, 1 already there, 0 refused" in markup.words(osric.get(again).content)
    assert len(tests.list_tests(on.operator, device=on.guests_device).results) == 1


def test_a_faulty_manifest_names_its_line_and_nothing_is_taken_in(osric: Client, on: Evening):
    given = {"sweep": sweeps(a=GOOD), "manifest": manifest("a.s2p,G-1,Gwenna,common_mode", ",,,")}
    files = {**given, "manifest": manifest("a.s2p,G-1,Gwenna,common_mode,,sweep,", "a.s2p,,,,,,")}
    answer = osric.post(f"{on.address}intake/", files)
    assert answer.status_code == 422 and "(line 3)" in markup.words(answer.content)
    files = {"sweep": sweeps(a=GOOD), "manifest": manifest("a.s2p,G-1,,,,,", "a.s2p,,,,,,")}
    said = osric.post(f"{on.address}intake/", files, headers=JSON)
    assert said.status_code == 400 and "(line 3)" in json.loads(said.content)["faults"][0]["detail"]


def test_a_script_is_told_where_its_intake_is(osric: Client, on: Evening):
    files = {"sweep": sweeps(a=GOOD), "manifest": manifest("a.s2p,G-1,Gwenna,common_mode,,sweep,")}
    answer = osric.post(f"{on.address}intake/", files, headers=JSON)
    assert answer.status_code == 202
    assert json.loads(answer.content)["address"].startswith(f"{on.address}intakes/")


def test_a_zip_is_an_intake(osric: Client, on: Evening):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.s2p", GOOD)
        archive.writestr("manifest.csv", f"{HEAD}\na.s2p,G-1,Gwenna,common_mode,,sweep,\n")
    address = handed_in(osric, on, archive=SimpleUploadedFile("evening.zip", packed.getvalue()))
    assert "1 stored" in markup.words(osric.get(address).content)


def test_a_manifest_is_offered_filled_with_what_the_names_suggest(osric: Client, on: Evening):
    empty = osric.get(f"{on.address}manifest.csv").content.decode()
    assert empty.startswith(HEAD)
    asked = {"names": "G-1 choke.s2p\nA-1_loss_far open.s1p\n"}
    answer = osric.post(f"{on.address}manifest.csv", asked)
    assert answer["Content-Disposition"] == 'attachment; filename="manifest.csv"'
    lines = answer.content.decode().splitlines()
    assert lines[1].startswith("G-1 choke.s2p,G-1,Gwenna,common_mode,,sweep,")
    assert lines[2].startswith("A-1_loss_far open.s1p,A-1,,insertion_loss,one_port,far_open,")


def test_questions_are_answered_on_the_page_and_files_sort_and_filter(osric: Client, on: Evening):
    lines = [
        "a.s2p,G-l,Gwenna,common_mode,,sweep,,",
        "VNA_0001.s2p,,,common_mode,,sweep,,",
        "VNA_0002.s2p,,,common_mode,,sweep,,",
        "c.s2p,NB-7,,common_mode,,sweep,,no",
        "notes.txt,notes,,,,,,no",
    ]
    head = f"{HEAD},new_device"
    files = [
        SimpleUploadedFile(line.split(",")[0], factories.choke_s2p(seed=at, points=21))
        for at, line in enumerate(lines[:4])
    ]
    files.append(SimpleUploadedFile("notes.txt", b"clips were loose"))
    table = SimpleUploadedFile("manifest.csv", "\n".join([head, *lines]).encode())
    address = handed_in(osric, on, sweep=files, manifest=table)
    page = osric.get(address)
    words = markup.words(page.content)
    for text in ("G-l: did you mean G-1?", "2 files that differ by a number alone", "looks like no sweep"):
        assert text in words, words
    inputs = markup.read(page.content).all("input")
    groups = [each.attrs["value"] for each in inputs if each.attrs.get("name") == "question"]
    assert len(groups) == 4
    numbers = {"2": "G-1", "3": "A-1"}
    given = {
        "close": {"answer": "yes"},
        "no_tag": {"answer": "other", **numbers},
        "new_device": {"answer": "new", "contributor": "Gwenna", "design": on.design},
        "no_sweep": {"answer": "drop"},
    }
    for name, answer in given.items():
        group = next(each for each in groups if name in each)
        osric.post(address, {"question": group, **answer})
    intakes_services.work_on_intake(intake=key_of(address))
    row = intakes_selectors.get_intake(on.operator, key_of(address))
    assert [each.state for each in row.files] == ["stored"] * 4, [each.reason for each in row.files]
    names = [test.device_tag for test in tests.list_tests(on.operator).results]
    assert sorted(names) == ["A-1", "G-1", "G-1", "NB-7"]
    words = markup.words(osric.get(f"{address}?q=vna&order=file").content)
    assert "2 of 4 files" in words and "c.s2p" not in words


def test_an_intake_belongs_to_its_night(osric: Client, on: Evening, mixed: str):
    other = club.night(on.operator, title="Another night")
    for page in ("", "state.json", "files/2/"):
        assert osric.get(f"/nights/{other}/intakes/{key_of(mixed)}/{page}").status_code == 404
    stranger = signed_in(club.operator("Petra"))
    for page in ("", "state.json", "files/2/"):
        assert stranger.get(f"{mixed}{page}").status_code == 404
    assert stranger.post(f"{mixed}files/3/", {"drop": "yes"}).status_code == 404
    assert len(intakes_selectors.get_intake(on.operator, key_of(mixed)).files) == 3


def test_a_page_of_three_hundred_files_stays_readable(osric: Client, on: Evening):
    """Bounded work and weight: as many queries for 300 files as for 3, and under 150 kB."""
    files = [SimpleUploadedFile(f"f{number:03}.s2p", b"x%d" % number) for number in range(300)]
    answer = osric.post(f"{on.address}intake/", {"sweep": files})
    page = osric.get(answer["Location"])
    assert "300 files handed in" in markup.words(page.content)
    assert len(page.content) < 150_000
