"""All figures of one sweep, strict checks included, against reading its bytes with scikit-rf and no more."""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from datetime import date
from fractions import Fraction

import numpy as np
import skrf

from deploy.benchmarks.run import Run
from deploy.benchmarks.storing import sweep_file
from deploy.benchmarks.timing import Figure, in_turns
from measurements.rf import reading
from measurements.rf.analysis import Request, analyse
from measurements.rf.bands import Band
from measurements.rf.settings import Limits

DAY = date(2026, 1, 1)
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


def figures(run: Run) -> list[Figure]:
    """One figure; both sides get the same new bytes in each round."""
    rng = np.random.default_rng(5)
    files = [sweep_file(rng) for _ in range(max(run.rounds, 50))]
    ours, floor = _Timed(files, _all_figures), _Timed(files, _read_alone)
    took, least = in_turns(ours.next, floor.next, rounds=len(files) - 3)
    middle, middle_least = float(np.median(took)), float(np.median(least))
    detail = f"{1e3 * middle:.2f} ms to {1e3 * middle_least:.2f} ms"
    return [Figure.ratio("all figures of one sweep, in process", middle / middle_least, 2.0, detail)]


class _Timed:
    """Times one piece of work on one file after another, in processor time: neighbours do not count."""

    def __init__(self, files: list[bytes], work: Callable[[bytes], object]) -> None:
        self._files = iter(files)
        self._work = work

    def next(self) -> float:
        file = next(self._files)
        began = time.process_time()
        self._work(file)
        return time.process_time() - began


def request_of(file: bytes) -> Request:
    """The request that an upload of this file makes."""
    return Request(
        kind="common_mode",
        method=None,
        ratio=Fraction(1),
        sweeps={"sweep": reading.read(file, "a.s2p")},
        readings=None,
        load_ohm=None,
        series_ohm=None,
        calibrated=True,
        limits=Limits(),
        bands=BANDS,
    )


def _all_figures(file: bytes) -> object:
    return analyse(request_of(file))


def _read_alone(file: bytes) -> object:
    named = io.StringIO(file.decode("ascii"))
    named.name = "a.s2p"  # scikit-rf tells the number of ports by the name
    return skrf.Network(named)
