"""Labels as PDF. The yardstick for the code is the matrix of the QR library (ISO/IEC 18004)."""

from __future__ import annotations

import io
import re
import zlib

import segno
import zxingcpp
from PIL import Image, ImageDraw
from pypdf import PdfReader

from measurements.charts.label_sheets import PrintedLabel, draw_label_pdf, list_code_rows

ADDRESS = "http://192.0.2.7:8000/bench/abcdefghjkmn/"


def boxes(pdf: bytes) -> list[tuple[int, int]]:
    """Width and height of each page in whole millimetres, as pypdf reads them (1 point is 1/72 inch)."""
    found = [page.mediabox for page in PdfReader(io.BytesIO(pdf)).pages]
    return [(round(float(box.width) * 25.4 / 72), round(float(box.height) * 25.4 / 72)) for box in found]


def text_of(pdf: bytes) -> bytes:
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.S)
    return b"".join(zlib.decompress(each) for each in streams if each[:1] == b"x")


def labels(count: int) -> list[PrintedLabel]:
    return [PrintedLabel(ADDRESS, "abcdefghjkmn", f"NB-{n:02}", "Choke") for n in range(count)]


def test_tape_has_one_label_a_page_of_62_by_29_mm():
    assert boxes(draw_label_pdf(labels(3), paper="tape62")) == [(62, 29)] * 3


def test_sheets_hold_as_many_as_they_have_places_after_those_used():
    pages = lambda pdf: pdf.count(b"/Type /Page\n")  # noqa: E731
    assert pages(draw_label_pdf(labels(24), paper="a4")) == 1
    assert pages(draw_label_pdf(labels(25), paper="a4")) == 2
    assert pages(draw_label_pdf(labels(24), paper="a4", skip=1)) == 2
    assert pages(draw_label_pdf(labels(10), paper="letter", columns=2, rows=5)) == 1


def test_the_drawn_code_is_as_large_as_its_label_allows_and_inside_it():
    """Every bar lies on the page; a module on tape is 0.4 mm or more (common practice, no source)."""
    words = text_of(draw_label_pdf(labels(1), paper="tape62")).decode("latin-1")
    bars = [tuple(map(float, bar)) for bar in re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) -([\d.]+) re f", words)]
    assert len(bars) > 100
    for left, top, wide, high in bars:
        assert left >= 0 and left + wide <= 62 / 25.4 * 72 and high <= top <= 29 / 25.4 * 72
        assert high * 25.4 / 72 >= 0.4


def test_a_reader_finds_the_address_on_paper():
    """Drawn as bars at 300 dpi and read by zxing-cpp, which is not what made the code."""
    scale = 300 / 72
    words = text_of(draw_label_pdf(labels(1), paper="tape62")).decode("latin-1")
    picture = Image.new("L", (int(62 / 25.4 * 300), int(29 / 25.4 * 300)), 255)
    pen = ImageDraw.Draw(picture)
    for bar in re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) -([\d.]+) re f", words):
        left, top, wide, high = (float(each) * scale for each in bar)
        down = picture.height - top
        pen.rectangle([left, down, left + wide - 1, down + high - 1], fill=0)
    assert [found.text for found in zxingcpp.read_barcodes(picture)] == [ADDRESS]


def test_each_label_says_tag_and_code():
    words = text_of(draw_label_pdf(labels(3), paper="a4"))
    for tag in (b"NB-00", b"NB-01", b"NB-02"):
        assert tag in words
    assert words.count(b"abcdefghjkmn") == 3


def test_the_drawn_modules_are_those_of_the_standard():
    wanted = segno.make(ADDRESS, error="m", micro=False)
    assert list_code_rows(ADDRESS) == [[bool(m) for m in row] for row in wanted.matrix]
    assert len(list_code_rows(ADDRESS)) == wanted.symbol_size(border=0)[0]


def test_150_labels_are_drawn_in_under_three_seconds():
    import time

    started = time.process_time()
    draw_label_pdf(labels(150), paper="a4")
    assert time.process_time() - started < 3


def test_no_tag_leaves_its_place():
    long = PrintedLabel(ADDRESS, "abcdefghjkmn", "W" * 64, "Ω " * 60)
    assert draw_label_pdf([long], paper="tape62").startswith(b"%PDF")
