"""From a chosen file to a saved test, and every way it can go wrong without losing what was typed."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client, override_settings

from measurements.selectors.designs import designs
from measurements.selectors.tests import tests
from measurements.selectors.upkeep import listed_devices
from measurements.services.uploads import staging
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group

SWEEP = factories.choke_s2p(seed=77)
FORM = {
    "kind": "common_mode",
    "method": "",
    "design": "",
    "device": "new",
    "tag": "Shack door choke",
    "origin": "homebrew",
    "measured_on": "2026-02-01",
    "calibrated": "true",
    "benchmark_db": "",
    "purpose": "choke",
    "principle": "current",
    "recipe_ratio": "1:1",
    "core_part": "2631803802",
    "stacked": "1",
    "separate": "1",
    "turns": "9",
    "style": "bifilar",
    "conductor": "other",
}


def upload(client: Client, *, file: bytes | None = SWEEP, name: str = "door.s2p", **changes: Any) -> Any:
    given = {**FORM, **changes}
    if file is not None:
        given["sweep"] = SimpleUploadedFile(name, file)
    return client.post("/upload/", given)


def checked(client: Client, **changes: Any) -> str:
    """The address of the checked result."""
    answer = upload(client, **changes)
    assert answer.status_code == 302, markup.words(answer.content)
    return answer["Location"]


def fault_of(content: bytes, field: str) -> str:
    page = markup.read(content)
    return " ".join(each.text for each in page.elements if each.attrs.get("id") == f"{field}_error")


def test_nothing_is_stored_before_it_is_agreed_to(stranger: Client, group: Group):
    answer = stranger.get(checked(stranger))
    words = markup.words(answer.content)
    assert "checked, not saved yet" in words and "Common mode of Shack door choke" in words
    assert "9 turns bifilar" in words and "1 February 2026" in words
    assert listed_devices.list_devices(group.stranger).results == ()
    assert not [row for row in designs.list_designs(group.stranger).results if row.turns == 9]


def test_saving_needs_a_choice_and_says_what_is_published(stranger: Client, group: Group):
    address = checked(stranger)
    words = markup.words(stranger.get(address).content)
    assert "never a row or a curve of one device" in words and "cannot be recalled" in words
    for unclear in ({}, {"share": ""}, {"share": "both"}):
        refused = stranger.post(address, unclear)
        assert refused.status_code == 422
        assert "Choose one of the two to save the test." in markup.words(refused.content)
    assert tests.list_tests(group.stranger).results == ()


def test_private_and_published_are_equal_choices(stranger: Client, group: Group):
    address = checked(stranger)
    page = markup.read(stranger.get(address).content)
    buttons = {each.attrs["value"]: each for each in page.all("button") if each.attrs.get("name") == "share"}
    assert set(buttons) == {"publish", "private"}
    assert buttons["publish"].attrs["class"] == buttons["private"].attrs["class"]
    key = stranger.post(address, {"share": "private", "recipe_confirmed": "yes"})["Location"].split("/")[2]
    row = tests.get_test(group.stranger, key)
    assert row.private and row.evidence == "left_out"
    shown = markup.words(stranger.get(f"/tests/{key}/").content)
    assert "Private. You keep this test out of what is published." in shown
    stranger.post(f"/tests/{key}/privacy/", {"private": "no"})
    assert tests.get_test(group.stranger, key).evidence == "counts"
    stranger.post(f"/tests/{key}/privacy/", {"private": "yes"})
    assert tests.get_test(group.stranger, key).private


def test_saved_is_what_was_checked(stranger: Client, group: Group):
    address = checked(stranger)
    shown = markup.words(stranger.get(address).content)
    answer = stranger.post(address, {"share": "publish"})
    assert answer.status_code == 302
    (row,) = tests.list_tests(group.stranger).results
    assert answer["Location"] == f"/tests/{row.key}/"
    assert tests.get_sweep_file(group.stranger, row.key, "sweep")[1] == SWEEP
    assert (row.device_tag, str(row.measured_on)) == ("Shack door choke", "2026-02-01")
    worst_db = next(each for each in row.result["bands"] if each["band"] == "40m")["rejection_db"]["worst"]
    assert f"40m meets {worst_db:.1f} " in shown
    assert f"40m meets {worst_db:.1f} " in markup.words(stranger.get(answer["Location"]).content)
    assert stranger.get(address).status_code == 404  # the draft is done with


def test_saving_twice_makes_one_test(stranger: Client, group: Group):
    first = stranger.post(checked(stranger), {"share": "publish"})["Location"]
    device = listed_devices.list_devices(group.stranger).results[0].key
    again = stranger.post(checked(stranger, device=device), {"share": "publish"})["Location"]
    assert first == again
    assert "saved this very test before" in markup.words(stranger.get(again).content)
    assert len(tests.list_tests(group.stranger).results) == 1


def test_the_same_recipe_meets_the_design_that_is_there(stranger: Client, group: Group):
    address = checked(stranger, turns="12", style="coax")
    stranger.post(address, {"share": "publish"})
    assert tests.list_tests(group.stranger).results[0].design == group.design


def test_an_own_device_needs_no_recipe(owner: Client, group: Group):
    blank = dict.fromkeys(("tag", "core_part", "turns", "purpose", "recipe_ratio"), "")
    stored = owner.post(checked(owner, device=group.device, **blank), {"share": "publish"})
    assert tests.get_test(group.owner, stored["Location"].split("/")[2]).device == group.device


def test_a_design_that_was_chosen_needs_no_recipe_either(stranger: Client, group: Group):
    page = markup.read(stranger.get(f"/upload/?kind=common_mode&design={group.design}").content)
    assert not [each for each in page.all("input") if each.attrs.get("name") == "turns"]
    assert page.one("input", name="design").attrs["value"] == group.design
    blank = dict.fromkeys(("core_part", "turns", "purpose", "recipe_ratio"), "")
    stranger.post(checked(stranger, design=group.design, **blank), {"share": "publish"})
    assert tests.list_tests(group.stranger).results[0].design == group.design


def test_turns_that_do_not_fit_the_bore_are_said_before_saving(stranger: Client, group: Group):
    words = markup.words(stranger.get(checked(stranger, turns="60", conductor="RG-400")).content)
    assert "60 turns of this make put 120 wires of 4.95 mm through a bore of 35.55 mm" in words
    fitting = markup.words(stranger.get(checked(stranger, conductor="RG-316")).content)
    assert "bore" not in fitting


def test_a_core_that_is_not_listed(stranger: Client, group: Group):
    given = {
        "core_part": "other",
        "core_shape": "toroid",
        "outer_mm": "2.4 in",
        "inner_mm": "35,55",
        "height_mm": "12.7 mm",
        "core_mix": "31",
    }
    words = markup.words(stranger.get(checked(stranger, **given)).content)
    assert "9 turns bifilar on FT240-31 (61 mm, mix 31)" in words  # 2.4 in is within 1 % of the listed 61 mm


def test_faults_are_beside_their_fields_and_nothing_is_lost(stranger: Client, group: Group):
    answer = upload(stranger, tag="", turns="", core_part="", notes="")
    assert answer.status_code == 422
    page = markup.read(answer.content)
    assert "Say what is written on the device." in fault_of(answer.content, "id_tag")
    assert "Count the turns." in fault_of(answer.content, "id_turns")
    assert "Choose the core" in fault_of(answer.content, "id_core_part")
    assert page.one("input", name="measured_on").attrs["value"] == "2026-02-01"
    assert "selected" in page.one("option", value="bifilar").attrs
    assert "Kept: door.s2p" in markup.words(answer.content)
    held = page.one("input", name="held_sweep").attrs["value"]
    assert staging.get_staged_file(by=group.stranger, key=held).data == SWEEP


def test_a_kept_file_need_not_be_chosen_again(stranger: Client, group: Group):
    faulty = upload(stranger, turns="")
    held = markup.read(faulty.content).one("input", name="held_sweep").attrs["value"]
    address = checked(stranger, file=None, held_sweep=held)
    stranger.post(address, {"share": "publish"})
    key = tests.list_tests(group.stranger).results[0].key
    assert tests.get_sweep_file(group.stranger, key, "sweep")[1] == SWEEP


def test_a_faulty_file_names_its_line_and_stays_kept(stranger: Client, group: Group):
    lines = SWEEP.decode().splitlines()
    lines[10] = lines[10].replace(".", ",", 1)
    answer = upload(stranger, file="\n".join(lines).encode())
    assert answer.status_code == 422
    assert "(line 11)" in fault_of(answer.content, "file_sweep")
    assert "Kept: door.s2p" in markup.words(answer.content)


def test_a_file_that_is_missing(stranger: Client):
    answer = upload(stranger, file=None)
    assert "Choose this file." in fault_of(answer.content, "file_sweep")


def test_a_file_that_is_empty(stranger: Client):
    answer = upload(stranger, file=b"")
    assert answer.status_code == 422 and fault_of(answer.content, "file_sweep")


def test_a_file_that_is_too_large(stranger: Client):
    answer = upload(stranger, file=b"!" * (8 * 1024 * 1024 + 1))
    assert answer.status_code == 422
    assert "larger than 8 MiB" in fault_of(answer.content, "file_sweep")


def test_another_members_kept_file_is_not_to_be_had(owner: Client, stranger: Client, group: Group):
    theirs = staging.stage_file(by=group.owner, role="sweep", name="theirs.s2p", data=SWEEP)
    answer = upload(stranger, file=None, held_sweep=theirs.key)
    assert answer.status_code == 422
    assert "no longer kept" in fault_of(answer.content, "file_sweep")
    assert "theirs.s2p" not in answer.content.decode()


def test_another_members_device_cannot_be_chosen(stranger: Client, group: Group):
    answer = upload(stranger, device=group.device)
    assert answer.status_code == 422
    assert "not one of the available choices" in fault_of(answer.content, "id_device")


def test_a_tag_one_has_already_is_refused_before_saving(owner: Client):
    answer = upload(owner, tag="QX-TAG-77")
    assert "already have a device with this tag" in fault_of(answer.content, "id_tag")


@pytest.mark.parametrize(
    ("field", "value", "shown_at"),
    [
        ("recipe_ratio", "huh", "id_recipe_ratio"),
        ("recipe_ratio", "4:1", "id_recipe_ratio"),  # a choke does not transform
        ("turns", "201", "id_turns"),
        ("turns", "many", "id_turns"),
        ("style", "knitted", "id_style"),
        ("measured_on", "2999-01-01", "id_measured_on"),
        ("measured_on", "yesterday", "id_measured_on"),
        ("benchmark_db", "lots", "id_benchmark_db"),
        ("core_part", "no-such-part", "id_core_part"),
    ],
)
def test_a_wrong_value_is_said_beside_its_field(stranger: Client, field: str, value: str, shown_at: str):
    answer = upload(stranger, **{field: value})
    if answer.status_code == 302:  # a date is judged when it is saved
        answer = stranger.post(answer["Location"], {"share": "publish"})
    assert answer.status_code == 422
    assert fault_of(answer.content, shown_at), markup.words(answer.content)
    assert "Kept: door.s2p" in markup.words(answer.content)


def test_changing_something_brings_everything_back(stranger: Client):
    address = checked(stranger)
    link = markup.read(stranger.get(address).content).one("a", href=f"/upload/?draft={address.split('/')[2]}")
    page = markup.read(stranger.get(link.attrs["href"]).content)
    assert page.one("input", name="tag").attrs["value"] == "Shack door choke"
    assert page.one("input", name="turns").attrs["value"] == "9"
    assert page.one("input", name="held_sweep").attrs["value"]


def test_a_recipe_that_the_curve_contradicts_is_asked_about_before_saving(stranger: Client, group: Group):
    address = checked(stranger)
    words = markup.words(stranger.get(address).content)
    assert "Is the recipe right?" in words and "The curve contradicts the recipe" in words
    stranger.post(address, {"share": "publish"})
    (first,) = tests.list_tests(group.stranger).results
    assert first.waits_for_recipe and first.evidence == "left_out"
    again = checked(stranger, tag="Another choke", file=factories.choke_s2p(seed=78))
    stranger.post(again, {"share": "publish", "recipe_confirmed": "yes"})
    newest, _ = tests.list_tests(group.stranger).results
    assert newest.recipe_confirmed and newest.evidence == "counts"


def test_a_draft_belongs_to_its_session(stranger: Client, owner: Client):
    assert owner.get(checked(stranger)).status_code == 404


def test_the_chart_of_a_result_that_is_not_saved(stranger: Client):
    address = checked(stranger)
    spec = json.loads(stranger.get(f"{address}chart.json?view=rejection").content)
    assert spec["layer"]
    assert stranger.get(f"{address}chart.svg")["Content-Type"].startswith("image/svg")


def test_exclusions_are_said_before_saving(stranger: Client):
    words = markup.words(stranger.get(checked(stranger, calibrated="false")).content)
    assert "This test stays out of evidence, for the reason above" in words
    assert "declared uncalibrated" in words


@override_settings(BENCHNIGHT_UPLOADS_PER_HOUR=1)
def test_too_many_uploads_an_hour(stranger: Client, group: Group):
    stranger.post(checked(stranger), {"share": "publish"})
    address = checked(stranger, tag="Second", file=factories.choke_s2p(seed=78))
    answer = stranger.post(address, {"share": "publish"})
    assert answer.status_code == 429 and int(answer["Retry-After"]) > 0
    assert len(tests.list_tests(group.stranger).results) == 1
    assert stranger.get(address).status_code == 200  # and the draft is still there


def test_a_turned_sweep_makes_the_full_two_port(stranger: Client, group: Group):
    given = {
        "sweep_reversed": SimpleUploadedFile("turned.s2p", factories.choke_s2p(seed=12, one_direction=True))
    }
    address = checked(stranger, file=factories.choke_s2p(seed=11, one_direction=True), **given)
    stranger.post(address, {"share": "publish"})
    row = tests.list_tests(group.stranger).results[0]
    assert {sweep.role for sweep in row.sweeps} == {"sweep", "sweep_reversed"}
    assert all(row.result["measured"].values())


def test_an_optional_file_can_be_left_out_again(stranger: Client):
    jig = SimpleUploadedFile("open.s2p", factories.choke_s2p(peak_ohm=90000.0, seed=3))
    faulty = upload(stranger, turns="", jig_open=jig)
    page = markup.read(faulty.content)
    held = {name: page.one("input", name=name).attrs["value"] for name in ("held_sweep", "held_jig_open")}
    again = upload(stranger, file=None, turns="", **held, drop_jig_open="yes")
    names = [each.attrs.get("name") for each in markup.read(again.content).all("input")]
    assert "held_sweep" in names and "held_jig_open" not in names


def test_load_match_asks_for_its_resistor(stranger: Client, group: Group):
    sweep = (settings.ROOT / "fixtures/sweeps/load_match_1to1.s1p").read_bytes()
    address = checked(stranger, kind="load_match", file=sweep, name="match.s1p", load_ohm="49,7")
    words = markup.words(stranger.get(address).content)
    assert "Load match of Shack door choke" in words and "SWR" in words and "49.7 ohm" in words
    refused = upload(stranger, kind="load_match", file=sweep, name="match.s1p", load_ohm="a lot")
    assert fault_of(refused.content, "id_load_ohm")


def test_an_unknown_kind(stranger: Client):
    assert upload(stranger, kind="telepathy").status_code == 404
    assert stranger.get("/upload/?kind=insertion_loss&method=guess").status_code == 404


def test_no_name_of_a_file_or_tag_is_on_a_page_of_others(
    stranger: Client, owner: Client, nobody: Client, group: Group
):
    """The owner's tag and file name are on own pages only."""
    for client in (stranger, nobody):
        for address in ("/", "/?band=40m", "/designs/", f"/designs/{group.design}/", "/data/", "/devices/"):
            text = client.get(address).content.decode()
            assert "QX-TAG-77" not in text and "secret-name" not in text and "person-0" not in text
        for form in ("json", "svg"):
            text = client.get(f"/designs/{group.design}/chart.{form}").content.decode()
            assert "QX-TAG-77" not in text and "secret-name" not in text


def test_a_draft_keeps_only_what_the_form_asks(stranger: Client, group: Group):
    address = checked(stranger, surplus="x" * 1000)
    kept = stranger.session["drafts"][address.split("/")[2]]
    assert "surplus" not in kept["typed"] and kept["typed"]["tag"] == "Shack door choke"


def test_what_was_guessed_of_a_table_is_shown_for_confirmation(owner: Client, group: Group):
    """Semicolons and decimal commas are read, and said openly before anything is saved."""
    rows = "\n".join(f"{1 + 0.1 * step:.1f};-2{step % 7},5".replace(".", ",") for step in range(290))
    table = f"Frequency (MHz);S21 (dB)\n{rows}\n".encode()
    page = owner.get(checked(owner, file=table, name="door.csv"))
    words = markup.words(page.content)
    assert b"<details open><summary>How the files were read" in page.content
    assert "guessed from its header" in words and "comma" in words and "MHz" in words
    touchstone = owner.get(checked(owner, tag="Another"))
    assert b"guessed from its header" not in touchstone.content


def test_nothing_that_decides_evidence_is_chosen_beforehand(owner: Client):
    """A file alone once met "on all 10 bands" for a device that nobody had chosen."""
    form = markup.read(owner.get("/upload/?kind=common_mode").content)
    chosen = [each.attrs["value"] for each in form.all("option") if "selected" in each.attrs]
    assert not {"true", "false", "unknown"} & set(chosen)
    sent = owner.post(
        "/upload/", {"kind": "common_mode", "sweep": SimpleUploadedFile("a.s2p", factories.choke_s2p())}
    )
    words = markup.words(sent.content)
    assert sent.status_code == 422 and "Choose the device." in words
    assert "Say whether the analyser was calibrated." in words
