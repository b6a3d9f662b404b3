"""The server is killed two hundred times while members upload: what was acknowledged is there, and whole."""

from __future__ import annotations

import hashlib
import http.client
import json
import os
import random
import signal
import sqlite3
import threading
import time
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from deploy.benchmarks.stack import build_environ, run_manage, serve_application
from deploy.benchmarks.uploads import build_multipart, make_sweep_file

pytestmark = pytest.mark.faults
KILLS = int(os.environ.get("BENCHNIGHT_KILLS", "200"))
CLIENTS = 4
MOST_S = 1800.0  # 800 s on two quiet processors


class Uploads:
    """Clients that upload without a pause, and what was acknowledged to them."""

    def __init__(self, port: int, token: str, device: str) -> None:
        self.port, self.token, self.device = port, token, device
        self.acknowledged: dict[str, str] = {}
        self.unanswered = 0
        self.refused: list[int] = []
        self.stop = threading.Event()

    def run(self, seed: int) -> None:
        rng = np.random.default_rng(seed)
        fields = {
            "kind": "common_mode",
            "calibrated": "true",
            "measured_on": "2026-10-01",
            "device": self.device,
        }
        while not self.stop.is_set():
            file = make_sweep_file(rng)
            body, headers = build_multipart(fields, file)
            headers["Authorization"] = f"Token {self.token}"
            try:
                with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)) as connection:
                    connection.request("POST", "/api/v1/tests/", body, headers)
                    with connection.getresponse() as reply:
                        content = reply.read()
            except (OSError, http.client.HTTPException):
                self.unanswered += 1
                time.sleep(0.05)
                continue
            if reply.status in (200, 201):
                self.acknowledged[json.loads(content)["id"]] = hashlib.sha256(file).hexdigest()
            else:
                self.refused.append(reply.status)


def test_nothing_acknowledged_is_lost_and_nothing_half_stored(tmp_path):
    environ = build_environ("", tmp_path)
    del environ["BENCHNIGHT_DATABASE_URL"]
    run_manage(environ, "migrate", "--verbosity=0")
    run_manage(environ, "load_reference")
    run_manage(environ, "member", "Crash")
    token = run_manage(environ, "token", "Crash", "--days", "1").strip()
    chance, began, kills = random.Random(5), time.monotonic(), 0
    with serve_application("deploy.wsgi:application", environ) as web:
        uploads = Uploads(web.port, token, _device(web.port, token))
        threads = [threading.Thread(target=uploads.run, args=(seed,)) for seed in range(CLIENTS)]
        for thread in threads:
            thread.start()
        while kills < KILLS and time.monotonic() - began < MOST_S:
            before = len(uploads.acknowledged)
            while len(uploads.acknowledged) == before and time.monotonic() - began < MOST_S:
                time.sleep(0.01)  # it serves again
            time.sleep(chance.uniform(0, 0.3))
            for worker in web.workers():
                os.kill(worker, signal.SIGKILL)
            kills += 1
        uploads.stop.set()
        for thread in threads:
            thread.join()
    lost, half = _lost(tmp_path / "benchnight.sqlite3", uploads.acknowledged)
    print(
        f"\n{kills} SIGKILLs in {time.monotonic() - began:.0f} s, {CLIENTS} clients: "
        f"{len(uploads.acknowledged)} acknowledged, {len(lost)} lost, {len(half)} half-stored; "
        f"{uploads.unanswered} times no answer"
    )
    assert kills == KILLS and len(uploads.acknowledged) >= KILLS
    assert not lost and not half and not uploads.refused


def _device(port: int, token: str) -> str:
    from tests import factories

    def sent(path: str, content: dict) -> str:
        headers = {"Authorization": f"Token {token}", "Content-Type": "application/json"}
        with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=30)) as connection:
            connection.request("POST", f"/api/v1/{path}/", json.dumps(content), headers)
            with connection.getresponse() as reply:
                content = json.loads(reply.read())
        assert reply.status == 201, content
        return content["id"]

    return sent("devices", {"design": sent("designs", factories.recipe()), "tag": "C-1"})


def _lost(file: Path, acknowledged: dict[str, str]) -> tuple[list[str], list[int]]:
    """Tests that were acknowledged and are not there as they were sent; tests without their parts."""
    with closing(sqlite3.connect(file)) as database:
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        stored = {
            key: hashlib.sha256(raw).hexdigest()
            for key, raw in database.execute(
                "SELECT t.key, s.raw FROM measurements_test t "
                "JOIN measurements_sweepfile s ON s.test_id = t.id"
            )
        }
        half = database.execute(
            "SELECT t.id FROM measurements_test t WHERE "
            "(SELECT count(*) FROM measurements_sweepfile s WHERE s.test_id = t.id) <> 1 OR "
            "(SELECT count(*) FROM measurements_result r WHERE r.test_id = t.id AND r.current) <> 1"
        ).fetchall()
    return [key for key, digest in acknowledged.items() if stored.get(key) != digest], half
