"""Fifty members upload at once while others read: nobody is refused, nobody waits for long alone."""

from __future__ import annotations

import http.client
import json
import subprocess
import sys
import threading
import time
from contextlib import closing

import numpy as np
import pytest

from deploy.benchmarks.stack import build_environ, run_manage, serve_application
from deploy.benchmarks.uploads import build_multipart, make_sweep_file
from deploy.virtualenv import ROOT

pytestmark = pytest.mark.faults
MEMBERS, EACH, READERS, TWINS = 50, 4, 8, 20
# one device and one token for each member, made through the real path
PEOPLE = """
import json, sys, django
django.setup()
from measurements.selectors.accounts import viewers
from measurements.services.accounts import access_tokens, accounts
from measurements.services.designs import designs
from measurements.services.devices import devices
from tests import factories
found = []
for number in range(int(sys.argv[1])):
    name = f"member-{number}"
    accounts.ensure_member(name=name)
    by = viewers.find_viewer(name)
    design = designs.register_design(by=by, recipe_given=factories.recipe(turns=8 + number % 5)).key
    token = access_tokens.issue_token(name=name, days=1)
    found.append([token, devices.register_device(by=by, design=design, tag="C-1").key])
print(json.dumps(found))
"""


@pytest.fixture(scope="module")
def group(tmp_path_factory):
    """(server, [(token, device)] of fifty members) on the embedded database."""
    var = tmp_path_factory.mktemp("many")
    environ = build_environ("", var)
    del environ["BENCHNIGHT_DATABASE_URL"]
    environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings"
    run_manage(environ, "migrate", "--verbosity=0")
    run_manage(environ, "load_reference")
    made = subprocess.run(
        [sys.executable, "-c", PEOPLE, str(MEMBERS)],
        cwd=ROOT,
        env=environ,
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    with serve_application("deploy.wsgi:application", environ) as web:
        yield web, json.loads(made.stdout.splitlines()[-1])


def ask(port: int, method: str, path: str, body: bytes | None = None, **headers: str) -> tuple[int, bytes]:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=120)) as connection:
        connection.request(method, path, body, headers)
        with connection.getresponse() as reply:
            return reply.status, reply.read()


def upload(port: int, token: str, device: str, file: bytes) -> tuple[int, str]:
    fields = {"kind": "common_mode", "calibrated": "true", "measured_on": "2026-10-01", "device": device}
    body, headers = build_multipart(fields, file)
    status, content = ask(port, "POST", "/api/v1/tests/", body, Authorization=f"Token {token}", **headers)
    return status, json.loads(content).get("id", "")


def at_once(work: list) -> None:
    threads = [threading.Thread(target=each) for each in work]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def test_twenty_identical_uploads_make_one_test(group):
    web, ((token, device), *_) = group
    file, answers = make_sweep_file(np.random.default_rng(1)), []
    at_once([lambda: answers.append(upload(web.port, token, device, file))] * TWINS)
    assert sorted(status for status, _ in answers) == [200] * (TWINS - 1) + [201]
    assert len({key for _, key in answers}) == 1
    print(f"\n{TWINS} identical uploads at once: 1 stored, {TWINS - 1} found it")


def test_fifty_members_upload_while_others_read(group):
    web, people = group
    took: dict[str, list[float]] = {}
    statuses: list[int] = []
    reading, stop = [], threading.Event()

    def member(number: int) -> None:
        token, device = people[number]
        files = [make_sweep_file(np.random.default_rng(1000 + EACH * number + each)) for each in range(EACH)]
        own = took.setdefault(device, [])
        for file in files:
            began = time.monotonic()
            statuses.append(upload(web.port, token, device, file)[0])
            own.append(time.monotonic() - began)

    def reader() -> None:
        while not stop.is_set():
            began = time.monotonic()
            status, _ = ask(web.port, "GET", "/api/v1/designs/?band=40m")
            reading.append((status, time.monotonic() - began))

    readers = [threading.Thread(target=reader) for _ in range(READERS)]
    for thread in readers:
        thread.start()
    at_once([lambda number=number: member(number) for number in range(MEMBERS)])
    stop.set()
    for thread in readers:
        thread.join()
    middle = float(np.median([second for own in took.values() for second in own]))
    slowest = max(float(np.median(own)) for own in took.values())
    read = float(np.median([second for _, second in reading]))
    print(
        f"\n{MEMBERS} members, {EACH} uploads each, {READERS} readers: {len(statuses)} stored, 0 refused; "
        f"upload {middle:.2f} s in the middle, slowest member {slowest / middle:.1f} x that; "
        f"{len(reading)} reads, {read:.2f} s in the middle"
    )
    assert statuses == [201] * (MEMBERS * EACH)
    assert {status for status, _ in reading} == {200}
