"""Recomputing stored sweeps of one grid together, against the same one by one."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from deploy.benchmarks.one_sweep import request_of
from deploy.benchmarks.run import Run
from deploy.benchmarks.storing import sweep_file
from deploy.benchmarks.timing import Figure
from measurements.rf.analysis import Analysis, Request, analyse
from measurements.rf.many_sweeps import analyse_many

SWEEPS = 10_000
ALONE = 1_000  # of them, one by one: enough to time, and a minute less
PORTION = 256  # `ingest.recompute.CHUNK`: that many are taken, stored and let go of
ROUNDS = 3
MUST = 10.0


def figures(run: Run) -> list[Figure]:
    """Processor time per sweep, both ways, in turns; and the largest relative difference of any figure."""
    rng = np.random.default_rng(6)
    files = [sweep_file(rng) for _ in range(100 if run.is_quick else 1000)]
    held = [request_of(file) for file in files]
    requests = [held[index % len(held)] for index in range(ALONE if run.is_quick else SWEEPS)]
    few = requests[: ALONE // 10 if run.is_quick else ALONE]
    together, alone = [], []
    for _ in range(ROUNDS):
        alone.append(_cpu_s(lambda part: [analyse(each) for each in part], few))
        together.append(_cpu_s(analyse_many, requests))
    one, many = float(np.median(alone)), float(np.median(together))
    off = _largest_difference([analyse(each) for each in held], analyse_many(held))
    return [
        Figure(
            f"figures of {len(requests)} stored sweeps at once",
            f"{one / many:.1f} x faster ({1e6 * many:.0f} us to {1e6 * one:.0f} us each)",
            f"at least {MUST:g} x",
            one / many >= MUST,
        ),
        Figure("the same numbers", f"largest difference {off:.1e}", "at most 1e-9", off <= 1e-9),
    ]


def _cpu_s(work: Callable[[list[Request]], list[Analysis]], requests: list[Request]) -> float:
    """Processor time of each, in the portions in which a recomputation takes and lets go of them."""
    began = time.process_time()
    for start in range(0, len(requests), PORTION):
        work(requests[start : start + PORTION])
    return (time.process_time() - began) / len(requests)


def _largest_difference(some: list[Analysis], others: list[Analysis]) -> float:
    pairs = zip(map(_numbers, some), map(_numbers, others), strict=True)
    return max((float(np.max(np.abs(a - b) / np.maximum(np.abs(a), 1e-30))) for a, b in pairs), default=0.0)


def _numbers(found: Analysis) -> np.ndarray:
    """Every number of a result and its traces."""
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
