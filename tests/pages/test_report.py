"""A device's report: the figures of its tests, on the page and in the PDF alike (read with pypdf)."""

from __future__ import annotations

import io
import re
from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from measurements.ingest import devices as register
from measurements.pages.report_sheet import Sheet
from measurements.queries import service, tests
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group


@pytest.fixture
def pdf(owner: Client, group: Group) -> PdfReader:
    today = timezone.now().date()
    for days, seed in ((9, 21), (2, 22)):
        sweep = factories.choke_s2p(2600, seed=seed)
        factories.record(group.owner, group.device, sweep, measured_on=today - timedelta(days=days))
    register.change(
        by=group.owner, device=group.device, version=1, place="mast two", notes="Łódź, 雨, ½ turn"
    )
    answer = owner.get(f"/devices/{group.device}/report.pdf")
    assert answer["Content-Type"] == "application/pdf" and answer["X-Content-Type-Options"] == "nosniff"
    return PdfReader(io.BytesIO(answer.content))


def text(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_the_pdf_holds_figures_state_method_jig_limits_engine_and_cautions(pdf: PdfReader, group: Group):
    found = text(pdf)
    newest = tests.listing(group.owner, device=group.device).results[0]
    for band in newest.result["bands"]:
        if band["coverage"] != "none":
            assert f"{band['band']} " in found
            assert f"{band['rejection_db']['worst']:.1f}" in found, band["band"]
            assert f"{band['rejection_db']['centre']:.1f}" in found
    state = service.state_of(group.owner, group.device)
    assert state.next_step.message in found and state.reasons[0].message in found
    for said in (
        "QX-TAG-77",
        "Common mode",
        "benchmark 20 dB",
        "Jig not measured",
        "Calibrated yes",
        "engine 1.0.0",
        "no power rating",
        "clear of power lines",
        "Never measure with a thunderstorm",
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
    assert "stands for a letter that this file's font does not have" in found
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


def test_the_page_says_the_same(owner: Client, group: Group):
    content = owner.get(f"/devices/{group.device}/report/").content
    words = markup.words(content)
    newest = tests.listing(group.owner, device=group.device).results[0]
    for band in newest.result["bands"]:
        if band["coverage"] != "none":
            assert f"{band['rejection_db']['worst']:.1f}" in words
    for said in ("How it was measured", "engine 1.0.0", "Take care", "Limits of the group: 20 dB"):
        assert said in words
    assert markup.read(content).one("a", href=f"/devices/{group.device}/report.pdf")


def test_a_device_without_anything(owner: Client, group: Group):
    bare = factories.device(group.owner, group.design, tag="bare")
    assert owner.get(f"/devices/{bare}/report/").status_code == 200
    answer = owner.get(f"/devices/{bare}/report.pdf")
    assert "Untested" in text(PdfReader(io.BytesIO(answer.content)))
