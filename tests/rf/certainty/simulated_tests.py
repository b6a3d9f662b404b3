"""One simulated test by each method: a drawn device swept at a drawn bench, as a request, with the truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from measurements.rf.analyser import UNDESCRIBED, Analyser
from measurements.rf.analysis import analyse
from measurements.rf.bands import Band
from measurements.rf.request import LossCurve, Request
from tests.rf.certainty import simulated_devices as devices
from tests.rf.certainty.simulated_analysers import CLASSES
from tests.rf.certainty.simulated_analysers import Analyser as Bench
from tests.rf.certainty.simulated_baluns import draw_balun_s, end_port

BANDS = tuple(Band(name, *edges) for name, edges in devices.BAND_EDGES_HZ.items())
NOISE = 0.001
Truth = dict[str, float]  # band -> figure


@dataclass(frozen=True)
class Cell:
    """One combination of the factors. drift_db: 0 to 0.1. described: the analyser was described as it is."""

    method: str
    ratio: int
    analyser: str
    percent: float
    drift_db: float
    described: bool


@dataclass(frozen=True)
class Figures:
    """By band: the figure, its U, and the truth."""

    found: dict[str, float | None]
    uncertainty: dict[str, float | None]
    truth: Truth
    decisions: list[str]
    codes: list[str]


def run_test(rng: np.random.Generator, cell: Cell) -> Figures:
    """Draw a device and a bench, sweep, compute."""
    bench = Bench(rng, CLASSES[cell.analyser], cell.drift_db, NOISE)
    request, truth = METHODS[cell.method](rng, bench, cell)
    metric = METRICS.get(cell.method.removesuffix(" with the through"), "loss_db")
    request = replace(request, analyser=describe(cell), bands=BANDS, calibrated=True)
    result = analyse(request).result
    return Figures(
        {band["band"]: band[metric]["worst"] for band in result["bands"]},
        {band["band"]: band["uncertainty"][metric] for band in result["bands"]},
        truth,
        [band["decision"] for band in result["bands"]],
        [flag["code"] for flag in result["flags"]],
    )


def describe(cell: Cell) -> Analyser:
    """What its owner says of the analyser: all of it, or nothing but the resistors' tolerance."""
    if not cell.described:
        return replace(UNDESCRIBED, resistor_percent=cell.percent)
    kind = CLASSES[cell.analyser]
    return Analyser(
        paths=1 if kind.paths == 1 else 2,
        reflection_residual=kind.residual,
        port2_match_db=kind.port2_match_db,
        drift_db=cell.drift_db,
        noise=NOISE,
        resistor_percent=cell.percent,
    )


def _loss_request(method: str, cell: Cell, **sweeps) -> Request:
    return Request("insertion_loss", method, Fraction(cell.ratio), sweeps)


def _truth(*made: devices.Transformer) -> Truth:
    """The worst loss by band; of several devices their mean."""
    worst = [devices.worst_by_band(devices.true_loss_db(device)) for device in made]
    return {band: float(np.mean([one[band] for one in worst])) for band in worst[0]}


def _direct(rng, bench, cell, *, through: bool):
    device = devices.draw_transformer(rng, 1)
    sweeps = {"sweep": bench.transmit(devices.to_s(device.abcd()))} | _through(bench, through)
    return _loss_request("direct", cell, **sweeps), _truth(device)


def _through(bench, wanted: bool) -> dict:
    return {"jig_through": bench.transmit(devices.to_s(devices.series(0)))} if wanted else {}


def _renormalised(rng, bench, cell):
    device = devices.draw_transformer(rng, cell.ratio)
    s = devices.to_s(device.abcd())
    sweeps = {"sweep": bench.transmit(s)}
    if bench.kind.paths == 1:
        sweeps["sweep_reversed"] = bench.transmit(s[:, ::-1, ::-1])
    return _loss_request("renormalised", cell, **sweeps), _truth(device)


def _series(rng, bench, cell, *, through: bool):
    device = devices.draw_transformer(rng, cell.ratio)
    nominal = 50.0 * (cell.ratio - 1)
    _, ohm = devices.draw_resistor_ohm(rng, nominal, cell.percent)
    sweeps = {"sweep": bench.transmit(devices.to_s(device.abcd() @ devices.series(ohm)))}
    if through:
        sweeps["jig_through"] = bench.transmit(devices.to_s(devices.series(0)))
    return replace(_loss_request("series_resistor", cell, **sweeps), series_ohm=nominal), _truth(device)


def _one_port(rng, bench, cell):
    device = devices.draw_transformer(rng, cell.ratio)
    nominal = 50.0 * cell.ratio
    _, ohm = devices.draw_resistor_ohm(rng, nominal, cell.percent)
    ends = {"far_open": "open", "far_short": "short", "far_load": ohm}
    sweeps = {role: bench.reflect(devices.input_reflection(device.abcd(), end)) for role, end in ends.items()}
    return replace(_loss_request("one_port", cell, **sweeps), load_ohm=nominal), _truth(device)


def _back_to_back(rng, bench, cell, *, far_load: bool):
    one = devices.draw_transformer(rng, cell.ratio)
    other = one.like(rng, 0.05)
    pair = one.abcd() @ devices.reverse(other.abcd())
    request = _loss_request("back_to_back", cell, sweep=bench.transmit(devices.to_s(pair)))
    if far_load:
        nominal = 50.0 * cell.ratio
        _, ohm = devices.draw_resistor_ohm(rng, nominal, cell.percent)
        loaded = bench.reflect(devices.input_reflection(one.abcd(), ohm))
        request = replace(request, sweeps={**request.sweeps, "far_load": loaded}, load_ohm=nominal)
    return request, _truth(one, other)


def _known_partner(rng, bench, cell, *, through: bool):
    """The partner was measured by one_port on an analyser of the same class, another day."""
    earlier = Bench(rng, bench.kind, bench.drift_db, bench.noise)
    partner = devices.draw_transformer(rng, cell.ratio)
    nominal = 50.0 * cell.ratio
    _, ohm = devices.draw_resistor_ohm(rng, nominal, cell.percent)
    ends = {"far_open": "open", "far_short": "short", "far_load": ohm}
    sweeps = {
        role: earlier.reflect(devices.input_reflection(partner.abcd(), end)) for role, end in ends.items()
    }
    stored = replace(
        _loss_request("one_port", cell, **sweeps), load_ohm=nominal, bands=BANDS, analyser=describe(cell)
    )
    traces = analyse(stored).traces
    curve = LossCurve(
        traces["freq_hz"],
        traces["loss_db"],
        "",
        mismatch_db=traces["mismatch_db"],
        uncertainty_db=traces["uncertainty_db"],
    )
    device = devices.draw_transformer(rng, cell.ratio)
    pair = device.abcd() @ devices.reverse(partner.abcd())
    sweeps = {"sweep": bench.transmit(devices.to_s(pair))} | _through(bench, through)
    return replace(_loss_request("known_partner", cell, **sweeps), partner=curve), _truth(device)


def _pairs(rng, bench, cell):
    """Three of one make; the first one's figure."""
    made = [devices.draw_transformer(rng, cell.ratio)]
    made += [made[0].like(rng, 0.1) for _ in range(2)]
    sweeps = {
        f"pair_{'abc'[i]}{'abc'[j]}": bench.transmit(
            devices.to_s(made[i].abcd() @ devices.reverse(made[j].abcd()))
        )
        for i, j in ((0, 1), (0, 2), (1, 2))
    }
    return _loss_request("pairs", cell, **sweeps), _truth(made[0])


def _choke(rng, bench, cell, *, through: bool, impedance: bool):
    z = devices.draw_choke_ohm(rng, 17.0, 23.0)
    sweeps = {"sweep": bench.transmit(devices.to_s(devices.series(z)))}
    if through:
        sweeps["jig_through"] = bench.transmit(devices.to_s(devices.series(0)))
    figures = np.abs(z) if impedance else devices.rejection_db(z)
    return Request("common_mode", None, Fraction(1), sweeps), devices.worst_by_band(figures, np.min)


def _load_match(rng, bench, cell):
    """The truth is the SWR in the nominal load; the load swept is the drawn one."""
    device = devices.draw_transformer(rng, cell.ratio)
    nominal = 50.0 * cell.ratio
    _, ohm = devices.draw_resistor_ohm(rng, nominal, cell.percent)
    sweep = bench.reflect(devices.input_reflection(device.abcd(), ohm))
    size = np.abs(devices.input_reflection(device.abcd(), np.full(devices.FREQ_HZ.shape, nominal)))
    request = Request("load_match", None, Fraction(cell.ratio), {"sweep": sweep}, load_ohm=nominal)
    return request, devices.worst_by_band((1 + size) / (1 - size))


def _balance(rng, bench, cell, *, phase: bool):
    """Two sweeps, each with the other terminal in a drawn 50 ohm."""
    bench.drifts_in_phase = phase
    s = draw_balun_s(rng)
    sweeps = {}
    for far, other in ((1, 2), (2, 1)):
        _, ohm = devices.draw_resistor_ohm(rng, 50.0, cell.percent)
        ended = end_port(s, other, (ohm - 50) / (ohm + 50))
        ends = np.ix_(range(len(s)), (0, far), (0, far))
        sweeps[f"sweep_1{far + 1}"] = bench.transmit(ended[ends])
    halves = s[:, 1, 0] / s[:, 2, 0]
    figure = np.degrees(np.angle(-halves)) if phase else 20 * np.log10(np.abs(halves))
    worst = {
        name: float(figure[inside][np.argmax(np.abs(figure[inside]))])
        for name, inside in devices.list_points_by_band().items()
    }
    return Request("balance", None, Fraction(1), sweeps), worst


METRICS = {
    "rejection": "rejection_db",
    "zcm": "impedance_ohm",
    "load_match": "swr",
    "balance, amplitude": "amplitude_imbalance_db",
    "balance, phase": "phase_imbalance_deg",
}
MATCH_METHODS: dict[str, Callable] = {
    "load_match": _load_match,
    "balance, amplitude": lambda *given: _balance(*given, phase=False),
    "balance, phase": lambda *given: _balance(*given, phase=True),
}
LOSS_METHODS: dict[str, Callable] = {
    "direct": lambda *given: _direct(*given, through=False),
    "renormalised": _renormalised,
    "series_resistor": lambda *given: _series(*given, through=False),
    "series_resistor with the through": lambda *given: _series(*given, through=True),
    "one_port": _one_port,
    "back_to_back": lambda *given: _back_to_back(*given, far_load=False),
    "back_to_back with far_load": lambda *given: _back_to_back(*given, far_load=True),
    "known_partner": lambda *given: _known_partner(*given, through=False),
    "pairs": _pairs,
    "rejection": lambda *given: _choke(*given, through=False, impedance=False),
    "rejection with the through": lambda *given: _choke(*given, through=True, impedance=False),
    "zcm": lambda *given: _choke(*given, through=False, impedance=True),
    "zcm with the through": lambda *given: _choke(*given, through=True, impedance=True),
}
THROUGH_METHODS: dict[str, Callable] = {
    "direct with the through": lambda *given: _direct(*given, through=True),
    "known_partner with the through": lambda *given: _known_partner(*given, through=True),
}
METHODS: dict[str, Callable] = {**LOSS_METHODS, **THROUGH_METHODS, **MATCH_METHODS}
