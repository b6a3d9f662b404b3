"""A device's report: the figures of its tests, on the page and in the PDF alike (read with pypdf)."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from measurements.pages.devices import report_contents, report_pdf
from measurements.pages.devices.report_sheet import BOTTOM, HEADING, Sheet, compute_picture_height_mm
from measurements.pages.layout import upkeep_wording
from measurements.rf.analysis import ENGINE_VERSION
from measurements.selectors.tests import tests
from measurements.selectors.upkeep import service_states
from measurements.selectors.upkeep.rows import ChangeRow
from measurements.services.devices import devices
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group
from tests.photo_samples import picture


@pytest.fixture
def pdf(owner: Client, group: Group) -> PdfReader:
    today = timezone.now().date()
    for days, seed in ((9, 21), (2, 22)):
        sweep = factories.choke_s2p(2600, seed=seed)
        factories.record(group.owner, group.device, sweep, measured_on=today - timedelta(days=days))
    devices.update_device(
        by=group.owner, device=group.device, version=1, place="mast two", notes="Łódź, 雨, ½ turn"
    )
    answer = owner.get(f"/devices/{group.device}/report.pdf")
    assert answer["Content-Type"] == "application/pdf" and answer["X-Content-Type-Options"] == "nosniff"
    return PdfReader(io.BytesIO(answer.content))


def text(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_the_pdf_holds_figures_state_method_jig_limits_engine_and_cautions(pdf: PdfReader, group: Group):
    found = text(pdf)
    newest = tests.list_tests(group.owner, device=group.device).results[0]
    for band in newest.result["bands"]:
        if band["coverage"] != "none":
            assert f"{band['band']} " in found
            assert f"{band['rejection_db']['worst']:.1f}" in found, band["band"]
            assert f"{band['rejection_db']['centre']:.1f}" in found
    state = service_states.get_service_state(group.owner, group.device)
    assert state.next_step.message in found and state.reasons[0].message in found
    for said in (
        "QX-TAG-77",
        "Common mode",
        "benchmark 20 dB",
        "Jig not measured",
        "Calibrated yes",
        f"engine {ENGINE_VERSION}",
        "no power rating",
        "RF exposure",
        "mast two",
        "the lid",
        "History",
        "Over time",
        "Repeatability limit",  # the term of ISO 5725-6
    ):
        assert said in found, said
    pictures = [image for page in pdf.pages for image in page.images]
    assert len(pictures) >= 4  # two panels of a common-mode test, the trend, one photo
    # the fonts of every PDF reader know Western European letters; the others are said to be missing
    assert "?ódz" in found and "½ turn" in found
    assert "marks a letter that this file's font does not have" in found
    last = len(pdf.pages)
    assert f"{last} / {last}" in pdf.pages[-1].extract_text()
    assert pdf.metadata["/Title"] == "Report of QX-TAG-77"
    assert not re.search("person-0|/[a-z]+/", str(pdf.metadata["/Title"] + pdf.metadata["/Producer"]))


def test_a_table_leaves_no_lonely_row_at_the_foot_of_a_page():
    sheet = Sheet("A group", "QX", date(2026, 4, 2), "1.0.0")
    sheet.add_page()
    rows = [["row 1", "1"], ["row 2", "2"], ["row 3", "3"], ["row 4", "4"]]
    sheet.table_of(["Band", "dB"], rows)
    assert sheet.page_no() == 1
    sheet.set_y(262)  # a head and one row would fit above the foot
    sheet.table_of(["Band", "dB"], rows)
    pages = PdfReader(io.BytesIO(sheet.finished())).pages
    assert [page.extract_text().count("row ") for page in pages] == [4, 4]


@pytest.mark.parametrize("lines", [0, 16, 24, 38])
def test_what_belongs_together_stands_on_one_page(group: Group, lines: int):
    """Whatever stands before it: notes of so many lines push everything down."""
    today = timezone.now().date()
    sweep = factories.choke_s2p(2600, seed=21)
    factories.record(group.owner, group.device, sweep, measured_on=today - timedelta(days=9))
    found = report_contents.build_report(group.owner, group.device)
    device = replace(found.device, notes="\n".join(["a line"] * lines))
    (part,) = found.tests
    last_band = f"{part.lines[-1].band} {part.lines[-1].said.short}"
    made = report_pdf.draw_report_pdf(replace(found, device=device), group.owner, group_name="A group")
    pages = [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(made)).pages]
    for first, *others in (
        # a test's heading, the last band of its table and the last of the figures below that
        ("Held against", part.title, part.overall_words, last_band, "Stray capacitance"),
        ("Measured on", "How it was measured", "Computed by"),
        ("Repeatability", "Meaning", "How well a test repeats"),
        ("A sweep says nothing about power", "Take care", "Local rules"),
    ):
        (page,) = (page for page in pages if first in page)
        assert all(other in page for other in others), (first, lines)
    assert sum(page.count("allowed") for page in pages) > 9
    for page in pages:
        last = page.partition("Made on")[0].strip()  # the foot follows
        assert not last.endswith(("Take care", "History", "How it was measured", "know about it")), last[-80:]


def test_a_heading_stays_with_its_picture():
    png = picture()
    high = compute_picture_height_mm(png)
    pages = []
    for y in range(40, 270, 10):
        sheet = Sheet("A group", "QX", date(2026, 4, 2), "1.0.0")
        sheet.add_page()
        sheet.set_y(y)
        sheet.heading("Over time", room=HEADING + high)
        headed = sheet.page_no()
        sheet.picture(png, words="a curve")
        assert sheet.page_no() == headed
        assert high < sheet.get_y() <= 297 - BOTTOM
        pages.append(headed)
    assert set(pages) == {1, 2}


def test_a_group_is_moved_whole_and_once_only():
    sheet = Sheet("A group", "QX", date(2026, 4, 2), "1.0.0")
    sheet.add_page()
    sheet.set_y(265)
    sheet.together(lambda sheet: [sheet.said(f"line {n}") for n in range(4)])
    # what is longer than a page begins where a page does, and goes on
    sheet.add_page()
    sheet.together(lambda sheet: [sheet.said(f"long {n}") for n in range(60)])
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(sheet.finished())).pages]
    assert [(page.count("line "), page.count("long ")) for page in pages] == [(0, 0), (4, 0), (0, 52), (0, 8)]


@pytest.mark.parametrize(
    ("real", "beyond", "said"),
    [
        (False, True, "no change that a repeat would not show"),
        (True, True, "beyond the 2.5 dB allowed"),
        (None, True, "beyond the 2.5 dB allowed, if it is real"),
        (True, False, "a real change, within what is allowed"),
        (None, False, "within what is allowed"),
    ],
)
def test_what_a_change_means(real, beyond, said):
    row = ChangeRow("40m", 31.0, 28.0, -3.0, 2.5, None, real, beyond)
    assert upkeep_wording.describe_change(row) == said


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_on_printed_pages_too(page, live_server, owner: Client, group: Group):
    today = timezone.now().date()
    sweep = factories.choke_s2p(2600, seed=21)
    factories.record(group.owner, group.device, sweep, measured_on=today - timedelta(days=9))
    # as many lines as push the table of the test to the foot of a page
    devices.update_device(by=group.owner, device=group.device, version=1, notes="a line\n" * 38)
    session = owner.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": session.key, "value": session.value, "url": live_server.url}])
    page.goto(f"/devices/{group.device}/report/")
    page.wait_for_load_state("networkidle")
    printed = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    pages = [each.extract_text() for each in printed.pages]
    (tested,) = (each for each in pages if "Held against" in each)
    assert "Stray capacitance" in tested and "1,310" in tested
    assert "Take care" in pages[-1] and "Nothing here is a power rating" in pages[-1]
    # what a change means is said in one line of its cell
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 680, "height": 960})  # A4 less its margins, at 96 pixels an inch
    cell = page.locator("td.meaning").first
    cell.evaluate(
        "cell => cell.textContent = 'no change that a repeat would not show'"
    )  # the longest of them
    lines = cell.evaluate(
        "cell => { const all = document.createRange(); all.selectNodeContents(cell);"
        " return all.getClientRects().length }"
    )
    assert lines == 1


def test_the_page_says_the_same(owner: Client, group: Group):
    content = owner.get(f"/devices/{group.device}/report/").content
    words = markup.words(content)
    newest = tests.list_tests(group.owner, device=group.device).results[0]
    for band in newest.result["bands"]:
        if band["coverage"] != "none":
            assert f"{band['rejection_db']['worst']:.1f}" in words
    for said in (
        "How it was measured",
        f"engine {ENGINE_VERSION}",
        "Take care",
        "Limits of the group: 20 dB",
    ):
        assert said in words
    assert markup.read(content).one("a", href=f"/devices/{group.device}/report.pdf")


def test_a_device_without_anything(owner: Client, group: Group):
    bare = factories.device(group.owner, group.design, tag="bare")
    assert owner.get(f"/devices/{bare}/report/").status_code == 200
    answer = owner.get(f"/devices/{bare}/report.pdf")
    assert "Untested" in text(PdfReader(io.BytesIO(answer.content)))
