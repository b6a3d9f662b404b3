"""Result cards and labels: what they say, the codes on them, and claiming with one."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
import zxingcpp
from django.conf import settings
from django.test import Client, override_settings
from PIL import Image

from measurements.pages.devices import card_presenters
from measurements.selectors.upkeep import listed_devices
from measurements.services.accounts import accounts
from measurements.services.nights import guests
from tests import club, factories
from tests.pages import evening, markup
from tests.pages.conftest import signed_in
from tests.pages.evening import Evening

pytestmark = pytest.mark.usefixtures("reference_data")
CODE = re.compile(r"[2-9a-z]{4}-[2-9a-z]{4}-[2-9a-z]{4}")


@pytest.fixture
def on(reference_data: None) -> Evening:
    found = evening.begin()
    club.record(found.operator, found.guests_device, found.night, evening.CHOKE)
    return found


@pytest.fixture
def osric(on: Evening) -> Client:
    return signed_in(on.operator)


def test_a_card_says_the_verdict_per_band_the_day_and_where_the_page_is(osric: Client, on: Evening):
    page = osric.get(f"{on.address}cards/?device={on.guests_device}")
    words = markup.words(page.content)
    for said in ("G-1", "Gwenna", "Common mode", "30m meets", "160m falls short", "14 May 2026"):
        assert said in words, said
    assert "against a rejection of 20 dB or more" in words
    assert "no power rating follows" in words and "Engine 1." in words
    assert "A-1" not in words and not CODE.search(words)
    (code,) = [each for each in markup.read(page.content).all("svg") if each.attrs.get("class") == "qr"]
    assert code.attrs["aria-label"].endswith(f"/devices/{on.guests_device}/")


@pytest.mark.parametrize("page", ["cards/", "labels/"])
def test_codes_that_lead_elsewhere_are_warned_of_before_they_are_printed(
    osric: Client, on: Evening, page: str
):
    with override_settings(BENCHNIGHT_SITE="http://10.42.0.1:8000"):
        assert "These codes lead to http://10.42.0.1:8000" in markup.words(
            osric.get(on.address + page).content
        )
    with override_settings(BENCHNIGHT_SITE="http://testserver"):
        assert "These codes lead" not in markup.words(osric.get(on.address + page).content)


def test_claim_codes_are_made_on_asking_and_shown_once(osric: Client, on: Evening):
    made = markup.words(osric.post(f"{on.address}cards/").content)
    (code,) = set(CODE.findall(made))
    assert f"{settings.BENCHNIGHT_SITE}/after/" in made  # where it shows the devices without an account
    later = markup.words(osric.get(f"{on.address}cards/").content)
    assert not CODE.search(later)
    assert "Codes printed earlier and not used yet are void then." in later
    again = markup.words(osric.post(f"{on.address}cards/").content)
    assert set(CODE.findall(again)) != {code}


def test_two_devices_of_one_guest_carry_the_same_code(osric: Client, on: Evening):
    club.guests_device(on.operator, on.night, on.guest, on.design, tag="G-2")
    made = markup.words(osric.post(f"{on.address}cards/").content)
    assert len(CODE.findall(made)) == 2 and len(set(CODE.findall(made))) == 1


def test_a_guest_with_an_account_claims_the_devices_with_the_code(osric: Client, on: Evening):
    code = CODE.findall(markup.words(osric.post(f"{on.address}cards/").content))[0]
    gwenna = factories.member("Gwenna H")
    client = signed_in(gwenna)
    assert client.get(f"/devices/{on.guests_device}/").status_code == 404
    wrong = client.post("/claim/", {"code": code[:-1] + ("2" if code[-1] != "2" else "3")})
    assert wrong.status_code == 422 and "mistyped" in markup.words(wrong.content)
    right = client.post("/claim/", {"code": f" {code.upper()} "}, follow=True)
    assert "One device is yours now." in markup.words(right.content)
    assert [row.tag for row in listed_devices.list_devices(gwenna).results] == ["G-1"]
    used = client.post("/claim/", {"code": code})
    assert used.status_code == 422 and "used already" in markup.words(used.content)


def test_the_account_page_leads_to_claiming(on: Evening):
    page = markup.read(signed_in(factories.member("Gwenna H")).get("/account/").content)
    assert page.one("a", href="/claim/")


def test_an_owner_prints_a_card_from_the_newest_test_of_each_kind(on: Evening):
    ada = factories.member("Ada")
    key = factories.device(ada, on.design, tag="Home-1")
    factories.record(ada, key, factories.choke_s2p(seed=5, peak_ohm=500.0))
    words = markup.words(signed_in(ada).get(f"/devices/{key}/card/").content)
    # 500 ohm at most: 20 lg(1 + 500/100) = 15.6 dB, under the benchmark everywhere
    assert "Home-1" in words and "falls short on every band" in words and "14 March 2026" in words


def test_a_label_sheet_is_laid_out_as_asked(osric: Client, on: Evening):
    page = markup.read(osric.get(f"{on.address}labels/?columns=2&rows=5&paper=letter&skip=9").content)
    sheets = [each.attrs["class"] for each in page.all("div") if "label-sheet" in each.attrs.get("class", "")]
    assert sheets == ["label-sheet on-letter columns-2 rows-5"] * 2
    assert len([each for each in page.all("div") if "is-free" in each.attrs.get("class", "")]) == 9
    assert "QR code of G-1" in [each.attrs.get("aria-label") for each in page.all("svg")]


@pytest.mark.parametrize("asked", ["columns=9", "rows=x", "paper=a3", "skip=-1"])
def test_a_sheet_that_does_not_exist_is_refused_and_drawn_as_usual(osric: Client, on: Evening, asked: str):
    answer = osric.get(f"{on.address}labels/?{asked}")
    assert answer.status_code == 400
    assert "label-sheet on-a4 columns-3 rows-8" in answer.content.decode()


def test_every_layout_that_can_be_asked_for_has_its_style():
    from measurements import pages

    style = (Path(pages.__file__).parent / "static" / "print_cards.css").read_text(encoding="utf-8")
    wanted = [f".columns-{count}" for count, _ in card_presenters.COLUMNS]
    wanted += [f".rows-{count}" for count, _ in card_presenters.ROWS] + [
        f".on-{name}" for name, _ in card_presenters.PAPERS
    ]
    assert [name for name in wanted if f"{name} {{" not in style] == []


def test_a_code_belongs_to_whoever_may_see_the_device(on: Evening):
    assert signed_in(factories.member("Ben")).get(f"/devices/{on.guests_device}/qr.svg").status_code == 404


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("to", "path"), [("page", "devices"), ("bench", "bench")])
@override_settings(BENCHNIGHT_SITE="https://bench.example.org")
def test_a_reader_finds_the_address_in_the_code(page, on: Evening, to: str, path: str):
    """Drawn by a browser as on paper at 26 mm and 200 dpi, read by zxing-cpp, which is not what wrote it."""
    page.goto(f"/sign-in/{accounts.issue_sign_in_link(name=on.operator.name)}/")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state()
    where = f"{on.address}cards/" if to == "page" else f"{on.address}labels/"
    page.goto(where)
    codes = page.locator("svg.qr")
    found = []
    for index in range(codes.count()):
        drawn = Image.open(io.BytesIO(codes.nth(index).screenshot())).convert("RGB")
        read = zxingcpp.read_barcodes(drawn)
        found.append([each.text for each in read])
    keys = (on.members_device, on.guests_device)
    assert found == [[f"https://bench.example.org/{path}/{key}/"] for key in keys]


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_sheet_of_cards_prints_on_paper_and_nothing_else_does(page, on: Evening):
    """Eight cards on A4; the text of the print is read back with pypdf."""
    from pypdf import PdfReader

    for number in range(6):
        guests.add_attendee(by=on.operator, night=on.night, name=f"Guest {number}")
        club.guests_device(on.operator, on.night, on.guest, on.design, tag=f"P-{number}")
    page.goto(f"/sign-in/{accounts.issue_sign_in_link(name=on.operator.name)}/")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state()
    page.goto(f"{on.address}cards/")
    printed = PdfReader(io.BytesIO(page.pdf(format="A4", prefer_css_page_size=True)))
    text = " ".join(sheet.extract_text() for sheet in printed.pages)
    assert len(printed.pages) == 1
    for tag in ("A-1", "G-1", *(f"P-{number}" for number in range(6))):
        assert tag in text
    assert "Make the cards" not in text and "Look" not in text and "Find" not in text
    page.goto(f"{on.address}labels/?columns=2&rows=4")
    assert len(PdfReader(io.BytesIO(page.pdf(format="A4"))).pages) == 1
    page.goto(f"{on.address}labels/?columns=2&rows=3&paper=letter")
    assert len(PdfReader(io.BytesIO(page.pdf(format="Letter"))).pages) == 2
    # the paper that was chosen, even where the printer's usual one is another: ISO 216 A4 is 210 by 297 mm
    page.goto(f"{on.address}labels/?columns=2&rows=4&paper=a4")
    sheets = PdfReader(io.BytesIO(page.pdf(format="Letter", prefer_css_page_size=True))).pages
    millimetres = [round(float(side) / 72 * 25.4) for side in sheets[0].mediabox[2:]]
    assert (len(sheets), millimetres) == (1, [210, 297])
