"""What goes into a computation, what a kind hands back, and what comes out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Protocol

from measurements.errors import BenchnightError

from .bands import Band, BandGrid
from .flags import Flag
from .grid import EvidenceCurve
from .loss_curve import LossCurve
from .settings import Limits
from .sweep import Floats, Sweep


class Readings(Protocol):
    """Values read off a screen: two arrays of the same length."""

    @property
    def freq_hz(self) -> Floats:
        """(R,) rising."""
        ...

    @property
    def value(self) -> Floats:
        """(R,) rejection dB, SWR or loss dB, by kind."""
        ...


@dataclass(frozen=True)
class Request:
    """One test to compute.

    kind: common_mode, load_match, insertion_loss, balance, in_situ.
    method: None lets the files decide.
    sweeps: role -> sweep; a role is the multipart name (`sweep`, `jig_open`, `far_load`, ...).
    readings: typed-in values in place of a sweep.
    load_ohm, series_ohm: resistors as measured.
    calibrated: True, False, or None where nobody said.
    reflection_error: residual error of a reflection, linear (0.01 is 40 dB directivity).
    partner: the stored loss of the trusted device (known_partner).
    same_bytes: the same bytes are stored as another test already.
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
    reflection_error: float = 0.01
    partner: LossCurve | None = None
    same_bytes: bool = False

    def sweep(self, role: str = "sweep") -> Sweep:
        """The sweep of a role; BenchnightError `sweep.missing` where it was not sent."""
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
    """result: what the API gives out, JSON-safe. traces: at most 801 points, with "freq_hz"."""

    result: dict[str, Any]
    traces: dict[str, Floats]
    evidence: EvidenceCurve | None
