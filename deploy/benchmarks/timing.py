"""Timing in turns: what is measured and its floor alternate, so that both see the same machine."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from http.client import HTTPConnection

import numpy as np

IDLE_S = 2.0


@dataclass(frozen=True)
class Figure:
    """One row of the table. must: what it has to hold, as text; holds: None where nothing is required."""

    name: str
    figure: str
    must: str
    holds: bool | None

    @classmethod
    def ratio(cls, name: str, value: float, most: float, detail: str) -> Figure:
        """Return a ratio to the floor that must not be above `most`."""
        return cls(name, f"{value:.2f} x ({detail})", f"at most {most:g} x", value <= most)


def measure_seconds(work: Callable[[], object]) -> float:
    """Measure the seconds of one call."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def measure_in_turns(*works: Callable[[], float], rounds: int, warm: int = 3) -> tuple[np.ndarray, ...]:
    """Return seconds of each call of every work, as it answers them, (rounds,) each; `warm` calls do not
    count.
    """
    for _ in range(warm):
        for work in works:
            work()
    all_ = np.array([[work() for work in works] for _ in range(rounds)])
    return tuple(all_.T)


class Client:
    """One keep-alive connection to a server of this machine."""

    def __init__(self, port: int) -> None:
        self._connection = HTTPConnection("127.0.0.1", port, timeout=600)
        self._used = 0.0

    def ask(
        self, method: str, address: str, body: bytes | None = None, headers: dict[str, str] | None = None
    ) -> tuple[int, bytes]:
        """Return status and body of one request."""
        self._renew()
        self._connection.request(method, address, body=body, headers=headers or {})
        response = self._connection.getresponse()
        return response.status, response.read()

    def get(self, address: str, headers: dict[str, str] | None = None) -> bytes:
        """Return the body of a reply that must be a 200. Raises RuntimeError otherwise."""
        status, body = self.ask("GET", address, headers=headers)
        if status != 200:
            raise RuntimeError(f"{address} answered {status}: {body[:200]!r}")
        return body

    def _renew(self) -> None:
        """Open a new connection before the server ends one that is idle for five seconds."""
        now = time.monotonic()
        if now - self._used > IDLE_S:
            self._connection.close()
        self._used = now

    def drain(self, address: str, headers: dict[str, str] | None = None) -> int:
        """Read a reply of any length in pieces and answer its size in bytes."""
        self._renew()
        self._connection.request("GET", address, headers=headers or {})
        response = self._connection.getresponse()
        if response.status != 200:
            raise RuntimeError(f"{address} answered {response.status}: {response.read(200)!r}")
        size = 0
        while piece := response.read(1 << 16):
            size += len(piece)
        return size


def run_side_by_side(work: Sequence[Callable[[], list[float]]]) -> np.ndarray:
    """Run each in a thread of its own at once; all the seconds that they answer, in one array."""
    with ThreadPoolExecutor(len(work)) as pool:
        running = [pool.submit(each) for each in work]
        return np.array([second for one in running for second in one.result()])
