"""Wrong tests of every kind, each with the flag that must leave it out; benches are simulated."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from measurements.rf.request import LossCurve, Request
from measurements.rf.sweeps.sweep import Sweep
from tests.rf import transformer_simulation as transformers
from tests.rf.transformer_simulation import FREQ_HZ, MEDIUM, Design
from tests.rf.wrong_input import bench_models as models
from tests.rf.wrong_input.analyser_model import Calibrated
from tests.rf.wrong_input.bench_models import Choke, Jig, cable
from tests.rf.wrong_input.honest_tests import build_request, sweep_pair

CHOKE = Choke(40e-6, 6e6, 2e-12)


@dataclass(frozen=True)
class Bench:
    """One calibrated analyser, and what is drawn for one test on it."""

    bench: Calibrated
    rng: np.random.Generator
    jig: Jig
    choke: Choke

    def sweep(self, s: np.ndarray) -> Sweep:
        return self.bench.sweep(FREQ_HZ, s)

    def chain(self, *parts: np.ndarray) -> Sweep:
        whole = parts[0]
        for part in parts[1:]:
            whole = whole @ part
        return self.sweep(models.to_s(whole))

    def device(self) -> np.ndarray:
        return self.jig.around(self.choke.admittance())

    def jig_files(self) -> dict[str, Sweep]:
        return {"jig_open": self.chain(self.jig.around(1e-12)), "jig_short": self.chain(self.jig.short())}

    def transformer(self, ratio: int) -> Design:
        return models.draw_transformer(self.rng, ratio)

    def ended(self, device: Design, end: float | str, *, turn: bool = False) -> Sweep:
        return self.sweep(models.ended(device, end, turn=turn))

    def one_port(self, ratio: int, ends: dict[str, Sweep]) -> Request:
        return build_request("insertion_loss", "one_port", ratio, load_ohm=50.0 * ratio, **ends)

    def far_ends(self, device: Design, *, turn: bool = False) -> dict[str, Sweep]:
        ends = {"far_open": "open", "far_short": "short", "far_load": 50.0 * device.ratio}
        return {role: self.ended(device, end, turn=turn) for role, end in ends.items()}


def draw_bench(analyser, rng: np.random.Generator) -> Bench:
    return Bench(Calibrated(analyser, rng), rng, models.draw_jig(rng), models.draw_choke(rng))


def common_mode(**sweeps: Sweep) -> Request:
    return build_request("common_mode", None, 1, **sweeps)


def scale(sweep: Sweep, factor: float) -> Sweep:
    s = sweep.s.copy()
    s[:, 1, 0] *= factor
    s[:, 0, 1] *= factor
    return replace(sweep, s=s)


OTHER_RATIO = {4: 9, 9: 4, 49: 9}


def make_mixed_ends(b: Bench, ratio: int, foreign: tuple[str, ...]) -> Request:
    """Far sides of which some are of a device of another ratio, in the same load."""
    return mix_ends(b, ratio, foreign)[0]


def mix_ends(b: Bench, ratio: int, foreign: tuple[str, ...]) -> tuple[Request, Design]:
    """The same with the device that was meant."""
    own, other = b.transformer(ratio), b.transformer(OTHER_RATIO[ratio])
    ends = b.far_ends(own)
    odd = {"far_open": "open", "far_short": "short", "far_load": 50.0 * ratio}
    return b.one_port(ratio, ends | {role: b.ended(other, odd[role]) for role in foreign}), own


def make_other_pair(b: Bench, ratio: int, method: str) -> Request:
    """A pair whose second device has another ratio, its own loss stored rightly."""
    other = b.transformer(OTHER_RATIO[ratio])
    given = {} if method == "back_to_back" else {
        "partner": LossCurve(FREQ_HZ, transformers.true_loss_db(other), "stored")
    }  # fmt: skip
    pair = sweep_pair(b.bench, b.transformer(ratio), other)
    return build_request("insertion_loss", method, ratio, sweep=pair, **given)


def make_other_pairs(b: Bench, ratio: int) -> Request:
    one, two, other = b.transformer(ratio), b.transformer(ratio), b.transformer(OTHER_RATIO[ratio])
    made = {"pair_ab": (one, two), "pair_ac": (one, other), "pair_bc": (two, other)}
    return build_request(
        "insertion_loss", "pairs", ratio, **{role: sweep_pair(b.bench, *pair) for role, pair in made.items()}
    )


Make = Callable[[Bench], Request]
CHOKES: dict[str, tuple[str, Make]] = {
    "20 cm of cable": ("cable_left_in", lambda b: common_mode(sweep=b.chain(cable(0.2), b.device()))),
    "30 cm of cable": ("cable_left_in", lambda b: common_mode(sweep=b.chain(cable(0.3), b.device()))),
    "2 m of cable": ("cable_left_in", lambda b: common_mode(sweep=b.chain(cable(2, 0.1), b.device()))),
    "1 m of cable at either end": (
        "cable_left_in",
        lambda b: common_mode(sweep=b.chain(cable(1), b.device(), cable(1))),
    ),
    "10 dB of loss left in": (
        "cable_left_in",
        lambda b: common_mode(sweep=scale(b.chain(b.jig.around(CHOKE.admittance())), 0.316)),
    ),
    "phase reversed": (
        "phase_reversed",
        lambda b: common_mode(sweep=replace(found := b.chain(b.device()), s=found.s.conj())),
    ),
    "jig's open and short exchanged": (
        "jig_short_rejects",
        lambda b: common_mode(
            sweep=b.chain(b.device()),
            jig_open=b.jig_files()["jig_short"],
            jig_short=b.jig_files()["jig_open"],
        ),
    ),
    "a choke as the jig's short": (
        "jig_short_rejects",
        lambda b: common_mode(
            sweep=b.chain(b.device()),
            jig_open=b.jig_files()["jig_open"],
            jig_short=b.chain(b.jig.around(CHOKE.admittance())),
        ),
    ),
    "a choke as the jig's open": (
        "jig_open_passes",
        lambda b: common_mode(
            sweep=b.chain(b.device()),
            jig_short=b.jig_files()["jig_short"],
            jig_open=b.chain(b.jig.around(CHOKE.admittance())),
        ),
    ),
    "a through of 2.5 dB": (
        "jig_through_poor",
        lambda b: common_mode(sweep=b.chain(b.device()), jig_through=b.chain(cable(0.1, 2.5))),
    ),
    "the open of another jig": (
        "jig_foreign",
        lambda b: common_mode(
            **{**b.jig_files(), "sweep": b.chain(b.jig.around(CHOKE.admittance()))}
            | {"jig_open": b.chain(replace(b.jig, clips_f=b.jig.clips_f + 6e-12).around(1e-12))}
        ),
    ),
    "one file as device and short": (
        "same_file_twice",
        lambda b: common_mode(sweep=(found := b.chain(b.device())), jig_short=found),
    ),
    "an antenna": (
        "looks_like_antenna",
        lambda b: common_mode(
            sweep=b.sweep(models.dipole(b.rng.uniform(2, 25), b.rng.uniform(6, 20), b.rng.uniform(25, 120)))
        ),
    ),
    "a load match": (
        "looks_like_antenna",
        lambda b: common_mode(sweep=b.ended(b.transformer(4), 200.0)),
    ),
    "decibels read as real parts": (
        "numbers_beyond_range",
        lambda b: common_mode(
            sweep=replace(
                found := b.chain(b.device()),
                s=20 * np.log10(np.abs(found.s) + 1e-9) + 1j * np.angle(found.s, deg=True),
            )
        ),
    ),
}


def make_turned_series(b: Bench, ratio: int) -> Request:
    rs = 50.0 * (ratio - 1)
    swept = b.sweep((transformers.device(b.transformer(ratio)).flipped() ** MEDIUM.resistor(rs)).s)
    return build_request("insertion_loss", "series_resistor", ratio, series_ohm=rs, sweep=swept)


def make_exchanged(b: Bench, ratio: int, first: str, second: str) -> Request:
    ends = b.far_ends(b.transformer(ratio))
    ends[first], ends[second] = ends[second], ends[first]
    return b.one_port(ratio, ends)


def make_pairs(b: Bench, ratio: int, third: Callable[[Design, Design], Sweep]) -> Request:
    one, two, three = (models.vary(b.rng, transformers.good(ratio)) for _ in range(3))
    pairs = {"pair_ab": sweep_pair(b.bench, one, two), "pair_ac": sweep_pair(b.bench, one, three)}
    return build_request("insertion_loss", "pairs", ratio, **pairs, pair_bc=third(two, three))


def poor_pair(b: Bench, ratio: int) -> Sweep:
    poor = transformers.POOR[ratio]
    worse = replace(poor, magnetising_h=poor.magnetising_h / 3, loss_ohm=poor.loss_ohm / 4)
    return sweep_pair(b.bench, worse, models.vary(b.rng, worse))


def make_partner(b: Bench, ratio: int, off_db: float) -> Request:
    device, partner = b.transformer(ratio), b.transformer(ratio)
    stored_db = transformers.true_loss_db(device) + transformers.true_loss_db(partner) + off_db
    return build_request(
        "insertion_loss", "known_partner", ratio, sweep=sweep_pair(b.bench, device, partner),
        partner=LossCurve(FREQ_HZ, stored_db, "stored"),
    )  # fmt: skip


MakeRatio = Callable[[Bench, int], Request]
TRANSFORMERS: dict[str, tuple[str, MakeRatio]] = {
    "resistor forgotten": (
        "series_resistor_missing",
        lambda b, r: build_request(
            "insertion_loss",
            "series_resistor",
            r,
            series_ohm=50.0 * (r - 1),
            sweep=b.sweep(transformers.device(b.transformer(r)).s),
        ),
    ),
    "series resistor, turned": ("driven_from_far_side", make_turned_series),
    "direct, turned": (
        "driven_from_far_side",
        lambda b, r: build_request(
            "insertion_loss",
            "direct",
            r,
            sweep=b.sweep(models.turned(transformers.device(b.transformer(r)).s)),
        ),
    ),
    "load match, turned": (
        "driven_from_far_side",
        lambda b, r: build_request(
            "load_match", None, r, load_ohm=50.0 * r, sweep=b.ended(b.transformer(r), 50.0 * r, turn=True)
        ),
    ),
    "load match into 50 ohm": (
        "other_load",
        lambda b, r: build_request(
            "load_match", None, r, load_ohm=50.0 * r, sweep=b.ended(b.transformer(r), 50.0)
        ),
    ),
    "far open and load exchanged": (
        "far_sides_mixed",
        lambda b, r: make_exchanged(b, r, "far_open", "far_load"),
    ),
    "far short and load exchanged": (
        "far_sides_mixed",
        lambda b, r: make_exchanged(b, r, "far_short", "far_load"),
    ),
    "far open and short exchanged": (
        "far_sides_mixed",
        lambda b, r: make_exchanged(b, r, "far_open", "far_short"),
    ),
    "one_port, turned": (
        "driven_from_far_side",
        lambda b, r: b.one_port(r, b.far_ends(b.transformer(r), turn=True)),
    ),
    "single device as a pair": (
        "single_device_as_pair",
        lambda b, r: build_request(
            "insertion_loss", "back_to_back", r, sweep=b.sweep(transformers.device(b.transformer(r)).s)
        ),
    ),
    "single device as one of the pairs": (
        "single_device_as_pair",
        lambda b, r: make_pairs(b, r, lambda two, _: b.sweep(transformers.device(two).s)),
    ),
    "a pair of poor devices": ("pairs_contradict", lambda b, r: make_pairs(b, r, lambda *_: poor_pair(b, r))),
    "a partner stored with too much loss": ("impossible_gain", lambda b, r: make_partner(b, r, 1.5)),
    "far_load of the open": (
        "far_load_foreign",
        lambda b, r: build_request(
            "insertion_loss",
            "back_to_back",
            r,
            load_ohm=50.0 * r,
            sweep=sweep_pair(b.bench, one := b.transformer(r), models.vary(b.rng, one)),
            far_load=b.ended(one, "open"),
        ),
    ),
}

# wrong inputs that no sweep shows every time: the least share that must be found, over ratios and analysers
CABLE_BEHIND: dict[str, tuple[float, Make]] = {
    "2 m behind port 2": (0.95, lambda b: common_mode(sweep=b.chain(b.device(), cable(2, 0.1)))),
    "3 m behind port 2": (0.95, lambda b: common_mode(sweep=b.chain(b.device(), cable(3, 0.15)))),
}
OTHERS: dict[str, tuple[float, MakeRatio]] = {
    "far sides of another ratio, all three": (
        0.98,
        lambda b, r: make_mixed_ends(b, r, ("far_open", "far_short", "far_load")),
    ),
    "far_load of another ratio": (0.95, lambda b, r: make_mixed_ends(b, r, ("far_load",))),
    "known partner of another ratio": (0.9, lambda b, r: make_other_pair(b, r, "known_partner")),
    "a pair of two ratios": (0.9, lambda b, r: make_other_pair(b, r, "back_to_back")),
    "three pairs with another ratio": (0.95, make_other_pairs),
}
