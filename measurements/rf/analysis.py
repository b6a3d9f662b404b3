"""The one entry point: a request in, the result that the API gives out.

A kind is a module with `compute(request: Request) -> Computed` (see `request.py`) and a row of `KINDS`
below. `request.sweeps` reach it merged (sweep_reversed) and converted to 50 ohm where that is exact, each
on its own frequencies; `bands.band_grid(sweep.freq_hz, request.bands)` and `bands.sweep_at(sweep,
grid.freq_hz)` put them on one list. General flags (not passive, unmeasured columns, uncalibrated,
coverage of bands) are raised here, not by the kinds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.errors import BenchnightError
from measurements.rf.bands import BandGrid, BandView
from measurements.rf.evidence_grid import FIGURE_CURVES, FigureCurves
from measurements.rf.flags import Flag, build_flag, format_megahertz
from measurements.rf.impedance_ratio import NOMINAL_OHM, format_ratio
from measurements.rf.instruments import sweep_checks
from measurements.rf.instruments.withheld_verdicts import withhold_span, withhold_verdicts
from measurements.rf.kinds import balance, common_mode, dc, in_situ, load_match, reading_figures
from measurements.rf.loss import insertion_loss
from measurements.rf.preparation import prepare_request
from measurements.rf.request import Analysis, Computed, Readings, Request
from measurements.rf.sweeps.result_values import to_json_number
from measurements.rf.sweeps.sweep import Floats, Sweep
from measurements.rf.wrong_input import detectors

# The version of the arithmetic: a stored result names the engine that computed it.
#
# Raise it whenever a figure of an unchanged sweep could change; `recompute` then adds new rows.

ENGINE_VERSION = "1.3.0"

__all__ = ["KINDS", "Analysis", "Computed", "Readings", "Request", "analyse"]

KINDS: dict[str, Callable[[Request], Computed]] = {
    "common_mode": common_mode.compute,
    "load_match": load_match.compute,
    "insertion_loss": insertion_loss.compute,
    "balance": balance.compute,
    "in_situ": in_situ.compute,
    "dc": dc.compute,
}

TRACE_POINTS = 801

_OCTAVE = 2.0

SPARSE = 0.1  # of the centre frequency: a step beyond it leaves a band in doubt

USUAL_HZ = (1e6, 30e6)  # common practice: nobody is surprised that a sweep does not reach beyond


def analyse(request: Request) -> Analysis:
    """Compute one test.

    Raises BenchnightError for what cannot be computed (`kind.unknown`, `sweep.missing`, and the codes of
    the kinds); everything doubtful comes back as a flag.
    """
    if request.kind not in KINDS:
        raise BenchnightError(
            "kind.unknown",
            f"There is no kind of test '{request.kind[:20]}'. Choose one of {', '.join(KINDS)}.",
            field="kind",
        )
    ready, flags = prepare_request(request)
    if request.readings is not None:
        computed = reading_figures.compute(ready, _get_lone_readings(request))
    else:
        computed = KINDS[request.kind](ready)
    flags = (
        *flags,
        *_flag_sweeps(ready),
        *flag_declarations(request),
        *(flag_coverage(request.kind, computed.grid, computed.band_metrics) if computed.main else ()),
        *computed.flags,
        *detectors.flag_wrong_input(ready, computed),
    )
    result = _build_result(request, computed, flags)
    return Analysis(
        result, _thin_traces(computed), computed.evidence, _build_figure_curves(request.kind, computed)
    )


def _build_figure_curves(kind: str, computed: Computed) -> FigureCurves | None:
    """Build the curves on the grid of evidence from the whole sweep, not from its thinned traces."""
    if kind not in FIGURE_CURVES or not computed.traces:
        return None
    return FigureCurves.of(kind, computed.grid.freq_hz, computed.traces)


def _get_lone_readings(request: Request) -> Readings:
    if request.sweeps or request.readings is None:
        raise BenchnightError(
            "readings.beside_sweep",
            "A test is either a sweep or readings, not both. Send the sweep alone; it says more.",
            field="readings",
        )
    return request.readings


def _withhold_summary(summary: Mapping[str, Any], flags: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return the summary, with what it says of limits as far as the flags leave it."""
    summary = withhold_span(summary, flags)
    if "devices" not in summary:
        return summary
    devices = [{**one, "bands": withhold_verdicts(one["bands"], flags)} for one in summary["devices"]]
    return {**summary, "devices": devices}


def _build_result(request: Request, computed: Computed, flags: Sequence[Flag]) -> dict[str, Any]:
    bands = []
    for view, metrics in zip(computed.grid.views, computed.band_metrics, strict=True):
        shown = {name: value for name, value in metrics.items() if name != "covered_meets"}
        bands.append({**view.header(), **shown})
    said = [one.as_dict() for one in dict.fromkeys(flags)]
    return {
        **build_result_head(request, computed),
        "bands": withhold_verdicts(bands, said),
        "summary": _withhold_summary(computed.summary, said),
        "flags": said,
        "inputs": [describe_input(role, sweep) for role, sweep in request.sweeps.items()],
    }


def build_result_head(request: Request, computed: Computed) -> dict[str, Any]:
    """Return the part of a result that says what was computed from what."""
    main = computed.main
    return {
        "kind": request.kind,
        "method": computed.method,
        "ratio": format_ratio(request.ratio),
        "reference_ohm": to_json_number(NOMINAL_OHM if main is None else main.z0_ohm[0]),
        "engine_version": ENGINE_VERSION,
        "span": _span(computed),
        "measured": _list_measured_parameters(main),
    }


def _span(computed: Computed) -> dict[str, Any]:
    freq_hz = computed.grid.freq_hz if computed.main is None else computed.main.freq_hz
    if not freq_hz.size:
        return {"start_hz": None, "stop_hz": None, "points": 0}
    return {
        "start_hz": to_json_number(freq_hz[0]),
        "stop_hz": to_json_number(freq_hz[-1]),
        "points": int(freq_hz.size),
    }


def _list_measured_parameters(main: Sweep | None) -> dict[str, bool]:
    """Return which of the four S-parameters of a two-port stand behind the figures."""
    columns = {"s11": (0, 0), "s21": (1, 0), "s12": (0, 1), "s22": (1, 1)}
    ports = 0 if main is None else main.ports
    return {
        name: main is not None and max(i, j) < ports and bool(main.measured[i, j])
        for name, (i, j) in columns.items()
    }


def describe_input(role: str, sweep: Sweep) -> dict[str, Any]:
    """Build the part of a result that describes one of its sweeps."""
    return {
        "role": role,
        "source": sweep.source,
        "points": sweep.points,
        "start_hz": to_json_number(sweep.freq_hz[0]),
        "stop_hz": to_json_number(sweep.freq_hz[-1]),
        "notes": list(sweep.notes),
    }


def _flag_sweeps(request: Request) -> list[Flag]:
    return [
        found
        for role, sweep in request.sweeps.items()
        for found in sweep_checks.flag_sweep_faults(sweep, role, request.analyser)
    ]


def flag_declarations(request: Request) -> list[Flag]:
    """Return flags on the settings of a test, not on its figures."""
    if request.kind == "dc":  # an ohmmeter needs no calibration at the jig, and no file is sent
        return []
    flags = []
    if request.calibrated is not True:
        flags.append(build_flag("calibration_unknown" if request.calibrated is None else "uncalibrated"))
    if request.same_bytes:
        flags.append(build_flag("same_sweep"))
    return flags


def flag_coverage(kind: str, grid: BandGrid, band_metrics: Sequence[Mapping[str, Any]]) -> list[Flag]:
    """Return flags on bands that a sweep does not cover, or hardly. band_metrics: one per view of the
    grid.
    """
    missed = [
        view.band.name
        for view in grid.views
        if view.coverage == "none" and view.band.start_hz >= USUAL_HZ[0] and view.band.stop_hz <= USUAL_HZ[1]
    ]
    # a feed point is swept around its own band: nothing else was meant to be covered
    narrow = kind == "in_situ" or not missed
    flags = [] if narrow else [build_flag("bands_not_covered", bands=", ".join(missed))]
    for view, metrics in zip(grid.views, band_metrics, strict=True):
        flags += _flag_view(view, metrics.get("covered_meets"))
    return flags


def _flag_view(view: BandView, covered_meets: bool | None) -> list[Flag]:
    name = view.band.name
    if view.coverage == "partial" and view.covered_start_hz is not None and view.covered_stop_hz is not None:
        outcome = {True: "What it covers keeps to the limit.", False: "What it covers already fails."}
        return [
            build_flag(
                "partial_band",
                band=name,
                covered_start=format_megahertz(view.covered_start_hz),
                covered_stop=format_megahertz(view.covered_stop_hz),
                outcome=outcome.get(covered_meets, "") if covered_meets is not None else "",
            )
        ]
    below, above = view.below_hz, view.above_hz
    if view.coverage != "interpolated" or below is None or above is None:
        return []
    flags = []
    # A band narrower than the step of a fine sweep is no reason to doubt: neighbours that near are alike.
    if above - below > SPARSE * view.band.centre_hz * (view.points_in_band + 1):
        flags.append(build_flag("sparse_in_band", band=name, points=view.points_in_band))
    if view.points_in_band == 0 and above > _OCTAVE * below:
        flags.append(
            build_flag(
                "gap_over_band", band=name, below=format_megahertz(below), above=format_megahertz(above)
            )
        )
    return flags


def _thin_traces(computed: Computed) -> dict[str, Floats]:
    """Return the traces at measured points, at most `TRACE_POINTS` of them, both ends kept."""
    if not computed.traces:
        return {}
    at = select_trace_points(computed.grid)
    return {
        name: values[at] for name, values in {"freq_hz": computed.grid.freq_hz, **computed.traces}.items()
    }


def select_trace_points(grid: BandGrid) -> NDArray[np.intp]:
    """Return which points of a grid a trace shows: measured ones, at most `TRACE_POINTS`, both ends kept."""
    at = np.flatnonzero(grid.measured)
    if at.size > TRACE_POINTS:
        at = at[np.round(np.linspace(0, at.size - 1, TRACE_POINTS)).astype(np.intp)]
    return at
