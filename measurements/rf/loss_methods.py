"""The methods of insertion loss: which there are, what sweeps each takes, and which one files speak for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from measurements.errors import BenchnightError

from . import back_to_back, direct, known_partner, one_port, pairs, renormalised, series_resistor
from .loss_curve import LossCurve
from .request import Request

METHODS: dict[str, Callable[[Request], LossCurve]] = {
    "direct": direct.curve,
    "renormalised": renormalised.curve,
    "series_resistor": series_resistor.curve,
    "one_port": one_port.curve,
    "back_to_back": back_to_back.curve,
    "known_partner": known_partner.curve,
    "pairs": pairs.curve,
}


def chosen(request: Request) -> tuple[str, Request]:
    """The method asked for, or the one the files speak for; and the request as that method takes it.

    The one pair of back_to_back or known_partner may come as `sweep` or as `pair_ab`.
    Raises BenchnightError `insertion_loss.method` for a method that does not exist.
    """
    method = request.method or _default(request)
    if method not in METHODS:
        raise BenchnightError(
            "insertion_loss.method",
            f"There is no method '{method[:20]}'. Choose one of {', '.join(METHODS)}, or leave it empty.",
            field="method",
        )
    named = _pairs(request)
    if method in ("back_to_back", "known_partner") and "sweep" not in request.sweeps and len(named) == 1:
        request = replace(request, sweeps={**request.sweeps, "sweep": request.sweep(named[0])})
    return method, request


def _default(request: Request) -> str:
    """The most exact method that what was sent allows."""
    sweeps, named = request.sweeps, _pairs(request)
    sweep = sweeps.get("sweep")
    if len(named) > 1:
        return "pairs"
    if set(one_port.ROLES) <= set(sweeps):
        return "one_port"
    if request.partner is not None:
        return "known_partner"
    if request.series_ohm is not None:
        return "series_resistor"
    if (sweep is None and named) or "far_load" in sweeps:
        return "back_to_back"
    complete = sweep is not None and bool(sweep.measured.all()) and not sweep.magnitude_only
    return "renormalised" if complete and request.ratio != 1 else "direct"


def _pairs(request: Request) -> list[str]:
    return sorted(role for role in request.sweeps if role.startswith("pair_"))


def roles_of(method: str, request: Request) -> tuple[str, ...]:
    """The roles a method takes from this request; the first gives the frequencies."""
    if method == "pairs":
        return tuple(_pairs(request)) or ("pair_ab",)
    if method == "one_port":
        return one_port.ROLES
    if method == "back_to_back" and "far_load" in request.sweeps:
        return ("sweep", "far_load")
    return ("sweep",)
