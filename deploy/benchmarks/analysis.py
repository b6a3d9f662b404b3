"""All figures of one sweep, strict checks included, against reading its bytes with scikit-rf and no more.

Behind the gate scikit-rf reads the numbers of a sweep, so its time is a part of both sides.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from fractions import Fraction

import numpy as np
import skrf

from deploy.benchmarks.stack import Run
from deploy.benchmarks.timing import Figure, measure_in_turns
from deploy.benchmarks.uploads import make_sweep_file
from measurements.rf.analysis import Analysis, Request, analyse
from measurements.rf.analysis_batches import analyse_many
from measurements.rf.bands import Band
from measurements.rf.request import Limits
from measurements.rf.sweeps import reading

# region 2, 47 CFR 97.301, as the reference data has it; here because this runs without a database
BANDS = (
    Band("160m", 1.8e6, 2.0e6),
    Band("80m", 3.5e6, 4.0e6),
    Band("40m", 7.0e6, 7.3e6),
    Band("30m", 10.1e6, 10.15e6),
    Band("20m", 14.0e6, 14.35e6),
    Band("17m", 18.068e6, 18.168e6),
    Band("15m", 21.0e6, 21.45e6),
    Band("12m", 24.89e6, 24.99e6),
    Band("10m", 28.0e6, 29.7e6),
)


def measure_one_sweep(run: Run) -> list[Figure]:
    """Return one figure; both sides get the same new bytes in each round."""
    rng = np.random.default_rng(5)
    files = [make_sweep_file(rng) for _ in range(max(run.rounds, 50))]
    ours, floor = _TimedWork(files, _compute_all), _TimedWork(files, _read_only)
    took, least = measure_in_turns(ours.next, floor.next, rounds=len(files) - 3)
    middle, middle_least = float(np.median(took)), float(np.median(least))
    detail = f"{1e3 * middle:.2f} ms to {1e3 * middle_least:.2f} ms"
    return [Figure.ratio("all figures of one sweep, in process", middle / middle_least, 3.0, detail)]


class _TimedWork:
    """Times one piece of work on one file after another, in processor time: neighbours do not count."""

    def __init__(self, files: list[bytes], work: Callable[[bytes], object]) -> None:
        self._files = iter(files)
        self._work = work

    def next(self) -> float:
        file = next(self._files)
        began = time.process_time()
        self._work(file)
        return time.process_time() - began


def make_request(file: bytes) -> Request:
    """Return the request that an upload of this file makes."""
    return Request(
        kind="common_mode",
        method=None,
        ratio=Fraction(1),
        sweeps={"sweep": reading.read_sweep(file, "a.s2p")},
        readings=None,
        load_ohm=None,
        series_ohm=None,
        calibrated=True,
        limits=Limits(),
        bands=BANDS,
    )


def _compute_all(file: bytes) -> object:
    return analyse(make_request(file))


def _read_only(file: bytes) -> object:
    named = io.StringIO(file.decode("ascii"))
    named.name = "a.s2p"  # scikit-rf tells the number of ports by the name
    return skrf.Network(named)


# Recomputing stored sweeps of one grid together, against the same one by one.

SWEEPS = 10_000

ALONE = 1_000  # of them, one by one: enough to time, and a minute less

PORTION = 256  # `services.tests.recomputation.CHUNK`: that many are taken, stored and let go of

ROUNDS = 3

MIN_RATIO = 10.0


def measure_many_sweeps(run: Run) -> list[Figure]:
    """Return processor time per sweep, both ways, in turns; and the largest relative difference of any
    figure.
    """
    rng = np.random.default_rng(6)
    files = [make_sweep_file(rng) for _ in range(100 if run.is_quick else 1000)]
    held = [make_request(file) for file in files]
    requests = [held[index % len(held)] for index in range(ALONE if run.is_quick else SWEEPS)]
    few = requests[: ALONE // 10 if run.is_quick else ALONE]
    together, alone = [], []
    for _ in range(ROUNDS):
        alone.append(_measure_cpu_s(lambda part: [analyse(each) for each in part], few))
        together.append(_measure_cpu_s(analyse_many, requests))
    one, many = float(np.median(alone)), float(np.median(together))
    off = _find_largest_difference([analyse(each) for each in held], analyse_many(held))
    return [
        Figure(
            f"figures of {len(requests)} stored sweeps at once",
            f"{one / many:.1f} x faster ({1e6 * many:.0f} us to {1e6 * one:.0f} us each)",
            f"at least {MIN_RATIO:g} x",
            one / many >= MIN_RATIO,
        ),
        Figure("the same numbers", f"largest difference {off:.1e}", "at most 1e-9", off <= 1e-9),
    ]


def _measure_cpu_s(work: Callable[[list[Request]], list[Analysis]], requests: list[Request]) -> float:
    """Return processor time of each, in the portions in which a recomputation takes and lets go of them."""
    began = time.process_time()
    for start in range(0, len(requests), PORTION):
        work(requests[start : start + PORTION])
    return (time.process_time() - began) / len(requests)


def _find_largest_difference(some: list[Analysis], others: list[Analysis]) -> float:
    pairs = zip(map(_list_numbers, some), map(_list_numbers, others), strict=True)
    return max((float(np.max(np.abs(a - b) / np.maximum(np.abs(a), 1e-30))) for a, b in pairs), default=0.0)


def _list_numbers(found: Analysis) -> np.ndarray:
    """Return every number of a result and its traces."""
    listed: list[float] = []

    def walk(value: object) -> None:
        if isinstance(value, dict):
            for each in value.values():
                walk(each)
        elif isinstance(value, list):
            for each in value:
                walk(each)
        elif isinstance(value, float):
            listed.append(value)

    walk({key: value for key, value in found.result.items() if key != "flags"})
    return np.concatenate([listed, *(np.nan_to_num(trace) for trace in found.traces.values())])
