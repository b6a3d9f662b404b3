"""A recipe against itself and against its sweep: do the turns fit the bore, is the inductance theirs?

Both checks speak only where every size they need is known; what nobody knows is no fault. They raise
notes, never verdicts: a wrong entry in the recipe is as likely as a wrong winding.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from measurements.rf.ferrites import ferrite_cores
from measurements.rf.ferrites.ferrite_cores import InductanceCheck, Permeability
from measurements.rf.flags import Flag, build_flag, format_megahertz
from measurements.rf.kinds import choke_figures
from measurements.rf.sweeps.sweep import Complexes, Floats

USUAL_TOLERANCE = 0.25  # where the maker states none (common practice, 20 to 25 %)
# Up to this product of mu_i and frequency mu' is within 20 % of mu_i in every published table (mixes 31, 43,
# 61, 73, 77); above it a material has begun to fall, and low inductance is no sign of anything.
FLAT_TO_HZ = 2e9


@dataclass(frozen=True)
class CheckedCore:
    """One kind of core of a recipe; None where no source says.

    bore_mm: the inner diameter, of a binocular core one hole. stacked: how many on top of each other.
    factor_m: Ae/le of a single core. a_l_h: the maker's A_L of a single core, and its tolerance as a share.
    """

    bore_mm: float | None = None
    stacked: int = 1
    factor_m: float | None = None
    a_l_h: float | None = None
    tolerance: float | None = None
    mu_initial: float | None = None
    permeability: Permeability | None = None


@dataclass(frozen=True)
class CheckedWinding:
    """turns: passes through the core. wires: how many round conductors go along in each, at least."""

    turns: int
    wires: int
    wire_mm: float | None = None


@dataclass(frozen=True)
class ExpectedInductance:
    """L per turn squared at the lowest points of a sweep, henry; `basis` says by what it was found.

    basis: `rows` (the maker's permeability at these frequencies), `initial` (mu_i or A_L alone), `at_most`
    (the same, where the material may have fallen already: only more than that says anything).
    """

    per_turn_h: float
    tolerance: float
    basis: Literal["rows", "initial", "at_most"]


def count_wires_in_bore(bore_mm: float, wire_mm: float) -> int:
    """How many round wires the bore takes, laid side by side in rings from its wall inwards.

    The packing is an assumption (common practice, no source): a winding by hand lies like that, and a
    machine's tighter packing is not reached. A ring whose centres lie on the diameter c holds
    floor(pi / asin(d / c)) wires; two wires on a diameter fit while c >= d, one while the bore does.
    """
    count, ring_mm = 0, bore_mm - wire_mm
    while ring_mm >= wire_mm:
        count += math.floor(math.pi / math.asin(min(wire_mm / ring_mm, 1.0)) + 1e-9)
        ring_mm -= 2 * wire_mm
    # what is left in the middle takes one more wire where the rings leave its width free
    return count + 1 if -1e-9 * wire_mm <= ring_mm else count


def flag_bore(cores: tuple[CheckedCore, ...], winding: CheckedWinding) -> tuple[Flag, ...]:
    """A note where the turns cannot lie in the narrowest bore; nothing where a size is unknown."""
    bores_mm = [core.bore_mm for core in cores if core.bore_mm is not None]
    if winding.wire_mm is None or not bores_mm or winding.turns * winding.wires < 1:
        return ()
    room = count_wires_in_bore(min(bores_mm), winding.wire_mm)
    needed = winding.turns * winding.wires
    if needed <= room:
        return ()
    return (
        build_flag(
            "turns_do_not_fit",
            turns=_counted(winding.turns, "turn"),
            passes=_counted(needed, "wire"),
            wire_mm=f"{winding.wire_mm:g}",
            bore_mm=f"{min(bores_mm):g}",
            room=room,
        ),
    )


def flag_inductance(
    core: CheckedCore, turns: int, freq_hz: Floats, z_ohm: Complexes, stray_f: float | None
) -> tuple[Flag, ...]:
    """A note where the measured low-frequency inductance is not that of `turns` on this core.

    freq_hz, z_ohm: (F,) of the sweep, NaN where undefined; stray_f: the fitted stray capacitance, None
    without one. Nothing where neither the sweep has an inductance nor the core a known one.
    """
    stray = np.asarray(np.nan if stray_f is None else stray_f)
    resonance_hz = choke_figures.self_resonance_hz(freq_hz, z_ohm)
    measured = float(choke_figures.inductance_h(freq_hz, z_ohm, resonance_hz, stray))
    if math.isnan(measured):
        return ()
    lowest_hz = freq_hz[choke_figures.find_inductive_points(freq_hz, z_ohm, resonance_hz, stray)]
    expected = find_expected_inductance(core, lowest_hz)
    if expected is None:
        return ()
    check = ferrite_cores.compare_inductance(measured, expected.per_turn_h, turns, expected.tolerance)
    unsure = expected.basis == "at_most" and measured < check.low_h
    return () if check.agrees or unsure else (_off(measured, check, turns, lowest_hz, expected),)


def find_expected_inductance(core: CheckedCore, freq_hz: Floats) -> ExpectedInductance | None:
    """What this core gives per turn squared at `freq_hz`; None where no source says.

    From the maker's A_L, else from mu_i and the core's size; with a published table of the mix in the
    ratio of the median mu' there to mu_i, because a winding's inductance falls with mu'.
    """
    initial = core.a_l_h
    if initial is None and core.mu_initial is not None and core.factor_m is not None:
        initial = ferrite_cores.a_l_h(core.mu_initial, core.factor_m)
    if initial is None:
        return None
    tolerance = USUAL_TOLERANCE if core.tolerance is None else core.tolerance
    table = core.permeability
    if table is None or core.mu_initial is None or not table.covers(freq_hz):
        flat = core.mu_initial is not None and core.mu_initial * float(freq_hz[-1]) <= FLAT_TO_HZ
        return ExpectedInductance(initial * core.stacked, tolerance, "initial" if flat else "at_most")
    share = float(np.median(table.at(freq_hz).real)) / core.mu_initial
    if share <= 0:  # above its resonance a material is no inductor, and no inductance tells the turns
        return None
    return ExpectedInductance(initial * core.stacked * share, tolerance, "rows")


def _off(
    measured_h: float, check: InductanceCheck, turns: int, lowest_hz: Floats, by: ExpectedInductance
) -> Flag:
    tables = "by the maker's permeability at these frequencies"
    initial = "by the initial permeability (no table of this mix reaches here)"
    return build_flag(
        "inductance_off_recipe",
        measured=format_microhenry(measured_h),
        start=format_megahertz(float(lowest_hz[0])),
        stop=format_megahertz(float(lowest_hz[-1])),
        turns=_counted(turns, "turn"),
        low=format_microhenry(check.low_h),
        high=format_microhenry(check.high_h),
        basis=tables if by.basis == "rows" else initial,
        fitting=f"{check.turns_that_fit:.1f}",
    )


def format_microhenry(inductance_h: float) -> str:
    """An inductance for a sentence: 34 uH, 4.1 uH."""
    value = inductance_h * 1e6
    return f"{value:.0f} uH" if value >= 10 else f"{value:.2g} uH"


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"
