"""What somebody wants to wind, checked and made into what `rf.proposing` takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from measurements.errors import BenchnightError
from measurements.models import Conductor, Core
from measurements.queries import recipe_checks, reference
from measurements.queries.believed import Believed
from measurements.rf.bands import Band
from measurements.rf.proposal import UNKNOWN_WIRE_MM, CoreOnHand, Wish
from measurements.rf.settings import parse_ratio, write_ratio
from measurements.rf.wound import BEADS, STYLES, lines_of
from measurements.verdict import rule

STACKS = (1, 2, 3, 4)
BEADS_TRIED = (5, 10, 15, 20, 30, 40, 50, 60, 80, 100)
MOST_LINES = 4  # a 16:1 current balun; beyond it nobody winds one line on a core each
OTHER = "other"


@dataclass(frozen=True)
class WindingWish:
    """bands: names; all must be met together. mixes, parts: what is in the drawer; empty: the whole
    catalogue.

    stacked: at most so many cores on top of each other. benchmark_db: None for the group's own.
    """

    bands: tuple[str, ...]
    benchmark_db: float | None = None
    ratio: str = "1:1"
    style: str = "coax"
    conductor: str = OTHER
    split: bool = False
    mixes: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    stacked: int = 2


@dataclass(frozen=True)
class Asked:
    """A wish understood. cores: those on hand with a table; passed_over: (mix, why) of the others."""

    wish: Wish
    cores: tuple[CoreOnHand, ...]
    passed_over: tuple[tuple[str, str], ...]
    ratio: str
    conductor: str

    @property
    def wire_assumed(self) -> bool:
        return self.wish.wire_mm is None

    @property
    def wire_mm(self) -> float:
        return UNKNOWN_WIRE_MM if self.wish.wire_mm is None else self.wish.wire_mm


def bands_of(names: tuple[str, ...]) -> tuple[Band, ...]:
    """The bands of these names, lowest first. Raises BenchnightError `band.unknown`."""
    known = {row.band: Band(row.band, row.start_hz, row.stop_hz) for row in reference.bands()}
    for name in names:
        if name not in known:
            raise BenchnightError(
                "band.unknown",
                f"There is no band {name[:12]!r} here; known: {', '.join(known)}.",
                field="band",
            )
    return tuple(band for name, band in known.items() if name in names)


def benchmark_of(given: float | None) -> float:
    """The benchmark asked for, or the group's. Raises BenchnightError naming `benchmark_db`."""
    return rule.check_benchmark(reference.benchmark_db() if given is None else given)


def understood(given: WindingWish, believed: Believed) -> Asked:
    """Raises BenchnightError naming the field at fault."""
    bands = bands_of(given.bands)
    if not bands:
        raise BenchnightError("predict.no_band", "Choose at least one band.", field="band")
    ratio = write_ratio(parse_ratio(given.ratio))
    lines = lines_of(ratio)
    if lines is None or lines > MOST_LINES:
        raise BenchnightError(
            "predict.ratio",
            "Rejection is predicted of current baluns and chokes: 1:1, 4:1, 9:1 or 16:1. Another ratio is "
            "wound as a transformer, whose turns follow from its match, which this does not predict.",
            field="ratio",
        )
    if given.style not in STYLES:
        raise BenchnightError("predict.style", f"Choose one of: {', '.join(STYLES)}.", field="style")
    if given.stacked not in STACKS:
        raise BenchnightError("predict.stacked", "Stack one to four cores.", field="stacked")
    wish = Wish(
        bands=bands,
        benchmark_db=benchmark_of(given.benchmark_db),
        style=given.style,
        wires=recipe_checks.WIRES[given.style],
        wire_mm=_wire_mm(given.conductor),
        split=given.split and given.style != BEADS,
        lines=lines,
        stacks=BEADS_TRIED if given.style == BEADS else STACKS[: given.stacked],
    )
    cores, passed_over = _on_hand(given, believed, wish)
    return Asked(wish, cores, passed_over, ratio, given.conductor)


def _wire_mm(conductor: str) -> float | None:
    row = Conductor.objects.filter(name=conductor).values_list("outer_mm").first()
    if row is None:
        raise BenchnightError(
            "predict.conductor", "Choose a conductor from the list, or 'other'.", field="conductor"
        )
    outer_mm: float | None = row[0]
    return outer_mm


def _on_hand(
    given: WindingWish, believed: Believed, wish: Wish
) -> tuple[tuple[CoreOnHand, ...], tuple[tuple[str, str], ...]]:
    """Listed rings (for beads on coax: beads) of the drawer, and why some mixes are passed over."""
    shapes = ("bead",) if given.style == BEADS else ("toroid",)
    rows = Core.objects.filter(shape__in=shapes).exclude(inner_mm=None).order_by("part")
    _check_known(given)
    if given.parts:
        rows = rows.filter(part__in=given.parts)
    if given.mixes:
        rows = rows.filter(mix__in=given.mixes)
    cores: list[CoreOnHand] = []
    why: dict[str, str] = {}
    for part, mix, *size in rows.values_list("part", "mix", "outer_mm", "inner_mm", "height_mm"):
        reason = _reason(mix, believed, wish)
        if reason:
            why[mix] = reason
        else:
            cores.append(CoreOnHand(part, (size[0], size[1], size[2]), mix))
    return tuple(cores), tuple(sorted(why.items()))


def _reason(mix: str, believed: Believed, wish: Wish) -> str:
    table = believed.tables.get(mix)
    if table is None:
        return "no permeability table of it is at hand, so nothing can be predicted"
    if not table.covers(wish.edges_hz):
        low, high = table.freq_hz[0] / 1e6, table.freq_hz[-1] / 1e6
        return f"its table reaches from {low:.3g} to {high:.3g} MHz only, short of the bands asked for"
    return ""


def _check_known(given: WindingWish) -> None:
    known = set(Core.objects.filter(part__in=given.parts).values_list("part", flat=True))
    for part in given.parts:
        if part not in known:
            raise BenchnightError("predict.core", f"The catalogue has no part {part[:20]!r}.", field="core")
    mixes = {row.name for row in reference.mixes()} if given.mixes else set()
    for mix in given.mixes:
        if mix not in mixes:
            raise BenchnightError("predict.mix", f"There is no mix {mix[:12]!r} here.", field="mix")


def recipe_of(asked: Asked, part: str, stacked: int, turns: int) -> dict[str, Any]:
    """The recipe of a proposal, as `POST designs/` takes it."""
    choke = asked.ratio == "1:1"
    return {
        "purpose": "choke" if choke else "balun",
        "principle": "current",
        "ratio": asked.ratio,
        "cores": [{"part": part, "stacked": stacked} for _ in range(asked.wish.lines)],
        "winding": {
            "turns": turns,
            "style": asked.wish.style,
            "split": asked.wish.split,
            "conductor": asked.conductor,
        },
    }
