"""In a browser: handing files in over the table, by keyboard, over a bad link, and following an intake."""

from __future__ import annotations

import json
import re

import pytest
from django.test import override_settings
from playwright.sync_api import expect

from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.selectors.nights import nights
from measurements.services.accounts import accounts
from measurements.services.intakes import intakes as intakes_services
from measurements.services.intakes import processing
from tests import club, factories
from tests.browsing import PHONE
from tests.pages import evening
from tests.pages.evening import Evening

SWEEP = factories.choke_s2p(seed=71, points=21)
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def on(reference_data: None) -> Evening:
    return evening.begin(jig=False)


@pytest.fixture
def form(page, on: Evening):
    """The page that takes files in, signed in."""
    page.goto(f"/sign-in/{accounts.issue_sign_in_link(name=on.operator.name)}/")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state()
    page.goto(f"{on.address}intake/")
    return page


@pytest.fixture
def nobody_works(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files are taken in and wait: the worker comes later."""
    monkeypatch.setattr(processing, "enqueue_intake", lambda _key: None)


def file(name: str, data: bytes = SWEEP) -> dict[str, object]:
    return {"name": name, "mimeType": "text/plain", "buffer": data}


def cell(page, row: int, column: str):
    return page.locator("tbody tr").nth(row).locator(f"[data-column={column}]")


def hand_in(page) -> str:
    """Hands in, also lines that lack something, and answers the key of the intake."""
    button = page.get_by_role("button", name="Hand in", exact=True)
    button.click()
    if page.locator("table.with-missing strong:not(:empty)").count():
        page.get_by_text("would come back").wait_for()
        button.click()
    page.wait_for_url("**/intakes/*/")
    return page.url.rstrip("/").rpartition("/")[2]


def test_names_fill_the_table_and_the_keyboard_the_rest(form, on: Evening, nobody_works: None):
    form.set_input_files(
        "#files", [file("G-1 choke.s2p"), *(file(f"{name}.s2p") for name in ("run", "scan", "trace"))]
    )
    form.get_by_text("Added: 4 sweeps.").wait_for()
    assert [cell(form, 0, name).input_value() for name in ("tag", "contributor", "kind")] == [
        "G-1",
        "Gwenna",
        "common_mode",
    ]
    cell(form, 0, "contributor").focus()
    form.keyboard.press("ArrowDown")
    form.keyboard.type("Ada")
    form.keyboard.press("Enter")
    assert form.evaluate("document.activeElement.getAttribute('aria-label')").endswith("of scan.s2p")
    form.keyboard.press("Control+d")  # copies from above and goes on
    form.keyboard.press("ArrowUp")
    form.keyboard.press("Control+Shift+d")  # fills down
    assert [cell(form, row, "contributor").input_value() for row in range(4)] == [
        "Gwenna",
        "Ada",
        "Ada",
        "Ada",
    ]
    cell(form, 1, "kind").select_option("insertion_loss")
    assert cell(form, 1, "method").is_enabled() and cell(form, 2, "method").is_disabled()
    form.get_by_role("button", name="Leave out trace.s2p").click()
    assert form.get_by_text("3 files, 2 with something missing").is_visible()
    key = hand_in(form)
    files = intakes_selectors.get_intake(on.operator, key).files
    assert [(each.file, each.assignment["contributor"], each.assignment["kind"]) for each in files] == [
        ("G-1 choke.s2p", "Gwenna", "common_mode"),
        ("run.s2p", "Ada", "insertion_loss"),
        ("scan.s2p", "Ada", "common_mode"),
    ]


def test_what_is_missing_stands_in_words_and_one_choice_fills_it_in(form, on: Evening):
    """New tags that nobody is named for: told before handing in, mended once for all, stored."""
    data = [factories.choke_s2p(seed=80 + number, points=21) for number in range(3)]
    form.set_input_files(
        "#files",
        [file(f"{tag} choke.s2p", each) for tag, each in zip(("N-1", "N-2", "G-1"), data, strict=True)],
    )
    form.get_by_text("Added: 3 sweeps.").wait_for()
    missing = form.locator("td[data-missing]")
    wanted = "who brought it; design, if the device is new"
    assert missing.all_inner_texts() == [wanted, wanted, ""]  # G-1 lies on the bench: it is Gwenna's
    who = cell(form, 0, "contributor")
    assert who.get_attribute("aria-invalid") == "true"
    assert who.get_attribute("aria-describedby") == missing.first.get_attribute("id")
    assert cell(form, 2, "contributor").get_attribute("aria-invalid") is None
    assert form.locator("[data-total]").inner_text() == "To be handed in: 3 sweeps, 2 with something missing."
    form.get_by_role("button", name="Hand in", exact=True).click()
    form.get_by_text("2 files would come back").wait_for()
    form.get_by_role("button", name="Fill in where missing").click()
    form.get_by_text("Say first who brought them").wait_for()
    form.get_by_label("All brought by").fill("Petroc")
    form.get_by_label("Design of all new devices").fill(
        form.locator("#designs option").first.get_attribute("value")
    )
    form.keyboard.press("Enter")
    cell(form, 0, "new_device").check()
    cell(form, 1, "new_device").check()
    form.get_by_text("Filled in: who brought it in 2 lines, design in 2 lines.").wait_for()
    assert missing.all_inner_texts() == ["", "", ""] and not form.get_by_text("would come back").is_visible()
    assert who.get_attribute("aria-invalid") is None and who.get_attribute("aria-describedby") is None
    assert [cell(form, row, "contributor").input_value() for row in range(3)] == [
        "Petroc",
        "Petroc",
        "Gwenna",
    ]
    files = intakes_selectors.get_intake(on.operator, hand_in(form)).files
    assert [each.state for each in files] == ["stored"] * 3, [each.reason for each in files]


def test_a_tag_that_two_people_brought_asks_whose_it_is(form, on: Evening):
    club.guests_device(
        on.operator, on.night, club.guest(on.operator, on.night, "Petroc"), on.design, tag="A-1"
    )
    form.reload()
    form.set_input_files("#files", [file("A-1 choke.s2p"), file("constructor swr.s1p")])
    form.get_by_text("Added: 2 sweeps.").wait_for()
    missing = form.locator("td[data-missing]")
    assert missing.first.inner_text().startswith("who brought it")
    cell(form, 0, "contributor").fill("petroc")
    cell(form, 0, "contributor").press("Tab")
    assert missing.all_inner_texts() == ["", "who brought it; design, if the device is new"]


def test_a_manifest_among_the_files_fills_the_table_and_nothing_typed_is_wiped_out(form, nobody_works: None):
    form.set_input_files("#files", [file("a.s2p"), file("b.s2p")])
    form.get_by_text("Added: 2 sweeps.").wait_for()
    cell(form, 1, "tag").fill("typed")
    text = 'file;tag;contributor;kind;calibrated\r\na.s2p;"A;1";Ada;load_match;false\r\n'
    form.set_input_files("#manifest", file("list.csv", text.encode()))
    form.get_by_text("a manifest of 1 line.").wait_for()
    assert [cell(form, 0, name).input_value() for name in ("tag", "kind")] == ["A;1", "load_match"]
    assert cell(form, 1, "tag").input_value() == "typed"
    with form.expect_download() as saved:
        form.get_by_role("button", name="Download the manifest").click()
    lines = saved.value.path().read_text(encoding="utf-8").splitlines()
    assert lines[1] == "a.s2p,A;1,Ada,load_match,,sweep,,,,,,false," or '"A;1"' in lines[1]


def test_a_folder_comes_with_everything_in_it(form, nobody_works: None, tmp_path):
    for name in ("night/C-7/choke.s2p", "night/C-8/choke.s2p", "night/.hidden"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(factories.choke_s2p(seed=3, points=21))
    form.set_input_files("#folder", tmp_path / "night")
    form.get_by_text("Added: 2 sweeps.").wait_for()
    assert sorted(form.locator("tbody th").all_inner_texts()) == ["C-7_choke.s2p", "C-8_choke.s2p"]
    # a folder is no tag, unless somebody says so
    assert [cell(form, row, "tag").input_value() for row in (0, 1)] == ["", ""]
    form.get_by_label("Folders in it are").select_option("tag")
    expect(cell(form, 0, "tag")).to_have_value(re.compile("C-"))
    assert sorted(cell(form, row, "tag").input_value() for row in (0, 1)) == ["C-7", "C-8"]
    form.get_by_label("Show only files that hold this text").fill("c-8")
    assert form.locator("tbody tr:not([hidden]) th").all_inner_texts() == ["C-8_choke.s2p"]


def test_files_chosen_again_are_added_and_none_is_lost(form, on: Evening, nobody_works: None, tmp_path):
    total = form.locator("[data-total]")
    form.set_input_files("#files", [file("G-1.s2p"), file("A-1.s2p")])
    form.get_by_text("Added: 2 sweeps.").wait_for()
    assert total.inner_text() == "To be handed in: 2 sweeps."
    other = factories.choke_s2p(seed=5, points=21)
    form.set_input_files("#files", [file("G-1.s2p"), file("a-1.s2p", other), file("C-1.s2p")])
    form.get_by_text("Added: 2 sweeps. Here already: G-1.s2p.").wait_for()
    assert form.get_by_text("added beside it as a-1-2.s2p").is_visible()
    assert form.locator("tbody th").all_inner_texts() == ["G-1.s2p", "A-1.s2p", "a-1-2.s2p", "C-1.s2p"]
    form.set_viewport_size(PHONE)
    assert form.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    archive = {"name": "rest.zip", "mimeType": "application/zip", "buffer": b"PK"}
    form.set_input_files("#archive", archive)
    assert total.inner_text() == "To be handed in: 4 sweeps and 1 zip, 1 with something missing."
    form.get_by_role("button", name="Leave out rest.zip").click()
    form.get_by_role("button", name="Leave out C-1.s2p").click()
    assert total.inner_text() == "To be handed in: 3 sweeps."
    assert {each.file for each in intakes_selectors.get_intake(on.operator, hand_in(form)).files} == {
        "G-1.s2p",
        "A-1.s2p",
        "a-1-2.s2p",
    }


def test_a_file_saved_anew_takes_the_place_of_the_old_one(form, on: Evening, nobody_works: None, tmp_path):
    path = tmp_path / "G-1.s2p"
    path.write_bytes(SWEEP)
    form.set_input_files("#files", path)
    form.get_by_text("Added: 1 sweep.").wait_for()
    path.write_bytes(factories.choke_s2p(seed=5, points=31))
    form.set_input_files("#files", path)
    form.get_by_text("Saved anew since, and replaced: G-1.s2p.").wait_for()
    assert form.locator("[data-total]").inner_text() == "To be handed in: 1 sweep."


def test_files_are_dropped_anywhere_on_the_page(form):
    form.evaluate(
        """() => {
        const carried = new DataTransfer();
        carried.items.add(new File(["# Hz S RI R 50\\n"], "C-9 swr.s1p"));
        document.body.dispatchEvent(new DragEvent("drop", {dataTransfer: carried, bubbles: true}));
    }"""
    )
    form.get_by_text("Added: 1 sweep.").wait_for()
    assert cell(form, 0, "kind").input_value() == "load_match"


def test_three_hundred_files_go_in_at_once(form, on: Evening, nobody_works: None):
    form.set_input_files("#files", [file(f"T-{number} choke.s2p") for number in range(300)])
    form.get_by_text("Added: 300 sweeps.").wait_for()
    cell(form, 0, "contributor").fill("Ada")
    cell(form, 0, "contributor").press("Control+Shift+d")
    key = hand_in(form)
    row = intakes_selectors.get_intake(on.operator, key)
    assert (row.total, row.done, row.state) == (300, 0, "queued")
    assert {each.assignment["contributor"] for each in row.files} == {"Ada"}
    assert len({each.assignment["tag"] for each in row.files}) == 300


@override_settings(BENCHNIGHT_INTAKE_BODY_BYTES=60_000)
def test_more_than_one_request_carries_goes_in_parts_and_keeps_tests_together(
    page, on: Evening, nobody_works: None
):
    page.goto(f"/sign-in/{accounts.issue_sign_in_link(name=on.operator.name)}/")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state()
    page.goto(f"{on.address}intake/")
    data = b"! " + b"x" * 9_000 + b"\n# Hz S RI R 50\n"
    names = [
        f"{tag} loss far {end}.s1p" for tag in ("D-1", "D-2", "D-3") for end in ("open", "short", "load")
    ]
    page.set_input_files("#files", [file(name, data) for name in names])
    page.get_by_text("Added: 9 sweeps.").wait_for()
    cell(page, 0, "contributor").fill("Ada")
    cell(page, 0, "contributor").press("Control+Shift+d")
    page.get_by_role("button", name="Hand in", exact=True).click()
    page.wait_for_url("**/nights/*/#intakes")
    made = nights.get_night(on.operator, on.night).intakes
    tags = [
        [each.assignment["tag"] for each in intakes_selectors.get_intake(on.operator, row.key).files]
        for row in made
    ]
    assert sorted(len(each) for each in tags) == [3, 3, 3]
    assert all(len(set(each)) == 1 for each in tags)


def test_a_dropped_connection_keeps_table_and_files(form, on: Evening, nobody_works: None):
    form.set_input_files("#files", [file("one.s2p")])
    form.get_by_text("Added: 1 sweep.").wait_for()
    cell(form, 0, "tag").fill("G-1")
    form.context.set_offline(True)
    form.get_by_role("button", name="Hand in", exact=True).click()
    form.get_by_text("The connection dropped.").wait_for()
    assert cell(form, 0, "tag").input_value() == "G-1"
    form.context.set_offline(False)
    form.wait_for_url("**/intakes/*/")
    assert len(nights.get_night(on.operator, on.night).intakes) == 1


def test_a_refused_hand_in_says_why_and_keeps_the_table(form, on: Evening):
    form.set_input_files("#files", [file("one.s2p")])
    form.get_by_text("Added: 1 sweep.").wait_for()
    cell(form, 0, "tag").fill("G-1")
    form.route(
        "**/intake/",
        lambda route: route.fulfill(
            status=400,
            content_type="application/json",
            body=json.dumps({"faults": [{"field": None, "detail": "No room tonight."}]}),
        ),
    )
    form.get_by_role("button", name="Hand in", exact=True).click()
    form.get_by_text("No room tonight.").wait_for()
    assert cell(form, 0, "tag").input_value() == "G-1"


def test_an_intake_is_followed_while_it_runs_and_its_refused_file_mended(
    form, on: Evening, nobody_works: None
):
    form.set_input_files("#files", [file("G-1 choke.s2p"), file("A-1 choke.s2p", b"no sweep")])
    form.get_by_text("Added: 2 sweeps.").wait_for()
    key = hand_in(form)
    words = form.locator("[data-words]")
    assert words.inner_text() == "0 of 2 files read; 0 stored, 0 already there, 0 refused."
    assert words.get_attribute("aria-live") == "polite"
    intakes_services.work_on_intake(intake=key)
    form.get_by_text("Done: 2 of 2 files read; 1 stored, 0 already there, 1 refused.").wait_for()
    assert form.locator("tr[data-number='1'] a").inner_text() == "stored"
    form.locator("[data-refused] a").click()
    form.get_by_label("Another file in its place").set_input_files(
        [file("A-1 again.s2p", factories.choke_s2p(seed=72, points=21))]
    )
    form.get_by_role("button", name="Send it again").click()
    form.get_by_text("is sent again").wait_for()
    intakes_services.work_on_intake(intake=key)
    form.get_by_text("Done: 2 of 2 files read; 2 stored, 0 already there, 0 refused.").wait_for()


def test_no_name_in_a_manifest_reaches_what_all_objects_share(form, on: Evening):
    record = form.evaluate(
        "Benchnight.csvRecords('file,tag,__proto__,constructor,polluted\\na.s2p,G-1,x,y,z\\n')[0]"
    )
    assert record["file"] == "a.s2p" and record["constructor"] == "y"
    assert form.evaluate(
        "Object.getPrototypeOf(Benchnight.csvRecords('file,tag\\na.s2p,G-1\\n')[0]) === null"
    )
    assert form.evaluate("({}).polluted === undefined && ({}).constructor === Object")
