"""A result card of a device: what was measured, how it did on each band, and where its page is."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import segno
from django import forms
from django.conf import settings
from django.urls import reverse

from measurements.pages.layout.wording import Badge, format_method
from measurements.pages.tests import presenters
from measurements.pages.tests.presenters import BandLine
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.nights.rows import NightDeviceRow, NightTestRow
from measurements.selectors.tests.tests import TestRow

# QR codes that lead from a card or a label to an address of this site, as SVG of one path.
#
# The code carries the address and nothing else: who scans it without being allowed in learns nothing.

QUIET_MODULES = 4  # ISO/IEC 18004 asks for four modules of quiet around a code


def get_device_url(key: str) -> str:
    """Return absolute address of a device's page, as it stands on its card."""
    return _make_absolute(reverse("pages:device", kwargs={"key": key}))


def get_bench_url(key: str) -> str:
    """Return absolute address that opens a device on the bench of the night that is on, as on its label."""
    return _make_absolute(reverse("pages:bench_of", kwargs={"key": key}))


def draw_qr_svg(address: str) -> str:
    """Return a black code on white, scalable; error correction M, so that a worn label still reads."""
    code = segno.make(address, error="m", micro=False)
    size = code.symbol_size(border=QUIET_MODULES)[0]
    drawn = code.svg_inline(border=QUIET_MODULES, omitsize=True, light="#fff", svgclass=None, lineclass=None)
    # one unit of the picture is one module; crisp edges keep the modules apart on a coarse printer
    named = (
        f'<svg xmlns="http://www.w3.org/2000/svg" shape-rendering="crispEdges" width="{size}" height="{size}"'
    )
    return drawn.replace("<svg", named, 1)


@dataclass(frozen=True)
class InlineCode:
    """A code as a picture within the page: a sheet of labels asks the server for nothing more.

    size: modules on a side, quiet ones included; one unit of the picture is one module. dark: the path of the
    dark modules, rows of one unit in width from their middle on.
    """

    title: str
    size: int
    dark: str


def build_inline_code(address: str, title: str) -> InlineCode:
    """Build the code for the template `devices/parts/code.html`."""
    code = segno.make(address, error="m", micro=False)
    runs = []
    for y, row in enumerate(code.matrix_iter(border=QUIET_MODULES)):
        for is_dark, places in itertools.groupby(range(len(row)), key=row.__getitem__):
            found = list(places)
            if is_dark:
                runs.append(f"M{found[0]} {y}.5h{len(found)}")
    return InlineCode(title, code.symbol_size(border=QUIET_MODULES)[0], "".join(runs))


def _make_absolute(path: str) -> str:
    return f"{settings.BENCHNIGHT_SITE.rstrip('/')}{path}"


@dataclass(frozen=True)
class CardTest:
    """A test as its card says it. left_out: whether it is no evidence, which the card does not hide."""

    __test__ = False

    words: str
    measured_on: date
    said: Badge
    outcome: str
    bands: tuple[BandLine, ...]
    limit: str
    left_out: bool


@dataclass(frozen=True)
class Card:
    """One card. owner: as written on it. code: the claim code, on the print on which it was made."""

    key: str
    tag: str
    owner: str
    is_guest: bool
    design_title: str
    address: str
    tests: tuple[CardTest, ...]
    engine_version: str
    code: str = ""

    @property
    def after_address(self) -> str:
        """Return the address where the claim code shows its devices without an account."""
        return _make_absolute(reverse("pages:after"))

    @property
    def inline_code(self) -> InlineCode:
        """Return the code of its address as part of the page."""
        return build_inline_code(self.address, f"QR code: {self.address}")


def build_night_card(device: NightDeviceRow, code: str = "") -> Card:
    """Return the card of a device on the night it was measured."""
    return Card(
        key=device.key,
        tag=device.tag,
        owner=device.owner,
        is_guest=device.is_guest,
        design_title=device.design_title,
        address=get_device_url(device.key),
        tests=tuple(_build_night_card_test(test) for test in device.newest),
        engine_version=device.newest[0].engine_version if device.newest else "",
        code=code,
    )


def build_device_card(device: DeviceRow, tests: Iterable[TestRow]) -> Card:
    """Return the card of a device from the newest test of every kind and method. tests: the newest first."""
    newest: dict[tuple[str, str], TestRow] = {}
    for test in sorted(tests, key=lambda row: row.measured_on, reverse=True):
        newest.setdefault((test.kind, test.method), test)
    chosen = tuple(newest.values())
    return Card(
        key=device.key,
        tag=device.tag,
        owner=device.owner,
        is_guest=False,
        design_title=device.design_title,
        address=get_device_url(device.key),
        tests=tuple(
            _build_card_test(test.kind, test.method, test.measured_on, test.result) for test in chosen
        ),
        engine_version=chosen[0].result.get("engine_version", "") if chosen else "",
    )


def _build_night_card_test(test: NightTestRow) -> CardTest:
    result = {
        "kind": test.kind,
        "bands": list(test.bands),
        "summary": test.summary,
        "flags": list(test.flags),
    }
    return _build_card_test(test.kind, test.method, test.measured_on, result)


def _build_card_test(kind: str, name: str, measured_on: date, result: dict[str, Any]) -> CardTest:
    bands = presenters.present_bands(result)
    said, outcome = presenters.summarise_verdicts(bands)
    return CardTest(
        words=format_method(kind, name),
        measured_on=measured_on,
        said=said,
        outcome=outcome,
        bands=bands,
        limit=presenters.describe_result_limit(result),
        left_out=any(flag["severity"] == "exclude" for flag in result["flags"]),
    )


# A sheet of labels: how many columns and rows, on which paper, and where the first free one is.

PAPERS = (("a4", "A4"), ("letter", "Letter"))

COLUMNS = tuple((str(count), str(count)) for count in range(1, 6))

ROWS = tuple((str(count), str(count)) for count in range(2, 17))

MAX_PER_SHEET = 5 * 16

LONG_TAG, VERY_LONG_TAG = 9, 18  # characters; a tag is set smaller from there on


@dataclass(frozen=True)
class Label:
    """One label; `key` None is a place left free."""

    key: str | None
    tag: str = ""
    design: str = ""

    @property
    def inline_code(self) -> InlineCode | None:
        """Return its code as part of the page; None of a place left free."""
        if self.key is None:
            return None
        return build_inline_code(get_bench_url(self.key), f"QR code of {self.tag}")

    @property
    def size(self) -> str:
        """Return the class of the stylesheet that lets the tag fit."""
        if len(self.tag) >= VERY_LONG_TAG:
            return "is-very-long"
        return "is-long" if len(self.tag) >= LONG_TAG else "is-plain"


class LabelSheetForm(forms.Form):
    """The sheet as its address says it."""

    paper = forms.ChoiceField(required=False, choices=PAPERS, label="Paper")
    columns = forms.ChoiceField(required=False, choices=COLUMNS, label="Columns")
    rows = forms.ChoiceField(required=False, choices=ROWS, label="Rows")
    skip = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=MAX_PER_SHEET - 1,
        label="Used already",
        help_text="Labels missing at the start of the first sheet.",
    )

    DEFAULTS: dict[str, Any] = {"paper": "a4", "columns": "3", "rows": "8", "skip": 0}

    @property
    def chosen(self) -> dict[str, Any]:
        """Return every field; what is missing or faulty as it is by default."""
        cleaned = self.cleaned_data if self.is_valid() else getattr(self, "cleaned_data", {})
        return {name: cleaned.get(name) or default for name, default in self.DEFAULTS.items()}


def lay_out_labels(labels: Sequence[Label], *, columns: int, rows: int, skip: int) -> list[list[Label]]:
    """Return the labels sheet by sheet, the first `skip` places of the first one free."""
    size = columns * rows
    placed = [*([Label(None)] * (skip % size)), *labels]
    return [placed[start : start + size] for start in range(0, len(placed), size)]
