"""Numbers under the wrong option line: every pair of formats, for every kind of sweep, as text of a file.

Nothing is judged from such a file: it is refused, or left out with a reason. Benches are simulated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.analysis import analyse
from measurements.rf.request import Request
from measurements.rf.sweeps import reading
from measurements.rf.sweeps.sweep import Sweep
from tests.rf import transformer_simulation as transformers
from tests.rf.wrong_input import bench_models as models
from tests.rf.wrong_input.analyser_model import ANALYSERS
from tests.rf.wrong_input.honest_tests import build_request, sweep_pair
from tests.rf.wrong_input.wrong_tests import Bench, common_mode, draw_bench

FORMATS: dict[str, Callable[[complex], tuple[float, float]]] = {  # Touchstone 1.1, option line
    "RI": lambda z: (z.real, z.imag),
    "MA": lambda z: (abs(z), float(np.degrees(np.angle(z)))),
    "DB": lambda z: (20 * np.log10(max(abs(z), 1e-10)), float(np.degrees(np.angle(z)))),
}
PAIRS = [(written, stated) for written in FORMATS for stated in FORMATS if written != stated]
Case = tuple[str, dict[str, Sweep], Callable[..., Request]]


def write_file(sweep: Sweep, written: str, stated: str) -> bytes:
    """The text of a file whose numbers are of one format and whose option line names another."""
    order = [(0, 0), (1, 0), (0, 1), (1, 1)] if sweep.ports == 2 else [(0, 0)]
    rows = [
        " ".join([f"{hz:.0f}", *(f"{x:.6f}" for i, j in order for x in FORMATS[written](complex(s[i, j])))])
        for hz, s in zip(sweep.freq_hz, sweep.s, strict=True)
    ]
    return "\n".join([f"# Hz S {stated} R 50", *rows]).encode()


def list_cases(bench: Bench) -> Iterator[Case]:
    device, one = bench.transformer(4), bench.transformer(1)

    def loss(method: str, ratio: int, **given: float) -> Callable[..., Request]:
        return lambda **sweeps: build_request("insertion_loss", method, ratio, **given, **sweeps)

    yield "choke", {"sweep": bench.chain(bench.device())}, common_mode
    yield "direct", {"sweep": bench.sweep(transformers.device(one).s)}, loss("direct", 1)
    with_resistor = bench.sweep(models.with_series_resistor(device, 150.0))
    yield "series", {"sweep": with_resistor}, loss("series_resistor", 4, series_ohm=150.0)
    pair = sweep_pair(bench.bench, device, models.vary(bench.rng, device))
    yield "pair", {"sweep": pair}, loss("back_to_back", 4)
    yield "far sides", bench.far_ends(device), loss("one_port", 4, load_ohm=200.0)
    match = {"sweep": bench.ended(device, 200.0)}
    yield "match", match, lambda **sweeps: build_request("load_match", None, 4, load_ohm=200.0, **sweeps)


def judge(sweeps: dict[str, Sweep], build: Callable[..., Request], written: str, stated: str) -> set[str]:
    """The decisions that a result passes, as a set; empty for a refused file."""
    try:
        read = {
            role: reading.read_sweep(write_file(sweep, written, stated), f"x.s{sweep.ports}p", role=role)
            for role, sweep in sweeps.items()
        }
        result = analyse(build(**read)).result
    except BenchnightError as refused:
        assert "option" in str(refused) or "magnitude" in str(refused), refused
        return set()
    decisions = {band["decision"] for band in result["bands"]}
    left_out = [flag for flag in result["flags"] if flag["severity"] == "exclude"]
    assert left_out or decisions - {"not_judged"}
    return decisions - {"not_judged"}


@pytest.mark.parametrize(("written", "stated"), PAIRS, ids=" read as ".join)
@pytest.mark.parametrize("analyser", sorted(ANALYSERS))
def test_nothing_is_judged_from_numbers_of_another_format(analyser, written, stated):
    for seed in range(3):
        transformers.device.cache_clear()
        bench = draw_bench(ANALYSERS[analyser], np.random.default_rng([seed, 31]))
        for name, sweeps, build in list_cases(bench):
            assert judge(sweeps, build, written, stated) == set(), (name, seed)


@pytest.mark.parametrize("option", sorted(FORMATS))
def test_the_same_files_under_their_own_option_are_judged(option):
    transformers.device.cache_clear()
    bench = draw_bench(ANALYSERS["two paths, 40 dB"], np.random.default_rng([1, 31]))
    for name, sweeps, build in list_cases(bench):
        assert judge(sweeps, build, option, option), name


def test_a_sweep_of_hardly_any_phase_is_no_fault_in_a_jig_file():
    """A closed jig turns the phase by less than a degree, and is what it is filed as."""
    bench = draw_bench(ANALYSERS["two paths, 40 dB"], np.random.default_rng(3))
    closed = bench.chain(models.series(0.05 + 0j))
    request = common_mode(sweep=bench.chain(bench.device()), jig_through=closed)
    assert "phase_too_small" not in {flag["code"] for flag in analyse(request).result["flags"]}
