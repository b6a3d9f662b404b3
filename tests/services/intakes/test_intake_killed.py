"""Three hundred files in one go over the API, against real processes: timed, killed in the middle, resumed.

SQLite: the one server process, whose thread does the work, is killed. PostgreSQL: the worker is. The figures
are printed: what it takes until the hand-in is answered, and until its last file is stored.
"""

from __future__ import annotations

import hashlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections import Counter
from contextlib import suppress
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

from tests import club, factories

pytestmark = pytest.mark.faults
ROOT = Path(__file__).resolve().parents[3]
FILES = 300
GUESTS = 30
KILL_AT = 60
PATIENCE_S = 400


class Bench:
    """A server of its own in a directory of its own, and on PostgreSQL a worker beside it."""

    def __init__(self, var: Path, database_url: str) -> None:
        self.environment = {
            **{name: value for name, value in os.environ.items() if not name.startswith("BENCHNIGHT_")},
            "BENCHNIGHT_VAR": str(var),
            "BENCHNIGHT_DATABASE_URL": database_url,
            "BENCHNIGHT_SECRET_KEY": "fault-tests-" * 6,
            "BENCHNIGHT_TOKEN_PER_MINUTE": "100000",
            "BENCHNIGHT_WORKERS": "1",
        }
        self.has_worker = bool(database_url)
        self.port = free_port()
        self.processes: dict[str, subprocess.Popen] = {}
        self.manage("migrate", "-v0")
        self.manage("load_reference", "-v0")
        self.manage("member", "Osric", "--role", "operator")
        self.token = self.manage("token", "Osric").strip()

    def manage(self, *command: str) -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *command],
            cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False, timeout=PATIENCE_S,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    def start(self) -> None:
        bind = f"--bind=127.0.0.1:{self.port}"
        serve = ["gunicorn", "--config=python:deploy.server", bind, "deploy.wsgi:application"]
        if "server" not in self.processes:
            self._run("server", "-m", *serve)
        if self.has_worker and "worker" not in self.processes:
            self._run("worker", "manage.py", "db_worker", "--interval=0.2")
        wait_for(lambda: self.answers(), 60)

    def _run(self, name: str, *command: str) -> None:
        # its own session: gunicorn's master and the process that serves are killed together
        self.processes[name] = subprocess.Popen(
            [sys.executable, *command], cwd=ROOT, env=self.environment, start_new_session=True
        )

    def kill(self, name: str) -> None:
        process = self.processes.pop(name)
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait(30)

    def stop(self) -> None:
        for name in list(self.processes):
            self.kill(name)

    def answers(self) -> bool:
        with suppress(OSError):
            return bool(self.ask("GET", ""))
        return False

    def ask(self, method: str, path: str, body: bytes | None = None, media: str = "application/json"):
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}/api/v1/{path}", data=body, method=method,
            headers={"Authorization": f"Token {self.token}", "Content-Type": media},
        )  # fmt: skip
        with urllib.request.urlopen(request, timeout=120) as reply:
            data = reply.read()
        return json.loads(data) if reply.headers["Content-Type"].startswith("application/json") else data

    def post(self, path: str, **fields):
        return self.ask("POST", path, json.dumps(fields).encode())

    def send(self, path: str, form: dict):
        return self.ask("POST", path, encode_multipart(BOUNDARY, form), MULTIPART_CONTENT)

    def intake(self, key: str):
        return self.ask("GET", f"intakes/{key}/")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(holds, seconds: float, every: float = 0.25) -> None:
    until = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < until, "it took too long"
        time.sleep(every)


def night_of(bench: Bench, design: str, first_seed: int) -> tuple[str, dict, list[bytes]]:
    """A night with its jig, and the form of 300 sweeps of as many devices of 30 guests."""
    night = bench.post("nights/", held_on="2026-05-14", calibrated=True)["id"]
    jig = {role: SimpleUploadedFile(upload.name, upload.data) for role, upload in club.jig().items()}
    assert bench.send(f"nights/{night}/jig/", jig)["good_enough"]
    sweeps = [factories.choke_s2p(seed=first_seed + n) for n in range(FILES)]
    lines = ["file,tag,contributor,kind,method,role,ratio,design"]
    lines += [
        f"{n}.s2p,T-{n},Guest {first_seed}-{n % GUESTS},common_mode,,sweep,1:1,{design}" for n in range(FILES)
    ]
    form = {
        "manifest": SimpleUploadedFile("manifest.csv", "\n".join(lines).encode()),
        "sweep": [SimpleUploadedFile(f"{n}.s2p", data) for n, data in enumerate(sweeps)],
    }
    return night, form, sweeps


def states(bench: Bench, key: str) -> Counter:
    return Counter(file["state"] for file in bench.intake(key)["files"])


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def bench(request, tmp_path):
    url = request.getfixturevalue("postgresql").new_database() if request.param == "postgresql" else ""
    bench = Bench(tmp_path, url)
    try:
        bench.start()
        yield bench
    finally:
        bench.stop()


def test_three_hundred_files_survive_a_kill_in_the_middle(bench, capsys):
    design = bench.post("designs/", **factories.recipe())["id"]

    # timed, undisturbed
    night, form, _ = night_of(bench, design, 10_000)
    began = time.monotonic()
    key = bench.send(f"nights/{night}/intake/", form)["id"]
    answered_s = time.monotonic() - began
    wait_for(lambda: bench.intake(key)["state"] == "done", PATIENCE_S)
    done_s = time.monotonic() - began
    assert states(bench, key) == {"stored": FILES}

    # the same again: nothing new
    began = time.monotonic()
    again = bench.send(f"nights/{night}/intake/", form | reopened(form))["id"]
    wait_for(lambda: bench.intake(again)["state"] == "done", PATIENCE_S)
    again_s = time.monotonic() - began
    assert states(bench, again) == {"already_there": FILES}

    # killed in the middle
    night, form, sweeps = night_of(bench, design, 20_000)
    began = time.monotonic()
    key = bench.send(f"nights/{night}/intake/", form)["id"]
    wait_for(lambda: bench.intake(key)["done"] >= KILL_AT, PATIENCE_S, every=0.1)
    bench.kill("worker" if bench.has_worker else "server")
    killed_s = time.monotonic() - began
    bench.start()
    left = states(bench, key)
    assert left["refused"] == 0 and left["stored"] >= KILL_AT and left["waiting"] > 0, left
    if bench.has_worker:  # what the timer does every minute; the server looks by itself when it starts
        wait_for(lambda: bench.manage("resume_intakes") and states(bench, key)["waiting"] == 0, 120, 3)
    wait_for(lambda: bench.intake(key)["state"] == "done", PATIENCE_S)
    resumed_s = time.monotonic() - began
    whole(bench, key, night, sweeps)
    where = "PostgreSQL with a worker" if bench.has_worker else "the embedded server"
    with capsys.disabled():
        print(
            f"\n{FILES} files on {where}: answered after {answered_s:.1f} s, the last one stored after "
            f"{done_s:.1f} s ({1000 * done_s / FILES:.0f} ms a file); all again (already there) "
            f"{again_s:.1f} s; killed after {killed_s:.1f} s with {left['stored']} stored, all of "
            f"them stored after {resumed_s:.1f} s"
        )


def reopened(form: dict) -> dict:
    """The same files once more: a sent one was read to its end."""
    for files in form.values():
        for file in files if isinstance(files, list) else [files]:
            file.seek(0)
    return form


def whole(bench: Bench, key: str, night: str, sweeps: list[bytes]) -> None:
    """Every file is a test of its own, once, with its own bytes."""
    files = bench.intake(key)["files"]
    assert Counter(file["state"] for file in files) == {"stored": FILES}
    assert len({file["test"] for file in files}) == FILES
    shown = bench.ask("GET", f"nights/{night}/")
    assert (shown["device_count"], shown["test_count"], len(shown["contributors"])) == (FILES, FILES, GUESTS)
    for file in files[:: FILES // 20]:
        test = bench.ask("GET", f"tests/{file['test']}/")
        (own,) = (sweep for sweep in test["sweeps"] if sweep["role"] == "sweep")
        sent = sweeps[int(file["file"].removesuffix(".s2p"))]
        assert own["sha256"] == hashlib.sha256(sent).hexdigest()
        assert bench.ask("GET", f"tests/{file['test']}/sweeps/sweep/") == sent
        assert len(test["sweeps"]) == 4 and test["result"]["summary"]["rejection_judged"] == "compensated"
