"""Memory of a web worker after mixed requests, against a bare Django worker, and whether it grows."""

from __future__ import annotations

import json
from collections.abc import Callable

from deploy.benchmarks.lookups import LOOKUP_ADDRESS
from deploy.benchmarks.stack import Run, RunningServer
from deploy.benchmarks.timing import Client, Figure
from deploy.benchmarks.uploads import Sender

MAX_MORE_BYTES = 140e6  # scikit-rf takes 15 MB of them
MAX_GROWTH_BYTES = 5e6  # what an allocator keeps back varies by as much from run to run


def measure_memory(run: Run) -> list[Figure]:
    """Return a thousand requests, then ten thousand more (fewer in a quick run)."""
    group = run.group(run.sizes[0])
    first, further = (200, 600) if run.is_quick else (1_000, 10_000)
    with run.product(group) as product, run.floor(group, {"one": b"{}"}) as floor:
        bare = _measure_after(floor, lambda client: client.get("/replies/one"), first)
        mixed = _MixedRequests(product, group.token, group.device)
        loaded = _measure_after(product, mixed.ask, first)
        later = _measure_after(product, mixed.ask, further)
    more, growth = loaded - bare, later - loaded
    return [
        Figure(
            f"memory of a worker after {first} requests",
            f"{more / 1e6:.0f} MB more than a bare one ({loaded / 1e6:.0f} to {bare / 1e6:.0f} MB)",
            "at most 140 MB more",
            more <= MAX_MORE_BYTES,
        ),
        Figure(
            f"growth over {further} more",
            f"{growth / 1e6:+.1f} MB",
            f"none (within {MAX_GROWTH_BYTES / 1e6:.0f} MB)",
            growth <= MAX_GROWTH_BYTES,
        ),
    ]


class _MixedRequests:
    """Requests in turn: look-up, page, chart, rows, bands, and an upload among fifty."""

    def __init__(self, product: RunningServer, token: str, device: str) -> None:
        client = Client(product.port)
        key = json.loads(client.get(LOOKUP_ADDRESS))["results"][0]["id"]
        self._addresses = [
            LOOKUP_ADDRESS,
            f"/designs/{key}/",
            f"/designs/{key}/chart.json",
            f"/api/v1/designs/{key}/evidence/",
            "/api/v1/bands/",
            "/designs/?band=40m",
            "/",
        ]
        self._sender = Sender(product.port, "/api/v1/tests/", 4242, device, token)
        self._asked = 0

    def ask(self, client: Client) -> None:
        self._asked += 1
        if self._asked % 50:
            client.get(self._addresses[self._asked % len(self._addresses)])
        else:
            self._sender.prepare(1)
            self._sender.send()


def _measure_after(served: RunningServer, ask: Callable[[Client], object], requests: int) -> int:
    client = Client(served.port)
    for _ in range(requests):
        ask(client)
    return served.resident_bytes()
