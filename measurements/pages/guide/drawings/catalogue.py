"""The finished drawings, found by the file they belong to or by their own file name."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from hashlib import sha256

from measurements.pages.guide.drawings.sketches import READINGS, SKETCHES, Sketch
from measurements.pages.guide.drawings.svg import write


@dataclass(frozen=True)
class Drawing:
    """A finished drawing. slug: its file name; digest: changes with the picture, for long caching."""

    slug: str
    title: str
    words: str
    svg: str
    digest: str


def files() -> list[tuple[str, str | None, str]]:
    """Kind, method and role of every drawing of a file."""
    return [(kind, method, role) for (kind, method), found in SKETCHES.items() for role in found]


@cache
def drawing(kind: str, method: str | None, role: str) -> Drawing:
    """The drawing of one file of a test; KeyError where the contract knows no such file."""
    return _finished(_slug(kind, method, role), sketch(kind, method, role))


@cache
def readings() -> Drawing:
    """The drawing of a reading, which belongs to no file."""
    return _finished("reading", READINGS)


@cache
def by_slug(slug: str) -> Drawing | None:
    """A drawing by its file name."""
    if slug == "reading":
        return readings()
    names = {_slug(*key): key for key in files()}
    return drawing(*names[slug]) if slug in names else None


def sketch(kind: str, method: str | None, role: str) -> Sketch:
    """The same before it is drawn."""
    return SKETCHES[kind, method][role]


def _slug(kind: str, method: str | None, role: str) -> str:
    return ".".join(part for part in (kind, method, role) if part)


def _finished(slug: str, found: Sketch) -> Drawing:
    svg = write(found.scene(), found.title, found.words)
    return Drawing(slug, found.title, found.words, svg, sha256(svg.encode()).hexdigest()[:12])
