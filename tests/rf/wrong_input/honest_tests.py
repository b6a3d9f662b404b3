"""Honest tests of every kind and method on an analyser with errors: what no detector may leave out."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np

from measurements.rf.request import LossCurve, Request
from measurements.rf.sweeps.sweep import Sweep
from tests.rf import transformer_simulation as transformers
from tests.rf.transformer_simulation import BANDS, FREQ_HZ, Design
from tests.rf.wrong_input import bench_models as models
from tests.rf.wrong_input.analyser_model import Calibrated


def build_request(kind: str, method: str | None, ratio: int, **given: Any) -> Request:
    sweeps = {name: value for name, value in given.items() if isinstance(value, Sweep)}
    rest = {name: value for name, value in given.items() if name not in sweeps}
    return Request(kind, method, Fraction(ratio), sweeps, bands=BANDS, calibrated=True, **rest)


def sweep_pair(bench: Calibrated, one: Design, other: Design) -> Sweep:
    return bench.sweep(FREQ_HZ, transformers.pair(one, other).s)


def honest_choke(bench: Calibrated, rng: np.random.Generator, way: str) -> Request:
    """way: plain, jig (with its own through, open and short) or s11 (far side shorted)."""
    choke, jig = models.draw_choke(rng), models.draw_jig(rng)
    y = choke.admittance()
    if way == "s11":
        return build_request(
            "common_mode", None, 1, sweep=bench.sweep(FREQ_HZ, ((1 / y - 50) / (1 / y + 50))[:, None, None])
        )
    sweeps = {"sweep": bench.sweep(FREQ_HZ, models.to_s(jig.around(y)))}
    if way == "jig":
        sweeps["jig_open"] = bench.sweep(FREQ_HZ, models.to_s(jig.around(1e-12)))
        sweeps["jig_short"] = bench.sweep(FREQ_HZ, models.to_s(jig.short()))
        sweeps["jig_through"] = bench.sweep(FREQ_HZ, models.to_s(models.series(0.05 + 0j)))
    return build_request("common_mode", None, 1, **sweeps)


def honest_loss(bench: Calibrated, rng: np.random.Generator, method: str, ratio: int) -> Request:
    """method: one of insertion loss, or `b2b_load` for back_to_back with far_load. Resistors of 1 %."""
    device = models.draw_transformer(rng, ratio)
    far, rs = 50.0 * ratio, 50.0 * (ratio - 1)
    off = 1 + rng.uniform(-0.01, 0.01)
    if method in ("direct", "renormalised"):
        return build_request(
            "insertion_loss", method, ratio, sweep=bench.sweep(FREQ_HZ, transformers.device(device).s)
        )
    if method == "series_resistor":
        swept = bench.sweep(FREQ_HZ, models.with_series_resistor(device, rs * off))
        return build_request("insertion_loss", method, ratio, series_ohm=rs, sweep=swept)
    if method == "one_port":
        ends = {"far_open": "open", "far_short": "short", "far_load": far * off}
        sweeps = {role: bench.sweep(FREQ_HZ, models.ended(device, end)) for role, end in ends.items()}
        return build_request("insertion_loss", method, ratio, load_ohm=far, **sweeps)
    other = models.vary(rng, device)
    pair = sweep_pair(bench, device, other)
    if method == "b2b_load":
        load = bench.sweep(FREQ_HZ, models.ended(device, far * off))
        return build_request("insertion_loss", "back_to_back", ratio, load_ohm=far, sweep=pair, far_load=load)
    if method == "known_partner":
        stored_db = transformers.true_loss_db(other) + rng.uniform(-0.05, 0.05)
        return build_request(
            "insertion_loss", method, ratio, sweep=pair, partner=LossCurve(FREQ_HZ, stored_db, "stored")
        )
    if method == "back_to_back":
        return build_request("insertion_loss", method, ratio, sweep=pair)
    third = models.vary(rng, device, 0.2)
    sweeps = {"pair_ab": pair, "pair_ac": sweep_pair(bench, device, third)}
    return build_request("insertion_loss", "pairs", ratio, **sweeps, pair_bc=sweep_pair(bench, other, third))


def honest_load_match(bench: Calibrated, rng: np.random.Generator, ratio: int) -> Request:
    device = models.draw_transformer(rng, ratio)
    swept = bench.sweep(FREQ_HZ, models.ended(device, 50.0 * ratio))
    return build_request("load_match", None, ratio, load_ohm=50.0 * ratio, sweep=swept)


LOSS_WAYS = (
    *("direct", "renormalised", "series_resistor", "one_port", "back_to_back", "b2b_load", "known_partner"),
    "pairs",
)
CELLS: tuple[tuple[str, str, int], ...] = (
    *(("common_mode", way, 1) for way in ("plain", "jig", "s11")),
    *(("load_match", "", ratio) for ratio in (1, 4, 9, 49)),
    *(("insertion_loss", way, ratio) for way in LOSS_WAYS for ratio in (1, 4, 9, 49)),
)


def draw_honest(cell: tuple[str, str, int], bench: Calibrated, rng: np.random.Generator) -> Request:
    kind, way, ratio = cell
    if kind == "common_mode":
        return honest_choke(bench, rng, way)
    return (
        honest_load_match(bench, rng, ratio) if kind == "load_match" else honest_loss(bench, rng, way, ratio)
    )
