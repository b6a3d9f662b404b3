"""Insertion loss: chooses the method from the files, runs it, and turns its curve into figures.

How to write a method module (`direct.py` is the shortest example):

    def curve(request: Request) -> LossCurve: ...

- `request.sweeps` are already merged (sweep_reversed) and converted to 50 ohm where that is exact,
  and all stand on one frequency list that includes the edges and centres of the bands. So compute
  point by point on `request.sweep("sweep").freq_hz`; nothing is to be aligned or interpolated.
- Take S-parameters with `request.sweep(role).column(i, j, field=role)`: it refuses unmeasured ones.
- Missing roles, resistors or ratios: raise BenchnightError `insertion_loss.<what>` with the field.
- Undefined points are NaN, without numpy warnings. Flags go into `LossCurve.flags`, made with
  `flags.flag(code, ...)`; a new code is an entry of `flag_catalogue._METHODS`.
- The module is then a row of `loss_methods.METHODS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import (
    BandGrid,
    BandView,
    build_band_grid,
    compute_band_metric,
    cut_sweep,
    resample_sweep,
)
from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments import jig, sweep_checks
from measurements.rf.instruments.decision import (
    MEETS,
    Decision,
    build_decision,
    decide,
    get_band_uncertainty,
)
from measurements.rf.loss import (
    back_to_back,
    device_pairs,
    direct,
    known_partner,
    one_port,
    renormalised,
    series_resistor,
)
from measurements.rf.loss.believable_methods import flag_impossible_loss, flag_large_uncertainty
from measurements.rf.loss.method_ranking import list_believable_methods
from measurements.rf.request import Computed, LossCurve, Request
from measurements.rf.sweeps.result_values import to_json_number
from measurements.rf.sweeps.sweep import Floats, Sweep

# The methods of insertion loss: which there are, what sweeps each takes, and which one files speak for.

LOSS_METHODS: dict[str, Callable[[Request], LossCurve]] = {
    "direct": direct.compute_loss,
    "renormalised": renormalised.compute_loss,
    "series_resistor": series_resistor.compute_loss,
    "one_port": one_port.compute_loss,
    "back_to_back": back_to_back.compute_loss,
    "known_partner": known_partner.compute_loss,
    "pairs": device_pairs.compute_loss,
}


def choose_loss_method(request: Request) -> tuple[str, Request]:
    """Return the method asked for, or the one the files speak for; and the request as that method takes it.

    The one pair of back_to_back or known_partner may come as `sweep` or as `pair_ab`.
    Raises BenchnightError `insertion_loss.method` for a method that does not exist.
    """
    method = request.method or _choose_default_method(request)
    if method not in LOSS_METHODS:
        raise BenchnightError(
            "insertion_loss.method",
            f"There is no method '{method[:20]}'. Choose one of {', '.join(LOSS_METHODS)}, or leave it "
            f"empty.",
            field="method",
        )
    named = _list_pair_roles(request)
    if method in ("back_to_back", "known_partner") and "sweep" not in request.sweeps and len(named) == 1:
        request = replace(request, sweeps={**request.sweeps, "sweep": request.sweep(named[0])})
    return method, request


def _choose_default_method(request: Request) -> str:
    """Return the most exact method that what was sent allows."""
    sweeps, named = request.sweeps, _list_pair_roles(request)
    sweep = sweeps.get("sweep")
    if len(named) > 1:
        return "pairs"
    if set(one_port.FAR_SIDE_ROLES) <= set(sweeps):
        return "one_port"
    if request.partner is not None:
        return "known_partner"
    if request.series_ohm is not None:
        return "series_resistor"
    if (sweep is None and named) or "far_load" in sweeps:
        return "back_to_back"
    complete = sweep is not None and bool(sweep.measured.all()) and not sweep.magnitude_only
    return "renormalised" if complete and request.ratio != 1 else "direct"


def _list_pair_roles(request: Request) -> list[str]:
    return sorted(role for role in request.sweeps if role.startswith("pair_"))


def list_method_roles(method: str, request: Request) -> tuple[str, ...]:
    """Return the roles a method takes from this request; the first gives the frequencies."""
    if method == "pairs":
        return tuple(_list_pair_roles(request)) or ("pair_ab",)
    if method == "one_port":
        return one_port.FAR_SIDE_ROLES
    if method == "back_to_back" and "far_load" in request.sweeps:
        return ("sweep", "far_load")
    return ("sweep",)


def compute(request: Request) -> Computed:
    """Return loss of a device by the chosen method, per band and in the summary.

    Raises BenchnightError `insertion_loss.*`, `sweep.*`, `pairs.*`, `jig.*`.
    """
    method, request = choose_loss_method(request)
    on, main, aligned, flags = _aligned(request, list_method_roles(method, request))
    _require_transmission(method, aligned)
    curve = LOSS_METHODS[method](replace(request, sweeps=aligned))
    transmitted = main if "sweep" in aligned else None
    checks = sweep_checks.flag_insertion_loss_wiring(
        curve.loss_db[on.measured], curve.floor_db or 0.0, transmitted
    )
    return Computed(
        method=method,
        grid=on,
        band_metrics=tuple(_in_band(request, view, curve) for view in on.views),
        summary=_summary(request, on, curve, normalised="jig_through" in request.sweeps and not flags),
        flags=(
            *flags,
            *curve.flags,
            *checks,
            *flag_impossible_loss(method, on, curve),
            *flag_large_uncertainty(request, method, on, curve),
            *_absent(on, curve, method, aligned),
        ),
        traces=_traces(curve),
        main=main,
    )


def _require_transmission(method: str, sweeps: Mapping[str, Sweep]) -> None:
    """Refuse sweeps without S21 before a method looks at their second port.

    Raises BenchnightError `sweep.not_measured`. `renormalised` names all four S-parameters by itself, and
    reflections of the far side have no second port.
    """
    if method == "renormalised":
        return
    for role, sweep in sweeps.items():
        if not role.startswith("far_"):
            sweep.column(1, 0, field=role)


def _aligned(
    request: Request, roles: tuple[str, ...]
) -> tuple[BandGrid, Sweep, dict[str, Sweep], tuple[Flag, ...]]:
    """Return all sweeps of a method on one frequency list, divided by the jig's through where there is
    one.
    """
    sweeps = {role: request.sweep(role) for role in roles}
    start = max(float(sweep.freq_hz[0]) for sweep in sweeps.values())
    stop = min(float(sweep.freq_hz[-1]) for sweep in sweeps.values())
    if start > stop or (start == stop and len(roles) > 1):
        raise BenchnightError(
            "sweep.no_common_span",
            f"The sweeps {', '.join(roles)} have no frequencies in common. Sweep all of them over one range.",
            field=roles[-1],
        )
    main = cut_sweep(sweeps[roles[0]], start, stop)
    closed = {role: sweep for role, sweep in request.sweeps.items() if role == "jig_through"}
    gear = jig.select_jig_sweeps(closed, main, request.bands)
    main = cut_sweep(main, gear.start_hz, gear.stop_hz)
    on = build_band_grid(main.freq_hz, request.bands)
    aligned = {role: resample_sweep(sweep, on.freq_hz) for role, sweep in sweeps.items()}
    flags = gear.flags
    for role, through in gear.on(on.freq_hz).items():
        for name in [name for name in aligned if not name.startswith("far_")]:
            aligned[name], poor = jig.normalise_by_through(aligned[name], through, field=role)
            flags = (*flags, *poor)
        aligned[role] = through  # its S11 is the match of port 2
    return on, main, aligned, flags


def _in_band(request: Request, view: BandView, curve: LossCurve) -> dict[str, Any]:
    uncertainty = {
        "loss_db": _get_uncertainty(view, curve.loss_db, curve.uncertainty_db),
        "dissipative_db": _get_uncertainty(view, curve.dissipative_db, curve.dissipative_uncertainty_db),
    }
    loss = _worst_of(view, curve, curve.loss_db)
    covered = _decide(curve, loss["worst"], uncertainty["loss_db"], request.limits.loss_db)
    metrics: dict[str, Any] = {
        **build_decision(covered if view.judged else "not_judged"),
        "covered_meets": MEETS[covered],
        "uncertainty": uncertainty,
        "loss_db": loss,
        "dissipative_db": _worst_of(view, curve, curve.dissipative_db),
        "mismatch_db": _worst_of(view, curve, curve.mismatch_db),
    }
    if curve.halved_db is not None:
        metrics["halved_db"] = _worst_of(view, curve, curve.halved_db)
    heat_w = None if curve.dissipative_db is None else heat_w_per_100_w(curve.dissipative_db)
    metrics["heat_w_per_100_w"] = _only_worst(view, curve, heat_w)
    metrics["uncertainty_db"] = {"worst": uncertainty["loss_db"], "worst_hz": loss["worst_hz"]}
    return metrics


def _decide(curve: LossCurve, worst: float | None, uncertainty: float | None, limit_db: float) -> Decision:
    return decide(worst, uncertainty, limit_db, high_is_good=False) if curve.judged else "not_judged"


def _get_uncertainty(view: BandView, values: Floats | None, uncertainty: Floats | None) -> float | None:
    if values is None or uncertainty is None:
        return None
    return get_band_uncertainty(view, values, uncertainty, "largest")


def heat_w_per_100_w(dissipative_db: Floats) -> Floats:
    """Return watts that stay in the device of every 100 W that enter it, 100 (1 - 10^(-dissipative/10)).

    At milliwatt linearity: it says nothing about what the device can stand.
    """
    return 100.0 * (1.0 - 10.0 ** (-dissipative_db / 10.0))


def _worst_of(view: BandView, curve: LossCurve, values: Floats | None) -> dict[str, float | None]:
    known = np.full(curve.freq_hz.size, np.nan) if values is None else values
    return compute_band_metric(view, curve.freq_hz, known, "largest", strict=True)


def _only_worst(view: BandView, curve: LossCurve, values: Floats | None) -> dict[str, float | None]:
    whole = _worst_of(view, curve, values)
    return {"worst": whole["worst"], "worst_hz": whole["worst_hz"]}


def _summary(request: Request, on: BandGrid, curve: LossCurve, *, normalised: bool) -> dict[str, Any]:
    summary: dict[str, Any] = {
        "loss_limit_db": request.limits.loss_db,
        "ratio_floor_db": to_json_number(curve.floor_db),
        "assumption": curve.assumption,
        "jig_normalised": normalised,
        "believable_methods": [each.as_dict() for each in list_believable_methods(request)],
    }
    if curve.devices:
        summary["devices"] = [
            {"label": label, "bands": _device_bands(request, on, device)}
            for label, device in curve.devices.items()
        ]
        summary["residual_db"] = to_json_number(curve.residual_db)
    return summary


def _device_bands(request: Request, on: BandGrid, curve: LossCurve) -> list[dict[str, Any]]:
    bands = []
    for view in on.views:
        metrics = _in_band(request, view, curve)
        del metrics["covered_meets"]
        bands.append({**view.header(), **metrics})
    return bands


def _say_why_no_split(method: str, sweeps: Mapping[str, Sweep]) -> str:
    """Explain the missing split; never ask for an S11 that the files hold."""
    held = all(sweep.measured[0, 0] for sweep in sweeps.values())
    if held and method in ("known_partner", "pairs"):
        return "S11 of a pair is that of both devices together. Sweep one device alone (one_port) for it."
    return back_to_back.say_why_no_reflection(next(iter(sweeps.values())))


def _absent(on: BandGrid, curve: LossCurve, method: str, sweeps: Mapping[str, Sweep]) -> tuple[Flag, ...]:
    flags = []
    if curve.dissipative_db is None:
        flags.append(build_flag("no_split", reason=_say_why_no_split(method, sweeps)))
    undefined = int(np.isnan(curve.loss_db[on.measured]).sum())
    if undefined:
        reason = "nothing gets through, or the equations have no answer"
        flags.append(build_flag("undefined_points", count=undefined, quantity="the loss", reason=reason))
    return tuple(flags)


def _traces(curve: LossCurve) -> dict[str, Floats]:
    named = {
        "loss_db": curve.loss_db,
        "dissipative_db": curve.dissipative_db,
        "mismatch_db": curve.mismatch_db,
        "halved_db": curve.halved_db,
        "uncertainty_db": curve.uncertainty_db,
    }
    traces = {name: values for name, values in named.items() if values is not None}
    return traces | {f"loss_{label}_db": device.loss_db for label, device in curve.devices.items()}
