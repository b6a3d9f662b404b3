"""Where the guide's pages, sections and drawings are found."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from measurements.pages import bench
from measurements.pages.guide import contents
from measurements.pages.guide.drawings import catalogue
from measurements.pages.guide.drawings.catalogue import Drawing


@dataclass(frozen=True)
class Picture:
    """A drawing as a page shows it. href: what it leads to, "" for nothing."""

    src: str
    words: str
    caption: str
    href: str = ""


def topic(name: str, anchor: str = "") -> str:
    """Address of a page of the guide, at one of its sections."""
    address = reverse("pages:guide_topic", kwargs={"topic": name})
    return f"{address}#{anchor}" if anchor else address


def section(kind: str, method: str | None) -> str:
    """Address of the section of a kind and method."""
    return topic(kind, contents.section(kind, method).anchor)


def upload(kind: str, method: str | None) -> str | None:
    """Address of the upload form for a kind and method; None where the form does not take it."""
    procedure = bench.find(kind, method)
    if procedure is None:
        return None
    query = f"?kind={kind}&method={method}" if method else f"?kind={kind}"
    return reverse("pages:upload") + query


def picture(kind: str, method: str | None, role: str, *, href: str = "") -> Picture:
    """The drawing of a file, captioned as the upload form calls that file where it asks for it."""
    procedure = bench.find(kind, method)
    labels = {each.role: each.label for each in procedure.files} if procedure else {}
    found = catalogue.drawing(kind, method, role)
    return Picture(of_drawing(found), found.words, labels.get(role, found.title), href)


def of_drawing(found: Drawing) -> str:
    """The address changes with the picture, so that it can be cached for long."""
    return f"{reverse('pages:guide_drawing', kwargs={'slug': found.slug})}?v={found.digest}"
