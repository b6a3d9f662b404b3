"""Labels on paper, as PDF: sheets of A4 or letter, or one label a page for a printer with 62 mm tape.

Each label carries a QR code (ISO/IEC 18004) of an address, the tag, and the code in letters for typing. The
code is drawn as squares, not as a picture, so that a printer of any resolution has sharp edges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import segno
from fpdf import FPDF

FONT = "helvetica"
QUIET_MODULES = 4  # ISO/IEC 18004 asks for four modules of quiet around a code
PADDING_MM = 2.0
POINT_MM = 0.3528
TAPE_MM = (62.0, 29.0)  # the tape's width, and what is cut off for a label
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "tape62": TAPE_MM}
LARGEST_PT, SMALLEST_PT = 20.0, 5.0


@dataclass(frozen=True)
class PrintedLabel:
    """What one label says. address: in its code. code: in letters. tag: "" leaves a line to write on."""

    address: str
    code: str
    tag: str = ""
    line: str = ""


def draw_label_pdf(
    labels: Sequence[PrintedLabel], *, paper: str, columns: int = 3, rows: int = 8, skip: int = 0
) -> bytes:
    """Draw the labels; on tape one a page. skip: places of the first sheet that are used already.

    paper: a4, letter or tape62. Raises KeyError for another.
    """
    width, height = PAPERS_MM[paper]
    pdf = FPDF(unit="mm", format=(width, height))
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    if paper == "tape62":
        columns, rows, skip = 1, 1, 0
    size = columns * rows
    for number, label in enumerate(labels, start=skip % size):
        place = number % size
        if place == 0 or pdf.page == 0:
            pdf.add_page()
        box = (width / columns, height / rows)
        _draw_label(pdf, label, (place % columns) * box[0], (place // columns) * box[1], box)
    return bytes(pdf.output())


def list_code_rows(address: str) -> list[list[bool]]:
    """Return the modules of the code row by row, True for black, without the quiet zone."""
    matrix = segno.make(address, error="m", micro=False).matrix
    return [[bool(module) for module in row] for row in matrix]


def _draw_label(pdf: FPDF, label: PrintedLabel, left: float, top: float, box: tuple[float, float]) -> None:
    """Draw one label into its box, in millimetres."""
    width, height = box
    side = min(height, width * 0.45) - 2 * PADDING_MM
    _draw_code(pdf, label.address, left + PADDING_MM, top + (height - side) / 2, side)
    text_left = left + side + 2 * PADDING_MM
    room = width - side - 3 * PADDING_MM
    middle = top + height / 2
    if label.tag:
        _draw_line(pdf, label.tag, text_left, middle - 1.0, room, LARGEST_PT, bold=True)
    else:
        pdf.set_line_width(0.2)
        pdf.line(text_left, middle, text_left + room, middle)
    _draw_line(pdf, label.line, text_left, middle + 4.0, room, 8.0)
    _draw_line(pdf, label.code, text_left, middle + 8.0, room, 8.0)


def _draw_code(pdf: FPDF, address: str, left: float, top: float, side: float) -> None:
    rows = list_code_rows(address)
    module = side / (len(rows) + 2 * QUIET_MODULES)
    pdf.set_fill_color(0, 0, 0)
    for y, row in enumerate(rows):
        for x, length in _list_runs(row):
            start = left + (x + QUIET_MODULES) * module
            pdf.rect(start, top + (y + QUIET_MODULES) * module, length * module, module, style="F")


def _list_runs(row: Sequence[bool]) -> list[tuple[int, int]]:
    """Return start and length of each run of black modules: neighbours become one bar without a seam."""
    runs: list[tuple[int, int]] = []
    for x, black in enumerate(row):
        if black and runs and sum(runs[-1]) == x:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        elif black:
            runs.append((x, 1))
    return runs


def _draw_line(
    pdf: FPDF, text: str, left: float, base: float, room: float, size: float, *, bold: bool = False
) -> None:
    """Write a line that fits the room: smaller first, then cut short."""
    plain = text.encode("latin-1", "replace").decode("latin-1")
    if not plain:
        return
    pdf.set_font(FONT, style="B" if bold else "", size=size)
    wide = pdf.get_string_width(plain)
    if wide > room:
        pdf.set_font_size(max(SMALLEST_PT, size * room / wide))
    while len(plain) > 1 and pdf.get_string_width(plain) > room:
        plain = plain[:-2] + "."
    pdf.text(left, base, plain)
