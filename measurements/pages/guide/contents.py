"""The guide's pages in their order, and where on them a kind and method stands."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from measurements.pages.guide import balance, common_mode, dc, in_situ, insertion_loss, load_match
from measurements.pages.guide.drawings import catalogue
from measurements.pages.guide.drawings.catalogue import Drawing
from measurements.pages.guide.flags_of_results import FIGURES, METHODS, RECIPE, WIRING, WRONG_INPUT
from measurements.pages.guide.flags_of_sweeps import BANDS, JIG, SWEEP
from measurements.pages.guide.page_structure import Entry, FlagHelp, Section
from measurements.pages.layout import procedures
from measurements.rf.flags import FLAG_CATALOGUE

ENTRIES: tuple[Entry, ...] = (
    dc.ENTRY,
    common_mode.ENTRY,
    load_match.ENTRY,
    insertion_loss.ENTRY,
    balance.ENTRY,
    in_situ.ENTRY,
)

ENTRIES_BY_KIND = {entry.kind: entry for entry in ENTRIES}

BENCH_TOPIC, FLAGS_TOPIC, SERVICE_TOPIC = "bench", "flags", "service"


def find_section(kind: str, method: str | None) -> Section:
    """Return the section of a kind and method; KeyError where the contract knows none."""
    found = [each for each in ENTRIES_BY_KIND[kind].sections if each.method == method]
    if not found:
        raise KeyError(f"{kind}.{method}")
    return found[0]


# Where the guide's pages, sections and drawings are found.


@dataclass(frozen=True)
class GuidePicture:
    """A drawing as a page shows it. href: what it leads to, "" for nothing."""

    src: str
    words: str
    caption: str
    href: str = ""


def get_topic_url(name: str, anchor: str = "") -> str:
    """Return address of a page of the guide, at one of its sections."""
    address = reverse("pages:guide_topic", kwargs={"topic": name})
    return f"{address}#{anchor}" if anchor else address


def get_section_url(kind: str, method: str | None) -> str:
    """Return address of the section of a kind and method."""
    return get_topic_url(kind, find_section(kind, method).anchor)


def get_upload_url(kind: str, method: str | None) -> str | None:
    """Return address of the upload form for a kind and method; None where the form does not take it."""
    procedure = procedures.find_procedure(kind, method)
    if procedure is None:
        return None
    query = f"?kind={kind}&method={method}" if method else f"?kind={kind}"
    return reverse("pages:upload") + query


def build_picture(kind: str, method: str | None, role: str, *, href: str = "") -> GuidePicture:
    """Return the drawing of a file, captioned as the upload form calls that file where it asks for it."""
    procedure = procedures.find_procedure(kind, method)
    labels = {each.role: each.label for each in procedure.files} if procedure else {}
    found = catalogue.get_drawing(kind, method, role)
    return GuidePicture(get_drawing_url(found), found.words, labels.get(role, found.title), href)


def build_inspection_picture(code: str) -> GuidePicture:
    """Return the picture of an item of the check list; KeyError for a code that has none."""
    found = catalogue.get_inspection_picture(code)
    return GuidePicture(get_drawing_url(found), found.words, found.title, "")


def get_drawing_url(found: Drawing) -> str:
    """Return the address changes with the picture, so that it can be cached for long."""
    return f"{reverse('pages:guide_drawing', kwargs={'slug': found.slug})}?v={found.digest}"


# Guide: what each flag of a result means, for which kinds it can appear, and where to read on.
#
# Code and severity are the engine's (`measurements.rf.flags`); a flag without a row here fails the
# tests.

FLAG_GROUPS: tuple[tuple[str, dict[str, FlagHelp]], ...] = (
    ("The sweep itself", SWEEP),
    ("Bands", BANDS),
    ("The jig", JIG),
    ("Wiring and load", WIRING),
    ("Figures that are missing", FIGURES),
    ("Single methods", METHODS),
    ("Another input than it seems", WRONG_INPUT),
    ("The recipe", RECIPE),
)

FLAG_HELP: dict[str, FlagHelp] = {code: found for _, group in FLAG_GROUPS for code, found in group.items()}


def list_flags_of_kind(kind: str, *, left_out: bool) -> tuple[tuple[str, FlagHelp], ...]:
    """Return code and help of the flags that a test of this kind can bring: those that leave it out, or the
    rest.
    """
    return tuple(
        (code, each)
        for code, each in FLAG_HELP.items()
        if kind in each.kinds and (FLAG_CATALOGUE[code].severity != "note") == left_out
    )
