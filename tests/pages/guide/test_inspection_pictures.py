"""Every item of the check list has a picture of our own: good, and what to look for."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from django.test import Client

from measurements.fitness.checklist import CHECKLIST_ITEMS
from measurements.pages.guide.drawings import catalogue, inspection
from measurements.pages.guide.drawings.scene import WIDTH
from tests.pages.guide.test_drawings import SHAPES, SVG, said

each_item = pytest.mark.parametrize("item", CHECKLIST_ITEMS, ids=lambda item: item.code)


def test_every_item_has_a_picture_and_no_other_has():
    assert set(inspection.PICTURES) == {item.code for item in CHECKLIST_ITEMS}
    assert len({picture.svg for picture in catalogue.list_inspection_pictures()}) == len(CHECKLIST_ITEMS)


@each_item
def test_it_holds_nothing_but_shapes_and_says_itself_in_words(item):
    picture = catalogue.get_inspection_picture(item.code)
    root = ElementTree.fromstring(picture.svg)
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= SHAPES
    assert re.findall(r"https?://[^\"]+", picture.svg) == ["http://www.w3.org/2000/svg"]
    assert root.find(f"{SVG}desc").text == picture.words and item.look in picture.words
    for label in inspection.draw_inspection_item(item.code).labels:
        assert said(label.text) <= said(picture.words)


@each_item
def test_the_panel_of_the_fault_differs_and_its_ring_lies_on_the_sheet(item):
    """A picture that shows the same twice would teach nothing."""
    scene = inspection.draw_inspection_item(item.code)
    good, bad = inspection.Scene(), inspection.Scene()
    inspection.PICTURES[item.code].draw(good, 0, True)
    inspection.PICTURES[item.code].draw(bad, 0, False)
    assert good.behind != bad.behind and good.behind and bad.behind
    ring = dict(scene.before[-1].attributes)
    x, y, radius = (float(ring[name]) for name in ("cx", "cy", "r"))
    assert ring["stroke-dasharray"] and x - radius > WIDTH / 2 and x + radius < WIDTH
    assert y - radius > 0 and y + radius < inspection.HEIGHT


def test_the_pictures_are_served_as_files(client: Client, db):
    for item in CHECKLIST_ITEMS:
        answer = client.get(f"/guide/drawings/inspection.{item.code}.svg")
        assert answer.status_code == 200 and answer.headers["Content-Type"].startswith("image/svg+xml")
    assert client.get("/guide/drawings/inspection.engine.svg").status_code == 404
