"""Designs to choose from, where a form asks which one a device follows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest

from measurements.disclosure.viewers import Viewer
from measurements.pages.designs import query_parameters
from measurements.pages.designs.chance_wording import format_chance, write_chance
from measurements.pages.designs.forms import ORDER_WORDS
from measurements.pages.designs.judged_words import KIND_WORDS, KindWords, get_limit, get_words
from measurements.pages.designs.query_parameters import QueryParameters, Selection
from measurements.pages.layout import figures
from measurements.pages.layout.wording import STYLES, Badge, get_verdict_badge
from measurements.rf.ferrites import core_names
from measurements.rf.ferrites.core_names import Size
from measurements.selectors.designs import designs
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.paging import MAX_LIMIT
from measurements.selectors.reference import reference
from measurements.verdict.judged_kinds import COMMON_MODE


def list_designs_by_title(viewer: Viewer) -> tuple[DesignRow, ...]:
    """List every design by its title."""
    found: list[DesignRow] = []
    cursor: str | None = None
    while True:
        listed = designs.list_designs(viewer, order="title", cursor=cursor, limit=MAX_LIMIT)
        found += listed.results
        cursor = listed.next_cursor
        if cursor is None:
            return tuple(found)


# Evidence as a reader meets it: a word, a shape, a count, and a small picture's coordinates.

PLOT_WIDTH = 160

PLOT_TOP_DB = KIND_WORDS[COMMON_MODE].high  # the right end of the small picture of a rejection


@dataclass(frozen=True)
class Plot:
    """Places of marks in the small picture, in units from 0 to PLOT_WIDTH; None: not shown."""

    benchmark: float
    median: float
    low: float | None
    span: float | None
    words: str


@dataclass(frozen=True)
class EvidenceSummary:
    """One band of a design, or all bands asked together (band is then empty).

    words: of the metric that it is about; figures are in its unit. percentiles: 10, 25, 50, 75, 90 %, and
    bins: bounds and devices; both empty below ten people. chance: of a new build, `9 in 10`. sentence: the
    same for the reader's own build; empty where it is not shown.
    """

    band: str
    words: KindWords
    said: Badge
    count: str
    devices: str
    median: str
    chance: str
    sentence: str
    spread: str
    tolerance: str
    percentiles: tuple[str, ...]
    bins: tuple[tuple[str, str], ...]
    plot: Plot | None


def summarise_evidence(evidence: dict[str, Any], joint_bands: Sequence[str] = ()) -> EvidenceSummary:
    """Give the standing of one evidence object (contract, evidence of a design on a band).

    joint_bands: those that the object is about where it is about several together.
    """
    words = get_words(evidence)
    shown = evidence.get(words.metric) or {}
    chance, bands = evidence.get("chance"), joint_bands or [evidence.get("band")]
    p10, p90 = shown.get("p10"), shown.get("p90")
    return EvidenceSummary(
        band=evidence.get("band") or "",
        words=words,
        said=get_verdict_badge(evidence["verdict"]),
        count=format_device_counts(evidence),
        devices=_format_devices(evidence.get("devices")),
        median=words.format_figure(shown.get("median")),
        chance=figures.NO_VALUE if chance is None else format_chance(chance),
        sentence=""
        if chance is None or not all(bands)
        else write_chance(chance, get_limit(evidence), [str(band) for band in bands], words),
        spread=figures.NO_VALUE
        if p10 is None
        else f"{words.format_figure(p10)} to {words.format_figure(p90)}",
        tolerance=words.format_figure(shown.get(words.bound_of)),
        percentiles=()
        if p10 is None
        else tuple(words.format_figure(shown[name]) for name in ("p10", "p25", "median", "p75", "p90")),
        bins=tuple(_describe_bin(each, words) for each in shown.get("histogram") or ()),
        plot=_build_plot(evidence, shown, words),
    )


def _describe_bin(each: dict[str, Any], words: KindWords) -> tuple[str, str]:
    """Describe a bin of the histogram: its bounds with their unit, and how many devices."""
    low, high = words.format_figure(each["from"]), words.format_figure(each["to"])
    if each["from"] is None:
        bounds = f"below {high}{words.unit}"
    elif each["to"] is None:
        bounds = f"{low}{words.unit} and more"
    else:
        bounds = f"{low} to {high}{words.unit}"
    return bounds, _format_devices(each["devices"])


def describe_steps(kind: str = COMMON_MODE) -> str:
    """Say how finely figures of a kind are shown, and from how many people on."""
    detail, steps = settings.BENCHNIGHT_DETAIL_MIN_CONTRIBUTORS, KIND_WORDS[kind].steps
    return f"Below {detail} people figures are {steps}; from {detail} on there is more to see."


def format_device_counts(evidence: dict[str, Any]) -> str:
    """Say how many devices, and how many of them pass, as far as the reader may know."""
    devices, passing = evidence.get("devices"), evidence.get("passing")
    if devices in (None, 0, "0"):
        return "no devices shown yet" if devices is None else "no devices yet"
    if passing is None or evidence["verdict"] == "not_enough_devices":
        return _format_devices(devices)
    return f"{passing} of {_format_devices(devices)} pass{'es' if devices == 1 else ''}"


def _format_devices(devices: int | str | None) -> str:
    """Format a number of devices, or a range of it, with its noun."""
    if devices is None:
        return figures.NO_VALUE
    return f"{devices} device{'' if devices == 1 else 's'}".replace("-", "–")


def _build_plot(evidence: dict[str, Any], shown: dict[str, Any], words: KindWords) -> Plot | None:
    median = shown.get("median")
    if median is None:
        return None
    limit, p10, p90 = get_limit(evidence), shown.get("p10"), shown.get("p90")
    low = None if p10 is None else scale_to_plot(p10, words)
    name = "benchmark" if words.is_rejection else "limit"
    said = f"median {words.format_figure(median)}{words.unit} against a {name} of {limit:g}{words.unit}"
    if p10 is not None:
        between = f"{words.format_figure(p10)} and {words.format_figure(p90)}{words.unit}"
        said += f", eight in ten devices between {between}"
    return Plot(
        benchmark=scale_to_plot(limit, words),
        median=scale_to_plot(median, words),
        low=low,
        span=None if low is None else max(scale_to_plot(p90, words) - low, 1.0),
        words=said,
    )


def scale_to_plot(value: float, words: KindWords = KIND_WORDS[COMMON_MODE]) -> float:
    """Return a figure in the picture's units; what lies beyond its ends is drawn at the end."""
    place = (value - words.low) / (words.high - words.low)
    return round(min(max(place, 0.0), 1.0) * PLOT_WIDTH, 1)


# Designs as lines of the list: what its columns show and how its heads sort.

COLUMN_TITLES = {"title": "Design", "verdict": "Verdict", "devices": "Devices"}


@dataclass(frozen=True)
class DesignLine:
    """A design. overall: over all bands asked, None where none were: then `met` counts bands.

    devices and median: over the bands asked; without, the most devices and the mean of the medians.
    add_address: the same list with this design gathered; empty where it is or nothing more fits.
    standings: each word of a verdict with its bands, such as "80m, 40m".
    """

    row: DesignRow
    overall: EvidenceSummary | None
    met: str
    devices: str
    median: str
    words: KindWords
    standings: tuple[tuple[Badge, str], ...]
    gathered: bool
    add_address: str


@dataclass(frozen=True)
class ColumnHead:
    """A column that sorts by its link. `first` says which end comes first, `sorted` the same for machines."""

    title: str
    address: str
    chosen: bool
    first: str
    sorted: str


def build_design_lines(
    request: HttpRequest, rows: tuple[DesignRow, ...], tray: Selection
) -> list[DesignLine]:
    """Build the lines of a page of the list."""
    return [_build_design_line(request, row, tray) for row in rows]


def _build_design_line(request: HttpRequest, row: DesignRow, tray: Selection) -> DesignLine:
    asked = row.joint or (row.evidence[0] if len(row.evidence) == 1 else None)
    over = [asked] if asked else [each for each in row.evidence if each["devices"] is not None]
    words = KIND_WORDS[row.kind]
    medians = [each[words.metric]["median"] for each in over]
    known = [median for median in medians if median is not None]
    met = sum(each["verdict"] == "typically_meets" for each in row.evidence)
    judged = sum(each["verdict"] != "not_enough_devices" for each in row.evidence)
    return DesignLine(
        row=row,
        overall=summarise_evidence(asked) if asked else None,
        met=f"meets on {met} of {judged} judged band{'' if judged == 1 else 's'}" if judged else "too few",
        devices=_format_largest_count([each["devices"] for each in over]),
        median=words.format_figure(sum(known) / len(known) if known else None),
        words=words,
        standings=_group_bands(row.evidence),
        gathered=tray.holds(row.key),
        add_address="" if tray.full or tray.holds(row.key) else build_list_url(request, tray.plus(row.key)),
    )


def _group_bands(evidence: Sequence[dict[str, Any]]) -> tuple[tuple[Badge, str], ...]:
    """Group bands by their verdict, in the order of the plan: one mark a word keeps a long list light."""
    grouped: dict[Badge, list[str]] = {}
    for each in evidence:
        grouped.setdefault(get_verdict_badge(each["verdict"]), []).append(each["band"])
    return tuple((said, ", ".join(bands)) for said, bands in grouped.items())


def _format_largest_count(counts: list[int | str | None]) -> str:
    """Format the largest count; ranges such as `5-9` go by their lower end."""
    known = [count for count in counts if count is not None]
    if not known:
        return figures.NO_VALUE
    return str(max(known, key=lambda count: int(str(count).split("-")[0]))).replace("-", "–")


def build_column_heads(request: HttpRequest, order: str, kind: str | None) -> list[ColumnHead]:
    """Build the columns in their order; the place in the list is left behind.

    kind: that the list is about; where it holds several, the last column sorts by rejection alone.
    """
    words = KIND_WORDS[kind or COMMON_MODE]
    titles = COLUMN_TITLES | {words.order: f"Median {words.noun}" if kind else "Median"}
    return [
        ColumnHead(
            title,
            _replace_parameters(request, [("order", name)], without=("order", "page")),
            name == order,
            ORDER_WORDS[name],
            "descending" if name in ("verdict", "devices", "rejection") else "ascending",
        )
        for name, title in titles.items()
    ]


def build_list_url(request: HttpRequest, tray: Selection) -> str:
    """Return address this list with that tray."""
    return _replace_parameters(request, tray.words, without=("design",))


def _replace_parameters(request: HttpRequest, more: QueryParameters, without: tuple[str, ...]) -> str:
    kept = [
        (name, value)
        for name, values in request.GET.lists()
        if name not in without
        for value in values
        if value
    ]
    return query_parameters.build_url("", kept, more) + "#found" if kept or more else "?#found"


# A recipe as sentences, and as the object that `services.designs.designs` takes.


def describe_recipe(recipe: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """Write pairs of heading and sentence: what it is, its cores, its winding."""
    sizes_mm = reference.get_core_sizes_mm()
    winding = recipe["winding"]
    principle = "" if recipe["purpose"] == "choke" else f"{recipe['principle']} "
    style = STYLES.get(winding["style"], winding["style"])
    turns = winding["turns"]
    conductor = "" if winding["conductor"] == "other" else f", {winding['conductor']}"
    split = "wound in two halves across the core" if winding.get("split") else "wound in one go"
    return (
        ("What it is", f"{recipe['ratio']} {principle}{recipe['purpose']}"),
        *((label, text) for label, text in _describe_cores(recipe["cores"], sizes_mm)),
        ("Winding", f"{turns} turn{'' if turns == 1 else 's'} of {style}{conductor}, {split}"),
    )


def _describe_cores(cores: list[Mapping[str, Any]], sizes_mm: Mapping[str, Size]) -> list[tuple[str, str]]:
    counted: dict[str, int] = {}
    for core in cores:
        words = _describe_core(core, sizes_mm)
        counted[words] = counted.get(words, 0) + 1
    label = "Core" if len(cores) == 1 and cores[0].get("stacked", 1) == 1 else "Cores"
    return [(label, f"{count} times: {words}" if count > 1 else words) for words, count in counted.items()]


def _describe_core(core: Mapping[str, Any], sizes_mm: Mapping[str, Size]) -> str:
    words = core_names.describe_core(core_names.look_at_core(core, sizes_mm))
    stacked = core.get("stacked", 1)
    return f"{stacked} stacked, each {words}" if stacked > 1 else words
