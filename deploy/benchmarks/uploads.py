"""Storing one 401-point two-port sweep over HTTP, against one INSERT of the same bytes."""

from __future__ import annotations

import secrets
import time

import numpy as np

from deploy.benchmarks.stack import Group, Run, RunningServer
from deploy.benchmarks.timing import Client, Figure, measure_in_turns, run_side_by_side

POINTS = 401
AT_ONCE = 8
WARM = 10


def measure_uploads(run: Run) -> list[Figure]:
    """p50 of one client, p99 of eight at once."""
    group = run.group(run.sizes[0])
    with run.product(group) as product, run.floor(group) as floor:
        return _measure_senders(product, floor, group, rounds=run.rounds)


def _measure_senders(
    product: RunningServer, floor: RunningServer, group: Group, *, rounds: int
) -> list[Figure]:

    def senders(count: int, first: int) -> tuple[list[Sender], list[Sender]]:
        seeds = range(first, first + count)
        ours = [Sender(product.port, "/api/v1/tests/", seed, group.device, group.token) for seed in seeds]
        return ours, [Sender(floor.port, "/store", seed) for seed in seeds]

    (ours,), (theirs,) = senders(1, 1)
    for one in (ours, theirs):
        one.prepare(rounds + WARM)
    took, least = measure_in_turns(ours.send, theirs.send, rounds=rounds, warm=WARM)
    alone = Figure.ratio(
        "store a sweep over HTTP, p50",
        float(np.median(took) / np.median(least)),
        2.5,
        f"{1e3 * np.median(took):.1f} ms to {1e3 * np.median(least):.1f} ms",
    )
    crowd, crowd_least = senders(AT_ONCE, 100)
    busy: list[np.ndarray] = []
    busy_least: list[np.ndarray] = []
    for _ in range(3):
        for group, collected in ((crowd, busy), (crowd_least, busy_least)):
            for one in group:
                one.prepare(max(10, rounds // 4))
            collected.append(run_side_by_side([one.send_all for one in group]))
    slowest, slowest_least = (np.percentile(np.concatenate(all_), 99) for all_ in (busy, busy_least))
    return [
        alone,
        Figure.ratio(
            f"the same, {AT_ONCE} clients at once, p99",
            float(slowest / slowest_least),
            3.0,
            f"{1e3 * slowest:.0f} ms to {1e3 * slowest_least:.0f} ms",
        ),
    ]


def make_sweep_file(rng: np.random.Generator) -> bytes:
    """A two-port Touchstone file of a choke with some noise: no two are the same."""
    freq_hz = np.linspace(1e6, 30e6, POINTS)
    omega = 2 * np.pi * freq_hz
    z_ohm = 1 / (1 / (1j * omega * rng.uniform(20e-6, 40e-6)) + 1 / 4e3 + 1j * omega * 2e-12)
    through = 100 / (100 + z_ohm) + 1e-5 * (rng.normal(size=POINTS) + 1j * rng.normal(size=POINTS))
    reflected = 1 - through
    rows = ["! invented", "# Hz S RI R 50"]
    for hz, a, b in zip(freq_hz, reflected, through, strict=True):
        pair, cross = f"{a.real:.8f} {a.imag:.8f}", f"{b.real:.8f} {b.imag:.8f}"
        rows.append(f"{hz:.0f} {pair} {cross} {cross} {pair}")
    return ("\n".join(rows) + "\n").encode()


def build_multipart(fields: dict[str, str], file: bytes) -> tuple[bytes, dict[str, str]]:
    """A form body with one file, and its header."""
    edge = secrets.token_hex(8)
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'
        for name, value in fields.items()
    ]
    head = f'--{edge}\r\nContent-Disposition: form-data; name="sweep"; filename="a.s2p"\r\n\r\n'
    body = "".join(parts).encode() + head.encode() + file + f"\r\n--{edge}--\r\n".encode()
    return body, {"Content-Type": f"multipart/form-data; boundary={edge}"}


class Sender:
    """Sends sweeps that nobody has sent before, one after another, over one connection.

    Bodies are made beforehand, because making one takes as long as storing it.
    """

    def __init__(self, port: int, address: str, seed: int, device: str = "", token: str = "") -> None:
        self._client = Client(port)
        self._address = address
        self._rng = np.random.default_rng(seed)
        self._device = device
        self._token = {"Authorization": f"Token {token}"} if token else {}
        self._bodies: list[tuple[bytes, dict[str, str]]] = []

    def prepare(self, count: int) -> None:
        """Makes the next `count` bodies."""
        fields = {"kind": "common_mode", "calibrated": "true", "measured_on": "2026-10-01"}
        fields["device"] = self._device
        self._bodies = [build_multipart(fields, make_sweep_file(self._rng)) for _ in range(count)]

    def send(self) -> float:
        """Seconds that one took. Raises RuntimeError unless it was stored."""
        body, headers = self._bodies.pop()
        began = time.perf_counter()
        status, answer = self._client.ask("POST", self._address, body, {**headers, **self._token})
        took = time.perf_counter() - began
        if status != 201:
            raise RuntimeError(f"Storing answered {status}: {answer[:300]!r}")
        return took

    def send_all(self) -> list[float]:
        """Seconds of each of those that are prepared."""
        return [self.send() for _ in range(len(self._bodies))]
