"""The paper that a report is drawn on: A4, its head and foot, and the few shapes that it is made of."""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date

from fpdf import FPDF
from fpdf.enums import TableBordersLayout, TextEmphasis, XPos, YPos
from fpdf.fonts import FontFace
from PIL import Image

Colour = tuple[int, int, int]

NIGHT: Colour = (22, 31, 58)
LAMP: Colour = (244, 183, 64)
INK: Colour = (27, 35, 51)
FAINT: Colour = (86, 96, 116)
LINE: Colour = (211, 217, 226)
# the same as the page's, static/benchnight.css
COLOURS: dict[str, Colour] = {
    "is-meets": (15, 92, 151),
    "is-mixed": (125, 82, 0),
    "is-short": (143, 43, 76),
    "is-few": (86, 96, 116),
}
FONT = "helvetica"
HEADING = 15.0  # mm, what a heading takes with the gap below it
LEFT, TOP, BOTTOM = 18.0, 24.0, 20.0  # mm
WIDTH = 210 - 2 * LEFT
ROW = 5.6  # mm, a row of a table that is one line high
WHITE: Colour = (255, 255, 255)
PLAIN = {
    "−": "-",
    "–": "-",
    "—": "-",
    "≥": ">=",
    "≤": "<=",
    "Ω": "ohm",
    "“": '"',
    "”": '"',
    "’": "'",
    "‘": "'",
}


class Sheet(FPDF):
    """A report in the making. Sizes are millimetres and points."""

    def __init__(self, group_name: str, tag: str, made_on: date, engine_version: str) -> None:
        super().__init__(format="A4")
        self.unshown = False
        self.top_line = self.plain(tag if group_name == "Benchnight" else f"{group_name} · {tag}")
        self.foot_line = self.plain(
            f"Made on {self.day(made_on)}, engine {engine_version}. Nothing here is a power rating."
        )
        self.set_margins(LEFT, TOP, LEFT)
        self.set_auto_page_break(True, BOTTOM)
        self.set_title(self.plain(f"Report of {tag}"))
        self.set_creator("Benchnight")
        self.set_producer("Benchnight")
        self.set_lang("en")
        self.set_text_color(*INK)
        self.set_font(FONT, size=10)

    @staticmethod
    def day(value: date) -> str:
        """Return a date in words."""
        return f"{value.day} {value:%B %Y}"

    def plain(self, text: str) -> str:
        """Return the text in letters that the font has; the others as "?"."""
        for letter, instead in PLAIN.items():
            text = text.replace(letter, instead)
        made = []
        for letter in unicodedata.normalize("NFC", text):
            if letter.encode("latin-1", "ignore") or letter in "\n":
                made.append(letter)
                continue
            base = unicodedata.normalize("NFKD", letter).encode("latin-1", "ignore").decode("latin-1")
            self.unshown = self.unshown or not base
            made.append(base or "?")
        return "".join(made)

    def header(self) -> None:
        self.set_fill_color(*NIGHT)
        self.rect(0, 0, 210, 14, style="F")
        self.set_fill_color(*LAMP)
        self.rect(0, 14, 210, 1.1, style="F")
        self.set_xy(LEFT, 3.5)
        self.set_text_color(255, 255, 255)
        self.set_font(FONT, "B", 11)
        self.cell(40, 7, "Benchnight")
        self.set_font(FONT, "", 9)
        self.cell(WIDTH - 40, 7, self.top_line, align="R")
        self.set_text_color(*INK)
        self.set_xy(LEFT, TOP)

    def footer(self) -> None:
        self.set_y(-14)
        self.set_font(FONT, "", 8)
        self.set_text_color(*FAINT)
        self.cell(WIDTH - 30, 6, self.foot_line)
        self.cell(30, 6, f"{self.page_no()} / {{nb}}", align="R")
        self.set_text_color(*INK)

    def finished(self) -> bytes:
        """Return the file. Says on its last page where a letter could not be shown."""
        if self.unshown:
            self.gap(2)
            self.small('"?" marks a letter that this file\'s font does not have; the page shows it.')
        return bytes(self.output())

    def gap(self, height: float) -> None:
        self.set_y(self.get_y() + height)

    def said(
        self, text: str, *, size: float = 10, bold: bool = False, colour: Colour = INK, width: float = 0
    ) -> None:
        """Add a paragraph."""
        self.set_font(FONT, "B" if bold else "", size)
        self.set_text_color(*colour)
        self.multi_cell(width, size * 0.48, self.plain(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.set_text_color(*INK)

    def small(self, text: str) -> None:
        """Add a remark."""
        self.said(text, size=8.5, colour=FAINT)

    def bullet(self, text: str) -> None:
        """Add a paragraph with a dot before it."""
        self.set_font(FONT, "", 10)
        left = self.l_margin
        self.cell(4, 4.8, "·")
        self.set_left_margin(left + 4)
        self.set_x(left + 4)
        self.said(text)
        self.set_left_margin(left)
        self.set_x(left)

    def together(self, draw: Callable[[Sheet], None]) -> None:
        """Draw what belongs on one page; on the next where it would run over the end of this one."""
        with self.offset_rendering() as rehearsal:
            draw(rehearsal)
        if rehearsal.page_break_triggered and self.get_y() > TOP:
            self.add_page()
        draw(self)

    @contextmanager
    def indented(self, by: float) -> Iterator[None]:
        """Yield everything inside stands further to the right."""
        left = self.l_margin
        self.set_left_margin(left + by)
        self.set_x(left + by)
        yield
        self.set_left_margin(left)
        self.set_x(left)

    def bar(self, top: float, bottom: float, colour: Colour) -> None:
        """Draw an upright bar at the left, as the page has it."""
        if bottom > top:
            self.set_fill_color(*colour)
            self.rect(LEFT, top, 1.6, bottom - top, style="F")

    def heading(self, text: str, *, room: float = 30) -> None:
        """Add a heading on a rule; on a new page where less than `room`, its own included, is left."""
        if self.get_y() > TOP:
            self.gap(6)
        if self.get_y() > 297 - BOTTOM - room:
            self.add_page()
        self.said(text, size=14, bold=True, colour=NIGHT)
        self.set_draw_color(*LINE)
        self.set_line_width(0.3)
        self.line(LEFT, self.get_y() + 1, LEFT + WIDTH, self.get_y() + 1)
        self.gap(3)

    def subheading(self, text: str) -> None:
        self.gap(2.5)
        if self.get_y() > 297 - BOTTOM - 18:
            self.add_page()
        self.said(text, size=10.5, bold=True)
        self.gap(0.8)

    def facts(self, pairs: Sequence[tuple[str, str]]) -> None:
        """Names and values, two pairs a line."""
        rows = [pairs[at : at + 2] for at in range(0, len(pairs), 2)]
        self.set_font(FONT, "", 9)
        self.set_fill_color(*WHITE)
        face = FontFace(color=FAINT)
        with self.table(
            col_widths=(34, 53, 34, 53),
            width=WIDTH,
            borders_layout=TableBordersLayout.NONE,
            first_row_as_headings=False,
            line_height=4.6,
            padding=0.4,
            align="LEFT",
            text_align="LEFT",
        ) as table:
            for pair in rows:
                row = table.row()
                for name, value in pair:
                    row.cell(self.plain(name), style=face)
                    row.cell(self.plain(str(value)))
                for _ in range(2 - len(pair)):
                    row.cell("")
                    row.cell("")

    def table_of(
        self,
        heads: Sequence[str],
        rows: Sequence[Sequence[str]],
        colours: Sequence[Colour] = (),
        *,
        widths: tuple[float, ...] | None = None,
        text: bool = False,
        remark: bool = False,
    ) -> None:
        """Add a table. colours: of each row's second cell. text: all columns are words; remark: the
        last one is.

        It begins on a new page where its head and three rows do not fit any more.
        """
        if self.get_y() + 4 * ROW > 297 - BOTTOM:
            self.add_page()
        self.set_font(FONT, "", 8.5)
        self.set_draw_color(*LINE)
        self.set_fill_color(*WHITE)
        words = len(heads) if text else 2 if colours else 1
        align = ["LEFT" if at < words else "RIGHT" for at in range(len(heads))]
        if remark:
            align[-1] = "LEFT"
        given = widths or _compute_column_widths(heads, rows, words)
        with self.table(
            col_widths=given,
            width=WIDTH,
            borders_layout=TableBordersLayout.HORIZONTAL_LINES,
            headings_style=FontFace(emphasis=TextEmphasis.B, color=FAINT, size_pt=8),
            line_height=4.4,
            padding=(0.6, 1),
            text_align=tuple(align),
        ) as table:
            head = table.row()
            for title in heads:
                head.cell(self.plain(title))
            for index, cells in enumerate(rows):
                row = table.row()
                for at, cell in enumerate(cells):
                    face = (
                        FontFace(color=colours[index], emphasis=TextEmphasis.B)
                        if colours and at == 1
                        else None
                    )
                    row.cell(self.plain(cell), style=face)
        self.gap(1.5)

    def picture(self, png: bytes, *, words: str) -> None:
        """Add a picture over the whole width; on a new page where it does not fit any more."""
        self.gap(2)
        self.image(io.BytesIO(png), x=LEFT, w=WIDTH, alt_text=self.plain(words))
        self.set_x(LEFT)

    def side_by_side(self, pictures: Sequence[tuple[bytes, str]], *, share: float, caption: bool) -> None:
        """Pictures in two columns. share: their height to their width at most; caption: words below it."""
        width = (WIDTH - 6) / 2
        for at in range(0, len(pictures), 2):
            tallest = max(compute_picture_height_mm(data, width) for data, _ in pictures[at : at + 2])
            height = min(width * share, tallest)
            if self.get_y() > 297 - BOTTOM - height - (8 if caption else 0):
                self.add_page()
            top = lowest = self.get_y()
            for column, (data, words) in enumerate(pictures[at : at + 2]):
                x = LEFT + column * (width + 6)
                self.image(
                    io.BytesIO(data),
                    x=x,
                    y=top,
                    w=width,
                    h=height,
                    keep_aspect_ratio=True,
                    alt_text=self.plain(words or "Picture"),
                )
                self.set_xy(x, top + height + 1)
                if caption:
                    self.set_font(FONT, "", 8.5)
                    self.multi_cell(width, 4, self.plain(words), align="L", new_x=XPos.LEFT, new_y=YPos.NEXT)
                lowest = max(lowest, self.get_y())
            self.set_xy(LEFT, lowest + 2)


def compute_picture_height_mm(picture: bytes, width: float = WIDTH) -> float:
    """Return the height of a picture, in mm, at this width."""
    with Image.open(io.BytesIO(picture)) as opened:
        return width * opened.height / opened.width


def _compute_column_widths(
    heads: Sequence[str], rows: Sequence[Sequence[str]], words: int
) -> tuple[float, ...]:
    """Return columns as wide as the longest of their cells asks for; heads may break into lines."""
    longest = [
        max(
            [len(cell) for row in rows for at, cell in enumerate(row) if at == column]
            + [max(len(word) for word in head.split()) if head.split() else 1]
        )
        for column, head in enumerate(heads)
    ]
    room = [length + (3 if at < words else 2) for at, length in enumerate(longest)]
    return tuple(WIDTH * each / sum(room) for each in room)
