"""What goes into a computation, what a kind hands back, and what comes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import isfinite
from typing import Any, Protocol

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.analyser import UNDESCRIBED, Analyser
from measurements.rf.bands import Band, BandGrid
from measurements.rf.evidence_grid import EvidenceCurve, FigureCurves
from measurements.rf.flags import Flag, build_flag
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

# What every insertion-loss method hands back: one device's loss over frequency.
#
# All arrays have shape (F,) on `freq_hz` and are positive decibels; None means that the method
# cannot know the quantity, NaN that one point of it is undefined.


@dataclass(frozen=True)
class LossCurve:
    """Loss of one device between Z0 and ratio x Z0.

    freq_hz: (F,) rising.
    loss_db: (F,) the figure that is judged.
    assumption: a sentence naming what the method takes for granted.
    judged: False where the figure must not be held against a limit (says why in `assumption`).
    mismatch_db, dissipative_db: (F,) the split of the loss, where S11 was measured.
    uncertainty_db: (F,) U (95 %) of loss_db, see error_budget.py; NaN where it cannot be stated.
    dissipative_uncertainty_db: (F,) U (95 %) of dissipative_db.
    halved_db: (F,) half of a pair's loss (back_to_back only).
    floor_db: what an ideal device would read by this method (direct, ratio not 1).
    flags: anything the method has to say.
    devices: label -> that device's own curve (pairs only; the outer curve is the first device's).
    residual_db: rms misfit of an over-determined set (pairs only).
    """

    freq_hz: Floats
    loss_db: Floats
    assumption: str
    judged: bool = True
    mismatch_db: Floats | None = None
    dissipative_db: Floats | None = None
    uncertainty_db: Floats | None = None
    dissipative_uncertainty_db: Floats | None = None
    halved_db: Floats | None = None
    floor_db: float | None = None
    flags: tuple[Flag, ...] = ()
    devices: Mapping[str, LossCurve] = field(default_factory=dict)
    residual_db: float | None = None


@dataclass(frozen=True)
class Limits:
    """Limits of the five kinds.

    benchmark_db: least rejection at the worst point of a band; swr: largest; loss_db: largest;
    amplitude_db, phase_deg: largest imbalance of a balun's halves.
    """

    benchmark_db: float = 20.0
    swr: float = 1.5
    loss_db: float = 0.5
    amplitude_db: float = 1.0
    phase_deg: float = 10.0


class Readings(Protocol):
    """Values read off a screen: two arrays of the same length."""

    @property
    def freq_hz(self) -> Floats:
        """Return (R,) rising."""
        ...

    @property
    def value(self) -> Floats:
        """Return (R,) rejection dB, SWR or loss dB, by kind."""
        ...


class DcGiven(Protocol):
    """Readings of an ohmmeter with the type of the device, see `kinds.dc.DcReadings`."""

    @property
    def readings(self) -> Sequence[Any]: ...
    @property
    def dc_type(self) -> Any: ...
    @property
    def options(self) -> Sequence[str]: ...
    @property
    def insulation_mohm(self) -> float | None: ...
    @property
    def insulation_wet_mohm(self) -> float | None: ...


@dataclass(frozen=True)
class Request:
    """One test to compute.

    kind: common_mode, load_match, insertion_loss, balance, in_situ, dc.
    method: None lets the files decide.
    sweeps: role -> sweep; a role is the multipart name (`sweep`, `jig_open`, `far_load`, ...).
    readings: typed-in values in place of a sweep.
    load_ohm, series_ohm: resistors as measured.
    calibrated: True, False, or None where nobody said.
    analyser: the instrument, as described or with its cautious defaults.
    partner: the stored loss of the trusted device (known_partner).
    same_bytes: the same bytes are stored as another test already.
    antenna_bands: names of the bands that an antenna is for (in_situ); empty where nobody said.
    dc: readings of an ohmmeter (dc).
    """

    kind: str
    method: str | None = None
    ratio: Fraction = Fraction(1)
    sweeps: Mapping[str, Sweep] = field(default_factory=dict)
    readings: Readings | None = None
    load_ohm: float | None = None
    series_ohm: float | None = None
    calibrated: bool | None = None
    limits: Limits = field(default_factory=Limits)
    bands: tuple[Band, ...] = ()
    analyser: Analyser = UNDESCRIBED
    partner: LossCurve | None = None
    same_bytes: bool = False
    antenna_bands: tuple[str, ...] = ()
    dc: DcGiven | None = None

    def sweep(self, role: str = "sweep") -> Sweep:
        """Return the sweep of a role; BenchnightError `sweep.missing` where it was not sent."""
        found = self.sweeps.get(role)
        if found is None:
            named = "" if role == "sweep" else f" {role}"
            raise BenchnightError(
                "sweep.missing", f"The sweep{named} is missing. Add it and send again.", field=role
            )
        return found


@dataclass(frozen=True)
class Computed:
    """What the module of a kind hands back.

    grid: the frequencies all figures stand on; its views say how each band is covered.
    main: the sweep that "span", "measured" and "reference_ohm" describe; None for readings.
    band_metrics: one per view: "meets" and the metrics of the kind.
    traces: (G,) arrays on `grid.freq_hz`, by name with unit; empty for readings.
    """

    method: str
    grid: BandGrid
    band_metrics: tuple[dict[str, Any], ...]
    summary: dict[str, Any]
    flags: tuple[Flag, ...]
    traces: dict[str, Floats]
    main: Sweep | None
    evidence: EvidenceCurve | None = None


@dataclass(frozen=True)
class Analysis:
    """result: what the API gives out, JSON-safe. traces: at most 801 points, with "freq_hz".

    evidence: the impedance of a common-mode test on the grid of evidence; figure_curves: loss or SWR on it.
    """

    result: dict[str, Any]
    traces: dict[str, Floats]
    evidence: EvidenceCurve | None
    figure_curves: FigureCurves | None = None


# What a method may ask of the sweeps and resistors it works with: one grid, one reference, phase, ohms.
#
# Each question either gives the value or says which input is at fault and what to do.

SAME_FREQUENCY = 1e-6  # relative; files print six digits or more


def get_matching_sweeps(request: Request, roles: Sequence[str]) -> list[Sweep]:
    """Return the sweeps of `roles`, which must share frequencies and references.

    Raises BenchnightError `sweep.missing`, `sweep.grid_differs` or `sweep.reference_differs`, naming the
    role.
    """
    first = request.sweep(roles[0])
    found = [request.sweep(role) for role in roles]
    for role, sweep in zip(roles[1:], found[1:], strict=True):
        if sweep.points != first.points or not np.allclose(
            sweep.freq_hz, first.freq_hz, rtol=SAME_FREQUENCY, atol=0
        ):
            raise BenchnightError(
                "sweep.grid_differs",
                f"{role} was not swept at the same frequencies as {roles[0]}. These sweeps are computed "
                f"with each other point by point: repeat them with one start, stop and number of points.",
                field=role,
            )
        if not np.allclose(sweep.z0_ohm, first.z0_ohm[0]) or not np.allclose(first.z0_ohm, first.z0_ohm[0]):
            raise BenchnightError(
                "sweep.reference_differs",
                f"{role} and {roles[0]} do not all refer to one impedance. Export all of them with the same "
                "reference at every port, 50 ohm.",
                field=role,
            )
    return found


def get_complex_column(sweep: Sweep, i: int, j: int, role: str) -> Complexes:
    """Return S(i+1)(j+1) of a sweep whose phase is known; BenchnightError `sweep.phase_needed` otherwise."""
    if sweep.magnitude_only:
        raise BenchnightError(
            "sweep.phase_needed",
            f"{role} holds magnitudes without phase, and this method cannot do without. Save the sweep as "
            "Touchstone, or as CSV with real and imaginary part.",
            field=role,
        )
    return sweep.column(i, j, field=role)


def get_reciprocal_column(sweep: Sweep, role: str) -> Complexes:
    """Return S21 of a two-port with known phase, averaged with S12 where that was measured too."""
    forward = get_complex_column(sweep, 1, 0, role)
    return 0.5 * (forward + sweep.s[:, 0, 1]) if sweep.measured[0, 1] else forward


def get_nominal_load_ohm(request: Request) -> float:
    """Return ratio x 50 ohm."""
    return float(request.ratio) * NOMINAL_OHM


def get_load_ohm(request: Request) -> tuple[float, tuple[Flag, ...]]:
    """Return the load as measured; the nominal one with a flag where nobody measured it."""
    if request.load_ohm is None:
        nominal = get_nominal_load_ohm(request)
        return nominal, (build_flag("load_assumed", nominal_ohm=f"{nominal:g}"),)
    return _positive(request.load_ohm, "load_ohm"), ()


def get_series_ohm(request: Request) -> tuple[float, tuple[Flag, ...]]:
    """Return the series resistor as measured; (ratio-1) x 50 ohm with a flag where nobody measured it.

    Raises BenchnightError `insertion_loss.series_ratio` for a ratio below 1, where there is none.
    """
    nominal = get_nominal_load_ohm(request) - NOMINAL_OHM
    if nominal < 0:
        raise BenchnightError(
            "insertion_loss.series_ratio",
            "A series resistor can only add to 50 ohm, and this device steps down. Connect it the other way "
            "round and give the ratio as above 1:1, or choose another method.",
            field="ratio",
        )
    if request.series_ohm is None:
        assumed = (build_flag("series_assumed", nominal_ohm=f"{nominal:g}"),) if nominal > 0 else ()
        return nominal, assumed
    return _positive(request.series_ohm, "series_ohm", allow_zero=True), ()


def _positive(value: float, name: str, *, allow_zero: bool = False) -> float:
    if not isfinite(value) or value < 0 or (value == 0 and not allow_zero):
        raise BenchnightError(
            f"insertion_loss.{name}",
            f"{name} is {value:g}; a resistor's value as measured, in ohm, belongs here.",
            field=name,
        )
    return value
