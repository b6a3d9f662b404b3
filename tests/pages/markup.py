"""Reads a page as its promises are written: elements, attributes, text."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser


@dataclass
class Element:
    tag: str
    attrs: dict[str, str]
    text: str = ""


@dataclass
class Markup:
    """Every element of a page in order, with the text directly in it."""

    elements: list[Element] = field(default_factory=list)

    def all(self, *tags: str) -> list[Element]:
        return [each for each in self.elements if each.tag in tags]

    def one(self, tag: str, **attrs: str) -> Element:
        found = [each for each in self.all(tag) if attrs.items() <= each.attrs.items()]
        assert len(found) == 1, f"{len(found)} elements {tag} {attrs}"
        return found[0]

    @property
    def ids(self) -> list[str]:
        return [each.attrs["id"] for each in self.elements if "id" in each.attrs]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.markup = Markup()
        self.open: list[Element] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.markup.elements.append(element)
        if tag not in ("input", "meta", "link", "br", "img", "source"):
            self.open.append(element)

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop().tag != tag:
            pass

    def handle_data(self, data: str) -> None:
        for element in self.open:
            element.text += data


def read(content: bytes) -> Markup:
    reader = _Reader()
    reader.feed(content.decode())
    return reader.markup


def words(content: bytes) -> str:
    """The text of a page with single spaces."""
    (main,) = read(content).all("main")
    return " ".join(main.text.split())
