"""Which core is this? Compares a measured winding with every mix that has a table. Stores nothing."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

import numpy as np

from measurements.errors import BenchnightError
from measurements.models import Mix
from measurements.rf.diagnosis import core_identification
from measurements.rf.diagnosis.core_identification import DECIDING_DISTANCE, CoreIdentification, MixCandidate
from measurements.rf.ferrites import ferrite_cores
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.sweeps.sweep import Complexes, Floats
from measurements.selectors.designs.recipe_checks import build_permeability
from measurements.selectors.predictions.rows import DecidingSweepRow, IdentificationRow, MixFitRow

MOST_TURNS = 200
CoreSize = tuple[float | None, float | None, float | None]


def identify_mix(
    freq_hz: Sequence[float | None],
    z_ohm: Complexes,
    *,
    turns: int,
    size_mm: CoreSize = (None, None, None),
    stacked: int = 1,
) -> IdentificationRow:
    """Rank the mixes for `turns` on an unmarked core or stack, from its common-mode curve (F,).

    size_mm: outer and inner diameter and height, all three or none. Raises BenchnightError naming the
    field at fault, `identify.range` where the sweep and the tables share too little.
    """
    if not 1 <= turns <= MOST_TURNS:
        raise BenchnightError("identify.turns", f"Give 1 to {MOST_TURNS} turns.", field="turns")
    factor_m = _factor_m(size_mm, stacked)
    rows = {name: (mu_i, points) for name, mu_i, points in Mix.objects.values_list(*_MIX_COLUMNS)}
    found = {name: build_permeability(points) for name, (_, points) in rows.items()}
    tables = {name: table for name, table in found.items() if table is not None}
    told = core_identification.identify_mix(
        tables, turns, np.array(freq_hz, dtype=np.float64), z_ohm, factor_m
    )
    untabled = tuple(sorted(set(rows) - set(tables)))
    initial = {name: mu_i for name, (mu_i, _) in rows.items()}
    return _identification_row(told, turns, initial, untabled, tables)


_MIX_COLUMNS = ("name", "initial_permeability", "rows")


def _factor_m(size_mm: CoreSize, stacked: int) -> float | None:
    outer, inner, height = size_mm
    if outer is None and inner is None and height is None:
        return None
    if outer is None or inner is None or height is None:
        raise BenchnightError(
            "identify.size",
            "Give the outer and inner diameter and the height, or none of them.",
            field="outer_mm",
        )
    if not 1 <= stacked <= MOST_TURNS:
        raise BenchnightError("identify.stacked", "Give how many cores are stacked.", field="stacked")
    try:
        return stacked * ferrite_cores.toroid_factor_m(outer, inner, height)
    except BenchnightError as error:
        raise BenchnightError(error.code, error.detail, field="outer_mm") from error


def _identification_row(
    told: CoreIdentification,
    turns: int,
    initial: dict[str, float | None],
    untabled: tuple[str, ...],
    tables: dict[str, Permeability],
) -> IdentificationRow:
    return IdentificationRow(
        answer=told.answer,
        other_share=round(told.other_share, 3),
        sentence=_sentence(told, untabled),
        mixes=tuple(_mix_row(each, initial[each.fit.mix]) for each in told.candidates),
        untabled=untabled,
        deciders=tuple(
            DecidingSweepRow(each.turns, each.from_hz, each.to_hz, each.apart >= DECIDING_DISTANCE)
            for each in told.deciders
        ),
        turns=turns,
        freq_hz=_round_values(told.freq_hz),
        impedance_ohm=_round_values(np.abs(told.z_ohm)),
        covered_from_hz=told.covered_from_hz,
        covered_to_hz=told.covered_to_hz,
        note=_note(told, tables),
    )


def _mix_row(each: MixCandidate, mu_initial: float | None) -> MixFitRow:
    fit = each.fit
    a_l = None if mu_initial is None else float(f"{ferrite_cores.a_l_h(mu_initial, fit.factor_m):.3g}")
    return MixFitRow(
        mix=fit.mix,
        share=round(each.share, 3),
        left_over=round(fit.left_over, 3),
        ruled_out=each.ruled_out,
        factor_m=float(f"{fit.factor_m:.3g}"),
        a_l_h=a_l,
        stray_capacitance_f=float(f"{fit.stray_f:.3g}"),
        impedance_ohm=_round_values(np.abs(fit.z_ohm)),
    )


def _sentence(told: CoreIdentification, untabled: tuple[str, ...]) -> str:
    """Return the answer in words, with what it does not say."""
    best = told.candidates[0].fit
    others = f"Mixes {', '.join(untabled)} have no table here and cannot be ruled out." if untabled else ""
    if told.misdescribed is not None and told.size_off is not None:
        said = (
            f"No mix does this with these turns on a core of this size. Mix {told.misdescribed} would, with "
            f"{told.size_off:.2f} times the inductance: measure the core again and count the turns."
        )
    elif told.answer == "none_fits":
        said = (
            f"None of these mixes does this: the nearest, mix {best.mix}, is {100 * best.left_over:.0f} % "
            "off. Check the turns and the sweep; else it is a material without a table here."
        )
    elif told.answer == "cannot_tell":
        near = [each.fit.mix for each in told.candidates if not each.ruled_out]
        said = f"Cannot tell mix {' from mix '.join(near)} by this sweep: both do it nearly alike."
        said = said.replace("both", "all" if len(near) > 2 else "both")
    else:
        said = f"Mix {best.mix}, of those with a table: it fits within {ceil(100 * best.left_over)} %."
    return f"{said} {others}".strip()


def _note(told: CoreIdentification, tables: dict[str, Permeability]) -> str:
    """Return the part of the sweep that was compared."""
    low, high = told.covered_from_hz / 1e6, told.covered_to_hz / 1e6
    said = f"Compared from {low:.3g} to {high:.3g} MHz"
    whole = told.swept_from_hz > 0.97 * told.covered_from_hz and told.swept_to_hz < 1.03 * told.covered_to_hz
    if whole:
        return said + ", the whole sweep."
    lowest = max(tables, key=lambda mix: tables[mix].freq_hz[0])
    begins = tables[lowest].freq_hz[0] / 1e6
    return (
        f"{said}: outside, a table ends (that of mix {lowest} begins at {begins:.3g} MHz) or the sweep is "
        "not defined, and nothing is extrapolated."
    )


def _round_values(values: Floats) -> tuple[float, ...]:
    return tuple(float(f"{value:.6g}") for value in values)
