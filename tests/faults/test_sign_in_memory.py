"""Twenty-four wrong sign-ins at once cost a running server less memory than it can spare."""

from __future__ import annotations

import http.client
import re
import threading
import time
from contextlib import closing
from pathlib import Path
from urllib.parse import urlencode

import pytest

from deploy.benchmarks.stack import build_environ, run_manage, serve_application

pytestmark = pytest.mark.faults
AT_ONCE = 24
MOST_MORE_MB = 200


@pytest.fixture
def server(tmp_path):
    environ = build_environ("", tmp_path)
    del environ["BENCHNIGHT_DATABASE_URL"]
    run_manage(environ, "migrate", "--verbosity=0")
    run_manage(environ, "collectstatic", "--no-input", "--verbosity=0")
    with serve_application("deploy.wsgi:application", environ) as web:
        yield web


def try_to_sign_in(port: int, name: str) -> int:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=120)) as connection:
        connection.request("GET", "/sign-in/")
        with connection.getresponse() as page:
            token = re.search(rb'name="csrfmiddlewaretoken" value="(\w+)"', page.read())[1].decode()
            cookie = page.headers["Set-Cookie"].split(";")[0]
        body = urlencode({"name": name, "password": "wrong", "csrfmiddlewaretoken": token})
        headers = {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
        connection.request("POST", "/sign-in/", body, headers)
        with connection.getresponse() as reply:
            reply.read()
            return reply.status


def peak_mb(worker: int) -> float:
    status = Path(f"/proc/{worker}/status").read_text(encoding="ascii")
    return int(re.search(r"VmHWM:\s+(\d+) kB", status)[1]) * 1024 / 1e6


def try_all_at_once(port: int) -> list[int]:
    statuses: list[int] = []
    tries = [
        threading.Thread(target=lambda n=n: statuses.append(try_to_sign_in(port, f"nobody-{n}")))
        for n in range(AT_ONCE)
    ]
    for each in tries:
        each.start()
    for each in tries:
        each.join()
    return statuses


def test_memory_of_wrong_sign_ins(server):
    """Of the first two dozen, with what the server loads meanwhile, and of two dozen after them."""
    (worker,) = server.workers()
    assert try_to_sign_in(server.port, "nobody") == 422
    for round_ in ("first", "next"):
        Path(f"/proc/{worker}/clear_refs").write_text("5", encoding="ascii")  # proc(5): resets the peak
        before, begun = peak_mb(worker), time.monotonic()
        assert try_all_at_once(server.port) == [422] * AT_ONCE
        more, took_s = peak_mb(worker) - before, time.monotonic() - begun
        print(f"\n{round_} {AT_ONCE} wrong sign-ins: {before:.0f} MB, {more:.0f} more, {took_s:.1f} s")
        assert more <= MOST_MORE_MB
