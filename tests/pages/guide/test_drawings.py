"""The drawings as files: complete, well formed, nothing but shapes and text in them, and said in words."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from measurements.pages.guide.drawings import catalogue, svg
from measurements.pages.guide.drawings.scene import HEIGHT, WIDTH
from measurements.pages.layout import procedures
from measurements.services.uploads import uploads
from tests.charts.test_specifications import contrast

SVG = "{http://www.w3.org/2000/svg}"
SHAPES = {"svg", "title", "desc", "rect", "circle", "path", "g", "text"}
ALL = [
    *(catalogue.get_drawing(*key) for key in catalogue.list_drawing_files()),
    catalogue.get_reading_drawing(),
]
SKETCHES = {
    **{
        catalogue.get_drawing(*key).slug: catalogue.get_sketch(*key) for key in catalogue.list_drawing_files()
    },
    "reading": catalogue.READINGS,
}
each_drawing = pytest.mark.parametrize("drawing", ALL, ids=lambda drawing: drawing.slug)


def test_every_file_that_is_asked_for_has_its_drawing():
    asked = {(each.kind, each.method, file.role) for each in procedures.PROCEDURES for file in each.files}
    assert asked <= set(catalogue.list_drawing_files())


def test_every_method_of_the_contract_has_a_drawing():
    drawn = {(kind, method) for kind, method, _ in catalogue.list_drawing_files()}
    assert {kind for kind, _ in drawn} == {*uploads.KINDS, "calibration", "winding"}
    assert {method for _, method in drawn if method} == set(uploads.METHODS)


@each_drawing
def test_it_is_well_formed_and_holds_nothing_but_shapes(drawing):
    root = ElementTree.fromstring(drawing.svg)
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in SHAPES
        for name, value in element.attrib.items():
            assert name not in ("style", "class", "href") and not name.startswith(("on", "{"))
            assert "url(" not in value and "//" not in value
    assert re.findall(r"https?://[^\"]+", drawing.svg) == ["http://www.w3.org/2000/svg"]


@each_drawing
def test_it_has_a_title_and_a_description(drawing):
    root = ElementTree.fromstring(drawing.svg)
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title.text == drawing.title != ""
    assert desc.text == drawing.words
    assert root.attrib["aria-labelledby"].split() == [title.attrib["id"], desc.attrib["id"]]


def said(text: str) -> set[str]:
    """The words of a text without plural s; a terminal's letter counts as a word, the article does not."""
    return {
        word if word in ("A", "B") else word.lower().removesuffix("s")
        for word in re.findall(r"\d+\.\d+|\w+|[×−=]", text.replace("Ω", "ohm"))
    }


@each_drawing
def test_the_words_say_whatever_is_drawn(drawing):
    scene = SKETCHES[drawing.slug].scene()
    words = said(drawing.words)
    for label in scene.labels:
        assert said(label.text) <= words, label.text
    for pin in scene.pins:
        ends = {"1", "2"} if not pin.startswith(("port", "device")) else set()
        assert said(pin) - ends <= words, pin
    for port in {pin.rsplit(" ", 1)[0] for pin in scene.pins if pin.startswith("port")}:
        assert port in drawing.words.lower()
    assert drawing.words.endswith(".") and len(drawing.words) > 80


@each_drawing
def test_everything_lies_on_the_sheet(drawing):
    """Ends of text are estimated at 0.56 em a character, wide for the fonts named."""
    scene = SKETCHES[drawing.slug].scene()
    for wire in scene.wires:
        assert all(0 < x < WIDTH and 0 < y < HEIGHT for x, y in wire.points)
    for label in scene.labels:
        width = 0.56 * label.size * len(label.text)
        start = label.at[0] - {"start": 0, "middle": width / 2, "end": width}[label.anchor]
        assert start > 4 and start + width < WIDTH - 2, label.text
        assert label.size >= 13.5  # 10.8 px where the sheet is 320 px wide


@pytest.mark.parametrize("colour", [svg.INK, svg.FAINT])
def test_text_stands_out_from_paper_and_from_the_device(colour: str):
    """WCAG 2.2, 1.4.3."""
    for ground in (svg.PAPER, "#fdf7e6", "#eef1f6"):
        assert contrast(colour, ground) >= 4.5


def test_shields_stand_out_from_paper():
    """WCAG 2.2, 1.4.11: parts of a graphic that must be seen need 3:1."""
    assert contrast(svg.BRAID, svg.PAPER) >= 3


def test_different_wirings_have_different_pictures():
    same = {
        frozenset(drawing.slug for drawing in ALL if drawing.digest == digest)
        for digest in {drawing.digest for drawing in ALL}
    }
    shared = {slugs for slugs in same if len(slugs) > 1}
    for slugs in shared:  # a drawing may serve several methods, never two files of one method
        methods = [slug.rsplit(".", 1)[0] for slug in slugs]
        assert len(methods) == len(set(methods))


def test_a_drawing_is_found_by_its_file_name_and_no_other_is():
    for drawing in ALL:
        assert catalogue.find_drawing(drawing.slug) is drawing
    assert catalogue.find_drawing("no.such") is None
    with pytest.raises(KeyError):
        catalogue.get_drawing("balance", None, "far_open")
