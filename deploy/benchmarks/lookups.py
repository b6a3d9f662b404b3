"""What readers wait for: the look-up of designs, a design's page with its chart, and all rows as CSV."""

from __future__ import annotations

import gzip
import json
import re
import time
from collections.abc import Callable
from contextlib import ExitStack

import numpy as np
import psycopg

from deploy.benchmarks.stack import Group, Run, RunningServer
from deploy.benchmarks.timing import Client, Figure, measure_in_turns

LOOKUP_ADDRESS = "/api/v1/designs/?band=80m&band=40m&benchmark_db=20"
PLAIN_ADDRESS = "/designs/?band=80m&band=40m&benchmark_db=20"
KIB = 1024


def measure_lookups(run: Run) -> list[Figure]:
    """Return look-up and page at the smallest data set, the same at the largest, and the export of the
    largest.
    """
    small, large = run.group(run.sizes[0]), run.group(run.sizes[-1])
    with ExitStack() as stack:
        served = {group.tests: stack.enter_context(run.product(group)) for group in (small, large)}
        return [
            *_measure_against_plain(run, small, served[small.tests]),
            *_measure_against_floor(run, small, served[small.tests]),
            _measure_growth(
                "look-up of designs", small, large, served, _make_getter(LOOKUP_ADDRESS), run.rounds
            ),
            *_measure_export(large, served[large.tests]),
            *_measure_first_page(served[small.tests]),
        ]


def _measure_against_plain(run: Run, group: Group, product: RunningServer) -> list[Figure]:
    """Return the same question to the plain service; ours answered from its cache, and made anew each
    time.
    """
    # addresses that nobody asked before, so the cache does not have them; every design has 6 to 11 turns
    new = (
        f"{LOOKUP_ADDRESS}&turns_min={low}&turns_max={high}" for high in range(60, 200) for low in range(1, 7)
    )
    with run.plain(group) as (plain, _, _):
        ours, theirs = Client(product.port), Client(plain.port)
        kept, anew, least = measure_in_turns(
            lambda: _measure_get(ours, LOOKUP_ADDRESS),
            lambda: _measure_get(ours, next(new)),
            lambda: _measure_get(theirs, PLAIN_ADDRESS),
            rounds=run.rounds,
            warm=10,
        )
        middle, made, theirs_s = (float(np.median(each)) for each in (kept, anew, least))
    name = f"look-up of designs at {group.tests} tests, to the plain service"
    return [
        Figure.ratio(name, middle / theirs_s, 0.5, f"{1e3 * middle:.2f} ms to {1e3 * theirs_s:.2f} ms"),
        Figure("the same, not from the cache", f"{made / theirs_s:.2f} x ({1e3 * made:.2f} ms)", "", None),
    ]


def _measure_against_floor(run: Run, group: Group, product: RunningServer) -> list[Figure]:
    ours = Client(product.port)
    listed = ours.get(LOOKUP_ADDRESS)
    key = json.loads(listed)["results"][0]["id"]
    page, chart = f"/designs/{key}/", f"/designs/{key}/chart.json"
    replies = {"look-up": listed, "page": ours.get(page), "chart": ours.get(chart)}
    with run.floor(group, replies) as floor:
        theirs = Client(floor.port)
        look_up = _measure_pages(ours, theirs, [LOOKUP_ADDRESS], ["/replies/look-up"], run.rounds)
        whole = _measure_pages(ours, theirs, [page, chart], ["/replies/page", "/replies/chart"], run.rounds)
    size = len(replies["chart"])
    return [
        Figure(
            f"look-up of designs at {group.tests} tests, to the bare bytes",
            f"{look_up[0]:.2f} x ({look_up[1]})",
            "",
            None,
        ),
        Figure.ratio("design page and its chart", *whole[:1], 4.0, whole[1]),
        Figure("chart specification", f"{size / KIB:.0f} kB", "at most 150 kB", size <= 150_000),
    ]


def _measure_pages(
    ours: Client, theirs: Client, asked: list[str], floor: list[str], rounds: int
) -> tuple[float, str]:
    took, least = measure_in_turns(
        lambda: sum(_measure_get(ours, each) for each in asked),
        lambda: sum(_measure_get(theirs, each) for each in floor),
        rounds=rounds,
        warm=10,
    )
    middle, middle_least = float(np.median(took)), float(np.median(least))
    return middle / middle_least, f"{1e3 * middle:.2f} ms to {1e3 * middle_least:.2f} ms"


def _measure_get(client: Client, address: str) -> float:
    began = time.perf_counter()
    client.get(address)
    return time.perf_counter() - began


def _make_getter(address: str) -> Callable[[Client], float]:
    return lambda client: _measure_get(client, address)


def _measure_growth(
    name: str,
    small: Group,
    large: Group,
    served: dict[int, RunningServer],
    ask: Callable[[Client], float],
    rounds: int,
) -> Figure:
    """Return the same question to both data sets in turns."""
    big, little = Client(served[large.tests].port), Client(served[small.tests].port)
    took, least = measure_in_turns(lambda: ask(big), lambda: ask(little), rounds=rounds, warm=10)
    ratio = float(np.median(took) / np.median(least))
    detail = f"{1e3 * np.median(took):.2f} ms to {1e3 * np.median(least):.2f} ms"
    return Figure.ratio(f"{name}, {large.tests} tests to {small.tests}", ratio, 1.2, detail)


def _measure_export(group: Group, product: RunningServer) -> list[Figure]:
    """Return all rows of the release as CSV against COPY of as many rows, and the server's memory
    meanwhile.
    """
    client = Client(product.port)
    header = {"Authorization": f"Token {group.token}"}
    client.drain("/api/v1/evidence/?format=csv", header)  # warm
    before = product.resident_bytes()
    began = time.perf_counter()
    size = client.drain("/api/v1/evidence/?format=csv", header)
    took = time.perf_counter() - began
    grown = product.resident_bytes() - before
    copied, rows = _measure_copy(group)
    share = copied / took
    return [
        Figure(
            f"evidence as CSV, {rows} rows",
            f"{100 * share:.0f} % of COPY ({rows / took:,.0f} rows/s, {size / 1e6:.0f} MB)",
            "at least 40 %",
            share >= 0.4,
        ),
        Figure("memory of the server meanwhile", f"{grown / 1e6:+.1f} MB", "under 30 MB more", grown < 30e6),
    ]


def _measure_copy(group: Group) -> tuple[float, int]:
    """Return seconds that COPY ... TO STDOUT takes for the same columns as text, one row per design and
    band.
    """
    rows = (
        "COPY (SELECT 1, '2026-Q4', d.key, d.title, d.purpose, d.principle, d.ratio, d.mix, d.core, "
        "d.core_count, 1, d.turns, d.style, 'other', b.name, 'common_mode', 20.0, 0.94, 'typically_meets', "
        "c.devices, c.contributors, c.devices, 1.0, 0.9, 1.0, 31.5, 28.0, 30.0, 33.0, 34.0, 25.0 "
        "FROM measurements_cell c JOIN measurements_design d ON d.id = c.design_id "
        "CROSS JOIN LATERAL jsonb_array_elements_text(c.bands) b(name) "
        "WHERE c.last_release IS NULL) TO STDOUT"
    )
    with psycopg.connect(group.environ["BENCHNIGHT_DATABASE_URL"]) as connection:
        began = time.perf_counter()
        lines = 0
        with connection.cursor() as cursor, cursor.copy(rows) as copy:
            for piece in copy:
                lines += bytes(piece).count(b"\n")
        return time.perf_counter() - began, lines


def _measure_first_page(product: RunningServer) -> list[Figure]:
    """Count the bytes that a phone loads before the chart: the page and the files that it names."""
    client = Client(product.port)
    page = client.get("/")
    linked = re.findall(rb'(?:href|src)="(/static/[^"]+)"', page)
    own = [each.decode() for each in linked if b"chart" not in each or not each.endswith(b".js")]
    size = len(gzip.compress(page)) + sum(len(gzip.compress(client.get(each))) for each in own)
    return [
        Figure("first page on a phone, before the chart", f"{size / KIB:.0f} kB", "under 100 kB", size < 1e5)
    ]
