"""The terms that an analyser's ports bring into the budget of a figure.

First order in the residuals (EURAMET cg-12, section 7; Rytting's error terms, from memory): directivity d,
reflection tracking t and source match m make dS11 = d + t S11 + m S11^2; the match g of the far port makes
dS11 = g S12 S21 and dS21 = g S22 S21; the source match makes dS21 = m S11 S21. Sizes in `analyser.py`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from measurements.rf.analyser import CONNECTION, Analyser
from measurements.rf.instruments.error_budget import Array, ErrorTerm, Values


def list_reflection_terms(analyser: Analyser, gammas: Values) -> list[ErrorTerm]:
    """Return terms of reflections at port 1 that one calibration serves; each sweep drifts for itself.

    gammas: name of a reading -> (F,).
    """
    size = analyser.reflection_residual
    terms = [
        ErrorTerm("directivity", "disc", {name: np.full(g.shape, size + 0j) for name, g in gammas.items()}),
        ErrorTerm("reflection tracking", "disc", {name: size * g for name, g in gammas.items()}),
        ErrorTerm("source match", "disc", {name: size * g**2 for name, g in gammas.items()}),
    ]
    for name, g in gammas.items():
        terms += list_repeat_terms(analyser, {name: g})
    return terms


def list_repeat_terms(analyser: Analyser, readings: Values) -> list[ErrorTerm]:
    """Return the errors of each single reading of a sweep: drift since the calibration, connection, noise.

    Drift lies anywhere within its size in both components, a connection in a disc, noise is an rms.
    """
    relative = analyser.drift**2 / 3.0 + (CONNECTION / 2.0) ** 2
    return [
        ErrorTerm(
            "repeat", "repeat", {name: np.sqrt(relative * np.abs(value) ** 2 + analyser.noise**2 / 2.0)}
        )
        for name, value in readings.items()
    ]


def list_forward_terms(
    analyser: Analyser,
    port2_match: float,
    s11: Array,
    s21: Array,
    s22: Array,
    *,
    is_normalised: bool = False,
) -> list[ErrorTerm]:
    """Return terms of S11 (reading "s11") and S21 ("s21") with port 1 driven, (F,) each.

    s22: as measured, or as large as it may be. is_normalised: S21 was divided by a through's, which takes
    out the transmission tracking and brings in the drift and noise of one more sweep.
    """
    size = analyser.reflection_residual
    tracking = (
        list_repeat_terms(analyser, {"s21": s21})
        if is_normalised
        else [ErrorTerm("transmission tracking", "disc", {"s21": size * s21})]
    )
    return [
        ErrorTerm("directivity", "disc", {"s11": np.full(s11.shape, size + 0j)}),
        ErrorTerm("reflection tracking", "disc", {"s11": size * s11}),
        ErrorTerm("source match", "disc", {"s11": size * s11**2, "s21": size * s11 * s21}),
        ErrorTerm("load match", "disc", {"s11": port2_match * s21**2, "s21": port2_match * s22 * s21}),
        *tracking,
        *list_repeat_terms(analyser, {"s11": s11, "s21": s21}),
    ]


def list_two_port_terms(
    analyser: Analyser, port2_match: float, s: Values, *, is_turned: bool = False
) -> list[ErrorTerm]:
    """Return terms of all four S-parameters, readings "s11", "s12", "s21", "s22", (F,) each.

    With two paths port 1 is the far port of the reverse sweep, and each direction has residuals of its own.
    is_turned: one port drove both sweeps, so one set of residuals moves both together.
    """
    forward = list_forward_terms(analyser, port2_match, s["s11"], s["s21"], s["s22"])
    turned = {"s11": "s22", "s21": "s12"}
    backward = [
        ErrorTerm(term.source, term.shape, {turned[name]: move for name, move in term.moves.items()})
        for term in list_forward_terms(analyser, port2_match, s["s22"], s["s12"], s["s11"])
    ]
    if not is_turned:
        return [*forward, *backward]
    common = [
        ErrorTerm(one.source, one.shape, {**one.moves, **other.moves})
        for one, other in zip(forward, backward, strict=True)
        if not one.is_repeated
    ]
    return [*common, *(term for term in [*forward, *backward] if term.is_repeated)]


def keep_readings(terms: Sequence[ErrorTerm], names: Collection[str]) -> list[ErrorTerm]:
    """Return the terms as far as they move these readings; those that move none of them are left out."""
    kept = []
    for term in terms:
        moves = {name: move for name, move in term.moves.items() if name in names}
        if moves:
            kept.append(ErrorTerm(term.source, term.shape, moves))
    return kept


def share_port1_terms(
    analyser: Analyser, terms: Sequence[ErrorTerm], name: str, gamma: Array
) -> list[ErrorTerm]:
    """Return the terms of a two-port sweep with one more reflection (F,) under the same calibration of port
    1.
    """
    size = analyser.reflection_residual
    shared = {
        "directivity": np.full(gamma.shape, size + 0j),
        "reflection tracking": size * gamma,
        "source match": size * gamma**2,
    }
    joined = [
        ErrorTerm(term.source, term.shape, {**term.moves, name: shared[term.source]})
        if term.source in shared
        else term
        for term in terms
    ]
    return [*joined, *list_repeat_terms(analyser, {name: gamma})]


def average_both_ways(terms: Sequence[ErrorTerm]) -> list[ErrorTerm]:
    """Return terms of the mean of what was read from either end: two sets of half the size, independent."""
    halves = [
        ErrorTerm(term.source, term.shape, {name: move / 2 for name, move in term.moves.items()})
        for term in terms
    ]
    return halves + halves
