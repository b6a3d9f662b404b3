"""Storing one 401-point two-port sweep over HTTP, against the plain service, and against one INSERT."""

from __future__ import annotations

import secrets
import time
from contextlib import ExitStack

import numpy as np

from deploy.benchmarks.stack import Run
from deploy.benchmarks.timing import Client, Figure, measure_in_turns, run_side_by_side

POINTS = 401
AT_ONCE = 8
WARM = 10
MOST_P50, MOST_P99 = 1.0, 1.2


def measure_uploads(run: Run) -> list[Figure]:
    """Return p50 of one client, p99 of eight at once; of Benchnight, the plain service and the floor, in
    turns.
    """
    group = run.group(run.sizes[0])
    with ExitStack() as stack:
        product = stack.enter_context(run.product(group))
        plain, plain_device, plain_token = stack.enter_context(run.plain(group))
        floor = stack.enter_context(run.floor(group))

        def make_senders(seed: int) -> tuple[Sender, Sender, Sender]:
            return (
                Sender(product.port, "/api/v1/tests/", seed, group.device, group.token),
                Sender(plain.port, "/tests/", seed, plain_device, plain_token),
                Sender(floor.port, "/store", seed),
            )

        alone = make_senders(1)
        for sender in alone:
            sender.prepare(run.rounds + WARM)
        took = measure_in_turns(*(sender.send for sender in alone), rounds=run.rounds, warm=WARM)
        crowds = list(zip(*(make_senders(seed) for seed in range(100, 100 + AT_ONCE)), strict=True))
        busy = _measure_crowds(crowds, run.rounds)
    return [
        *_compare("store a sweep over HTTP, p50", [float(np.median(each)) for each in took], MOST_P50),
        *_compare(
            f"store a sweep, {AT_ONCE} clients at once, p99",
            [float(np.percentile(each, 99)) for each in busy],
            MOST_P99,
        ),
    ]


def _measure_crowds(crowds: list[tuple[Sender, ...]], rounds: int) -> list[np.ndarray]:
    """Return seconds of each upload of each crowd, which take turns with one another."""
    collected: list[list[np.ndarray]] = [[] for _ in crowds]
    for _ in range(3):
        for crowd, own in zip(crowds, collected, strict=True):
            for sender in crowd:
                sender.prepare(max(10, rounds // 4))
            own.append(run_side_by_side([sender.send_all for sender in crowd]))
    return [np.concatenate(own) for own in collected]


def _compare(name: str, seconds: list[float], most: float) -> list[Figure]:
    """Return the bound against the plain service; the ratio to one INSERT is printed for information."""
    ours, plain, floor = seconds
    detail = f"{1e3 * ours:.1f} ms to {1e3 * plain:.1f} ms"
    insert = f"{ours / floor:.2f} x ({1e3 * ours:.1f} ms to {1e3 * floor:.1f} ms)"
    return [
        Figure.ratio(f"{name}, to the plain service", ours / plain, most, detail),
        Figure(f"{name}, to one INSERT", insert, "", None),
    ]


def make_sweep_file(rng: np.random.Generator) -> bytes:
    """Return a two-port Touchstone file of a choke with some noise: no two are the same."""
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
    """Return a form body with one file, and its header."""
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
        """Make the next `count` bodies."""
        fields = {"kind": "common_mode", "calibrated": "true", "measured_on": "2026-10-01"}
        fields["device"] = self._device
        self._bodies = [build_multipart(fields, make_sweep_file(self._rng)) for _ in range(count)]

    def send(self) -> float:
        """Return seconds that one took. Raises RuntimeError unless it was stored."""
        body, headers = self._bodies.pop()
        began = time.perf_counter()
        status, answer = self._client.ask("POST", self._address, body, {**headers, **self._token})
        took = time.perf_counter() - began
        if status != 201:
            raise RuntimeError(f"Storing answered {status}: {answer[:300]!r}")
        return took

    def send_all(self) -> list[float]:
        """Return seconds of each of those that are prepared."""
        return [self.send() for _ in range(len(self._bodies))]
