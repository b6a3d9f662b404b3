"""Beyond one process: two task workers against one, and two web hosts on one database against one.

Two ports play two hosts here. They share the processors, so two of anything can at best use the rest of
them: nothing is required, the figures show the gain on this machine.
"""

from __future__ import annotations

import json
import subprocess
import sys
from contextlib import ExitStack

import numpy as np
import psycopg

from deploy.benchmarks.stack import Group, Run, RunningServer
from deploy.benchmarks.timing import Client, Figure, measure_seconds, run_side_by_side
from deploy.benchmarks.uploads import AT_ONCE, Sender
from deploy.environment import ROOT

MOST_TESTS = 10_000  # as many as are filled with their sweeps
PORTION, QUICK_PORTION = 256, 50
TURNS = 2
_ENQUEUE = (
    "import sys, django; django.setup(); from measurements.services.tests import recomputation; "
    "print(recomputation.enqueue_recomputation(int(sys.argv[1])))"
)


def measure_hosts(run: Run) -> list[Figure]:
    """Return workers on the smallest data set that has enough sweeps, web hosts on the smallest.

    A quick run takes the smallest for both, once each way.
    """
    small = run.group(run.sizes[0])
    if run.is_quick:
        return [_measure_workers(small, QUICK_PORTION, 1), _measure_web(run, small, 1)]
    enough = [size for size in run.sizes if size >= MOST_TESTS]
    large = run.group(min(enough, default=max(run.sizes)))
    return [_measure_workers(large, PORTION, TURNS), _measure_web(run, small, TURNS)]


def _measure_workers(group: Group, portion: int, turns: int) -> Figure:
    tests = min(group.tests, MOST_TESTS)
    took: dict[int, list[float]] = {1: [], 2: []}
    for _ in range(turns):
        for workers, times in took.items():
            times.append(_recompute(group, tests, workers, portion))
    one, two = (min(times) for times in took.values())
    return Figure(
        f"recompute {tests} tests, two workers to one",
        f"{one / two:.2f} x as fast ({tests / two:.0f} to {tests / one:.0f} a second)",
        "",
        None,
    )


def _recompute(group: Group, tests: int, workers: int, portion: int) -> float:
    """Return seconds from the first task's beginning to the last one's end. Raises where a test was left
    out.
    """
    with psycopg.connect(group.environ["BENCHNIGHT_DATABASE_URL"], autocommit=True) as connection:
        connection.execute("DELETE FROM measurements_result WHERE test_id <= %s AND NOT current", [tests])
        connection.execute("UPDATE measurements_result SET engine_version = '0' WHERE test_id <= %s", [tests])
        connection.execute("DELETE FROM django_tasks_database_dbtaskresult")
        environ = {**group.environ, "DJANGO_SETTINGS_MODULE": "deploy.settings"}
        enqueue = [sys.executable, "-c", _ENQUEUE, str(portion)]
        subprocess.run(enqueue, cwd=ROOT, env=environ, check=True, stdout=sys.stderr)
        command = [sys.executable, "manage.py", "db_worker", "--batch", "--no-startup-delay"]
        with ExitStack() as stack:
            running = [
                stack.enter_context(subprocess.Popen(command, cwd=ROOT, env=environ)) for _ in range(workers)
            ]
            for each in running:
                if each.wait(timeout=1800):
                    raise RuntimeError("A worker failed.")
        found = connection.execute(
            "SELECT extract(epoch FROM max(finished_at) - min(started_at)), count(DISTINCT worker_ids) "
            "FROM django_tasks_database_dbtaskresult WHERE status = 'SUCCESSFUL'"
        ).fetchone()
        left = connection.execute(
            "SELECT count(*) FROM measurements_result WHERE current AND engine_version = '0'"
        )
        if found is None or left.fetchone() != (0,):
            raise RuntimeError("Not every test was computed.")
        return float(found[0])


def _measure_web(run: Run, group: Group, turns: int) -> Figure:
    """Return sweeps stored per second by eight clients at one host, and at two that share them."""
    count = max(5, run.rounds // 8)
    with run.product(group) as one, run.product(group) as other:
        _check_agreement(one, other, group)
        rates: dict[int, list[float]] = {1: [], 2: []}
        for turn in range(turns):
            for hosts, found in rates.items():
                ports = [(one, other)[number % hosts].port for number in range(AT_ONCE)]
                found.append(_measure_rate(group, ports, count, seed=10_000 * (turn + 1) + 1000 * hosts))
    alone, both = (float(np.max(found)) for found in rates.values())
    return Figure(
        f"sweeps stored by {AT_ONCE} clients, two web hosts to one",
        f"{both / alone:.2f} x as many ({both:.0f} to {alone:.0f} a second)",
        "",
        None,
    )


def _measure_rate(group: Group, ports: list[int], count: int, seed: int) -> float:
    senders = [
        Sender(port, "/api/v1/tests/", seed + number, group.device, group.token)
        for number, port in enumerate(ports)
    ]
    for sender in senders:
        sender.prepare(count)
    return (
        count
        * len(senders)
        / measure_seconds(lambda: run_side_by_side([sender.send_all for sender in senders]))
    )


def _check_agreement(one: RunningServer, other: RunningServer, group: Group) -> None:
    """Check that a row stored at one host is there at the other at once. Raises where it is not."""
    sender = Sender(one.port, "/api/v1/tests/", 77, group.device, group.token)
    sender.prepare(1)
    sender.send()
    header = {"Authorization": f"Token {group.token}"}
    addresses = f"/api/v1/tests/?device={group.device}&limit=1"
    here, there = (json.loads(Client(host.port).get(addresses, header))["results"] for host in (one, other))
    if here != there:  # the links beside them name the host of the request
        raise RuntimeError("Two hosts on one database disagree.")
