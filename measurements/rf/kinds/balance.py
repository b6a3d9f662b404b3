"""Kind `balance`: are the two halves of a balun equal and opposite?

Amplitude imbalance 20 log10 |S21/S31|, phase imbalance arg(S21/S31) - 180 degrees, wrapped, and
CMRR = 20 log10 |Sds/Scs| with Sds = (S21-S31)/sqrt 2, Scs = (S21+S31)/sqrt 2. (Some manuals use CMRR for
Sdd/Scc of two balanced ports: not this.) Source: R&S ZNB user manual 4.3.6.3.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import (
    BandGrid,
    BandView,
    Worst,
    build_band_grid,
    compute_band_metric,
    resample_sweep,
)
from measurements.rf.flags import Flag, build_flag
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.instruments import port_errors, resistors
from measurements.rf.instruments.decision import (
    MEETS,
    Decision,
    build_decision,
    decide,
    get_band_uncertainty,
    join_decisions,
)
from measurements.rf.instruments.error_budget import ErrorTerm, propagate
from measurements.rf.networks import three_port, two_port
from measurements.rf.networks.three_port import ThreePort
from measurements.rf.request import Computed, Request, get_nominal_load_ohm
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

_ROOT_2 = np.sqrt(2.0)


@dataclass(frozen=True)
class BalanceFigures:
    """(G,) each; phase and CMRR are NaN without phase, loss_db is None where it cannot be known."""

    amplitude_db: Floats
    phase_deg: Floats
    cmrr_db: Floats
    loss_db: Floats | None
    spread: BalanceSpread


def compute(request: Request) -> Computed:
    """Return figures of a balance test, under the names of the API.

    Roles: `sweep` (.s3p), or `sweep_12`, `sweep_13` and for the loss `sweep_23`. Raises BenchnightError
    `balance.*`.
    """
    swept = three_port.assemble_three_port(request)
    on = build_band_grid(swept.freq_hz, request.bands)
    roles = three_port.list_three_port_roles(request)
    at_bands = {role: resample_sweep(request.sweep(role), on.freq_hz) for role in roles}
    device = three_port.assemble_three_port(replace(request, sweeps=at_bands))
    loss_db, loss_flags = compute_balun_loss(device, get_nominal_load_ohm(request))
    halves = _column(device, 1), _column(device, 2)
    figures = BalanceFigures(
        amplitude_imbalance_db(*halves),
        phase_imbalance_deg(*halves) if not device.magnitude_only else np.full(on.freq_hz.shape, np.nan),
        cmrr_db(*halves) if not device.magnitude_only else np.full(on.freq_hz.shape, np.nan),
        loss_db,
        propagate_balance(request, device, swept.main),
    )
    return Computed(
        method=swept.method,
        grid=on,
        band_metrics=tuple(_in_band(request, on, view, figures) for view in on.views),
        summary=_summary(request, device, loss_db),
        flags=(*swept.flags, *loss_flags, *_undefined(on, device, figures)),
        traces=_traces(figures),
        main=swept.main,
    )


def amplitude_imbalance_db(s21: Complexes, s31: Complexes) -> Floats:
    """Return 20 log10 |S21/S31|, (F,); NaN where either half is silent."""
    return -two_port.loss_db(two_port.divide_or_nan(s21, s31))


def phase_imbalance_deg(s21: Complexes, s31: Complexes) -> Floats:
    """Return arg(S21/S31) - 180 degrees, wrapped to -180..180, (F,); 0 for equal and opposite halves.

    Taken as the angle of -S21/S31, so that nothing has to be wrapped.
    """
    ratio = -two_port.divide_or_nan(s21, s31)
    angle: Floats = np.where(ratio == 0, np.nan, np.degrees(np.angle(ratio)))
    return angle


def cmrr_db(s21: Complexes, s31: Complexes) -> Floats:
    """Return 20 log10 |Sds/Scs|, (F,); NaN where the halves are exactly equal and opposite, or exactly
    alike.
    """
    return -two_port.loss_db(two_port.divide_or_nan((s21 - s31) / _ROOT_2, (s21 + s31) / _ROOT_2))


def convert_to_differential(s: Complexes) -> Complexes:
    """Return (F, 3, 3) to (F, 2, 2): port 1 and the differential port, references (Z0, 2 Z0).

    The common mode stays ended in Z0/2, as the two terminals were in the sweep.
    Source: R&S ZNB user manual 4.3.6.3.
    """
    sds = (s[:, 1, 0] - s[:, 2, 0]) / _ROOT_2
    ssd = (s[:, 0, 1] - s[:, 0, 2]) / _ROOT_2
    sdd = (s[:, 1, 1] + s[:, 2, 2] - s[:, 1, 2] - s[:, 2, 1]) / 2
    return two_port.stack_two_port(s[:, 0, 0], ssd, sds, sdd)


def compute_balun_loss(device: ThreePort, nominal_ohm: float) -> tuple[Floats | None, tuple[Flag, ...]]:
    """Return (F,) loss between port 1 and `nominal_ohm` across the balanced terminals, and what was assumed.

    None, with a flag that says why, where entries are missing that their reverse cannot replace.
    """
    s, filled, missing = three_port.fill_reciprocal_entries(device)
    if device.magnitude_only:
        missing = ["the phase"]
    if missing:
        return None, (build_flag("balance_no_loss", missing=_listed(missing)),)
    flags = (build_flag("balance_reciprocal", columns=_listed(filled)),) if filled else ()
    z0 = device.z0_ohm
    renormalised = two_port.renormalise_s(convert_to_differential(s), (z0, 2 * z0), (z0, nominal_ohm))
    return two_port.loss_db(renormalised[:, 1, 0]), flags


def _column(device: ThreePort, i: int) -> Complexes:
    """Return S(i+1)1 of the device: refused, with the sweep to blame, where it was not measured."""
    role = "sweep" if device.method == "three_port" else f"sweep_1{i + 1}"
    if not device.measured[i, 0]:
        raise BenchnightError(
            "sweep.not_measured",
            f"{three_port.name_parameter(i, 0)} was not measured in {role}. Drive port 1 and repeat the "
            f"sweep.",
            field=role,
        )
    column: Complexes = device.s[:, i, 0]
    return column


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _in_band(request: Request, on: BandGrid, view: BandView, figures: BalanceFigures) -> dict[str, Any]:
    limits = request.limits
    worst_of: tuple[tuple[str, Floats, Worst], ...] = (
        ("amplitude_imbalance_db", figures.amplitude_db, "largest_magnitude"),
        ("phase_imbalance_deg", figures.phase_deg, "largest_magnitude"),
        ("cmrr_db", figures.cmrr_db, "smallest"),
        ("loss_db", _or_unknown(on, figures.loss_db), "largest"),
    )
    shown = {
        name: compute_band_metric(view, on.freq_hz, values, worst, strict=name == "loss_db")
        for name, values, worst in worst_of
    }
    uncertainty = {
        "amplitude_imbalance_db": get_band_uncertainty(
            view, figures.amplitude_db, figures.spread.amplitude_db, "largest_magnitude"
        ),
        "phase_imbalance_deg": get_band_uncertainty(
            view, figures.phase_deg, figures.spread.phase_deg, "largest_magnitude"
        ),
        "cmrr_db": get_band_uncertainty(view, figures.cmrr_db, figures.spread.cmrr_db, "smallest"),
    }
    covered = join_decisions(
        _decide_half(view, figures.amplitude_db, uncertainty["amplitude_imbalance_db"], limits.amplitude_db),
        _decide_half(view, figures.phase_deg, uncertainty["phase_imbalance_deg"], limits.phase_deg),
    )
    return {
        **build_decision(covered if view.judged else "not_judged"),
        "covered_meets": MEETS[covered],
        "uncertainty": uncertainty,
        **shown,
    }


def _or_unknown(on: BandGrid, values: Floats | None) -> Floats:
    return np.full(on.freq_hz.shape, np.nan) if values is None else values


def _decide_half(view: BandView, values: Floats, uncertainty: float | None, limit: float) -> Decision:
    """Return the decision on one imbalance: not judged where a point of the band has none."""
    size = np.abs(values[view.inside])
    if not size.size or np.isnan(size).any():
        return "not_judged"
    return decide(float(size.max()), uncertainty, limit, high_is_good=False)


@dataclass(frozen=True)
class BalanceSpread:
    """U (95 %) of the imbalances and of the CMRR, (G,) each."""

    amplitude_db: Floats
    phase_deg: Floats
    cmrr_db: Floats


def propagate_balance(request: Request, device: ThreePort, main: Sweep) -> BalanceSpread:
    """Return U (95 %) of the imbalances and of the CMRR.

    An .s3p reads the halves through two ports, whose errors are their own. Two sweeps of one analyser read
    both through the same ports, so that what these do to both halves alike cancels.
    """
    values = {name: _column(device, i) for name, i in _HALVES.items()}
    s11 = np.asarray(device.s[:, 0, 0] if device.measured[0, 0] else np.ones(len(device.s)), complex)
    if device.method == "three_port":
        terms = _list_own_port_terms(request, device, main, s11, values)
    else:
        terms = _list_common_port_terms(request, device, main, s11, values)

    def spread(figure_of: Callable[[Complexes, Complexes], Floats]) -> Floats:
        return propagate(lambda moved: figure_of(moved["s21"], moved["s31"]), values, terms)

    # angles around their own value: a change across 180 degrees is a small one
    turned = np.exp(-1j * np.radians(np.nan_to_num(phase_imbalance_deg(*values.values()))))
    return BalanceSpread(
        spread(amplitude_imbalance_db),
        spread(lambda one, other: phase_imbalance_deg(one * turned, other)),
        spread(cmrr_db),
    )


_HALVES = {"s21": 1, "s31": 2}  # a half's reading -> its port


def _find_far_reflection(device: ThreePort, i: int) -> Complexes:
    """Return S(i+1)(i+1) as measured, or as large as a passive terminal's can be: sqrt(1 - |S|^2)."""
    if device.measured[i, i]:
        return np.asarray(device.s[:, i, i], complex)
    largest: Complexes = np.sqrt(np.maximum(1 - np.abs(device.s[:, i, 0]) ** 2, 0.0)) + 0j
    return largest


def _list_own_port_terms(
    request: Request, device: ThreePort, main: Sweep, s11: Complexes, values: dict[str, Complexes]
) -> list[ErrorTerm]:
    match = request.analyser.get_port2_match(main)
    terms: list[ErrorTerm] = []
    for name, i in _HALVES.items():
        far = _find_far_reflection(device, i)
        ports = port_errors.list_forward_terms(request.analyser, match, s11, values[name], far)
        terms += [
            ErrorTerm(term.source, term.shape, {name: term.moves["s21"]})
            for term in port_errors.keep_readings(ports, ("s21",))
        ]
    return terms


def _list_common_port_terms(
    request: Request, device: ThreePort, main: Sweep, s11: Complexes, values: dict[str, Complexes]
) -> list[ErrorTerm]:
    """Return terms of two sweeps through the same ports, and of the resistor on the terminal that waits.

    Where the far reflections were not measured, the halves are taken to differ in them by no more than
    half of what they do in transmission, and 0.02 (own estimate, counted by simulation).
    """
    analyser = request.analyser
    match, size = analyser.get_port2_match(main), analyser.reflection_residual
    far = {name: _find_far_reflection(device, i) for name, i in _HALVES.items()}
    terms = [
        ErrorTerm("transmission tracking", "disc", {name: size * half for name, half in values.items()}),
        ErrorTerm("source match", "disc", {name: size * s11 * half for name, half in values.items()}),
        ErrorTerm("load match", "disc", {name: match * far[name] * half for name, half in values.items()}),
    ]
    if not (device.measured[1, 1] and device.measured[2, 2]):
        s21, s31 = values["s21"], values["s31"]
        unlike = 0.02 + 0.5 * np.abs(s21 + s31) / np.maximum(np.abs(s21), 1e-15)
        apart = np.minimum(unlike, 2 * np.maximum(np.abs(far["s21"]), np.abs(far["s31"])))
        terms.append(ErrorTerm("load match", "disc", {"s21": match * apart * s21}))
    terms += port_errors.list_repeat_terms(analyser, values)
    return [*terms, *_list_ending_terms(request, device, values)]


def _list_ending_terms(request: Request, device: ThreePort, values: dict[str, Complexes]) -> list[ErrorTerm]:
    """Return terms of the 50 ohm on the terminal that a sweep leaves out: each half moves by S23 G S31.

    A transformer couples its halves in phase or against it; a third as much counts at a right angle.
    """
    tolerance = resistors.get_tolerance(request.analyser, None, NOMINAL_OHM)
    strays = resistors.compute_stray_changes_ohm(device.freq_hz, NOMINAL_OHM)
    terms = []
    for name, other in (("s21", "s31"), ("s31", "s21")):
        across = np.sqrt(np.maximum(1 - np.abs(values[name]) ** 2, 0.0)) * values[other]
        terms.append(ErrorTerm("ending", "interval", {name: tolerance / 2 * across}))
        terms.append(ErrorTerm("ending", "interval", {name: 1j * tolerance / 6 * across}))
        terms += [
            ErrorTerm("stray of the ending", "stray", {name: moved / (2 * NOMINAL_OHM) * across})
            for moved in strays
        ]
    return terms


def _summary(request: Request, device: ThreePort, loss_db: Floats | None) -> dict[str, Any]:
    nominal = get_nominal_load_ohm(request)
    assumption = (
        f"The loss is that between {device.z0_ohm:g} ohm and {nominal:g} ohm across the balanced terminals, "
        f"with the common mode ended in {device.z0_ohm / 2:g} ohm as it was in the sweep."
    )
    return {
        "amplitude_limit_db": request.limits.amplitude_db,
        "phase_limit_deg": request.limits.phase_deg,
        "loss_assumption": None if loss_db is None else assumption,
    }


def _undefined(on: BandGrid, device: ThreePort, figures: BalanceFigures) -> tuple[Flag, ...]:
    reasons = {
        "the imbalance": (figures.amplitude_db, "one half shows no signal there"),
        "the CMRR": (figures.cmrr_db, "the halves are exactly equal there"),
        "the loss": (figures.loss_db, "no power arrives there"),
    }
    if device.magnitude_only:
        del reasons["the CMRR"]
    found = []
    for quantity, (values, reason) in reasons.items():
        count = 0 if values is None else int(np.isnan(values[on.measured]).sum())
        if count:
            found.append(build_flag("undefined_points", count=count, quantity=quantity, reason=reason))
    return tuple(found)


def _traces(figures: BalanceFigures) -> dict[str, Floats]:
    traces = {
        "amplitude_imbalance_db": figures.amplitude_db,
        "phase_imbalance_deg": figures.phase_deg,
        "cmrr_db": figures.cmrr_db,
    }
    if figures.loss_db is not None:
        traces["loss_db"] = figures.loss_db
    return traces
