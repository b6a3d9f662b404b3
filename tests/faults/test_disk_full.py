"""A full disk: whoever uploads is told so, nothing is half-stored, reading goes on, and room alone mends it.

The disk is full for the server of this test only: its data and its scratch files lie on a small file system
of their own where one can be mounted, and in any case under a limit of file size that is set on its process.
"""

from __future__ import annotations

import base64
import hashlib
import http.client
import json
import os
import resource
import sqlite3
import subprocess
import tempfile
import time
from collections.abc import Callable
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import psycopg
import pytest

from deploy import postgresql
from deploy.benchmarks.stack import RunningServer, build_environ, run_manage, serve_application
from deploy.benchmarks.uploads import build_multipart, make_sweep_file

pytestmark = pytest.mark.faults
ROOM_BYTES = 1024 * 1024  # a dozen sweeps of 401 points
MOST_UPLOADS = 200
FIELDS = {"kind": "common_mode", "calibrated": "true", "measured_on": "2026-10-01"}


@dataclass
class Bench:
    """One running server, somebody's token and device, and what was acknowledged to them."""

    web: RunningServer
    token: str
    device: str = ""
    acknowledged: dict[str, bytes] = field(default_factory=dict)
    _rng: np.random.Generator = field(default_factory=lambda: np.random.default_rng(7))

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str):
        sent = {"Authorization": f"Token {self.token}"} | {k.replace("_", "-"): v for k, v in headers.items()}
        with closing(http.client.HTTPConnection("127.0.0.1", self.web.port, timeout=60)) as connection:
            connection.request(method, path, body, sent)
            with connection.getresponse() as reply:
                return reply.status, reply.headers, reply.read()

    def make(self, path: str, content: dict) -> str:
        status, _, text = self.ask(
            "POST", f"/api/v1/{path}/", json.dumps(content).encode(), Content_Type="application/json"
        )
        assert status == 201, text
        return json.loads(text)["id"]

    def upload(self):
        """One sweep that nobody has sent before."""
        file = make_sweep_file(self._rng)
        body, headers = build_multipart({**FIELDS, "device": self.device}, file)
        status, told, text = self.ask("POST", "/api/v1/tests/", body, **headers)
        if status == 201:
            self.acknowledged[json.loads(text)["id"]] = file
        return status, told, text

    def upload_until_refused(self):
        for _ in range(MOST_UPLOADS):
            status, told, text = self.upload()
            if status != 201:
                return status, told, text
        raise AssertionError(f"{MOST_UPLOADS} uploads went into {ROOM_BYTES} bytes of room")


@dataclass(frozen=True)
class Disk:
    """Where the server keeps its data, and how its disk is made small and large again."""

    name: str
    directory: Path
    shrink: Callable[[RunningServer], None]
    widen: Callable[[RunningServer], None]
    fill: Callable[[RunningServer], None]  # something else takes the last byte


def limited_files(directory: Path):
    """No file of the server's process grows beyond what there is and a little."""

    def limit(web: RunningServer, soft: int) -> None:
        for worker in web.workers():
            resource.prlimit(worker, resource.RLIMIT_FSIZE, (soft, resource.RLIM_INFINITY))

    def shrink(web: RunningServer) -> None:
        limit(web, (directory / "benchnight.sqlite3").stat().st_size + ROOM_BYTES)

    def widen(web: RunningServer) -> None:
        limit(web, resource.RLIM_INFINITY)

    yield Disk("a limit of file size", directory, shrink, widen, lambda web: limit(web, 1))


def small_file_system(directory: Path):
    """A file system in memory that holds nothing but this server's data and its scratch files."""
    if os.getuid() != 0:
        pytest.skip("only root can mount a file system")
    mount = ["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", str(directory)]
    if (mounted := subprocess.run(mount, capture_output=True, text=True)).returncode:
        pytest.skip(f"no file system can be mounted here: {mounted.stderr.strip()}")

    def resize(size_bytes: int) -> None:
        how = f"remount,size={size_bytes}"
        subprocess.run(["mount", "-o", how, str(directory)], check=True, capture_output=True)

    def shrink(_web: RunningServer) -> None:
        found = os.statvfs(directory)
        resize((found.f_blocks - found.f_bfree) * found.f_frsize + ROOM_BYTES)

    def widen(_web: RunningServer) -> None:
        (directory / "filler").unlink()
        resize(64 * 1024 * 1024)

    def fill(_web: RunningServer) -> None:
        with (
            (directory / "filler").open("wb", buffering=0) as filler,
            pytest.raises(OSError, match="No space"),
        ):
            while True:
                filler.write(bytes(4096))

    try:
        yield Disk("a small file system", directory, shrink, widen, fill)
    finally:
        subprocess.run(["umount", str(directory)], check=True)


@pytest.fixture(params=[small_file_system, limited_files], ids=["small file system", "limit of file size"])
def disk(request, tmp_path):
    directory = tmp_path / "var"
    directory.mkdir()
    yield from request.param(directory)


@pytest.fixture
def bench(disk):
    environ = build_environ("", disk.directory)
    del environ["BENCHNIGHT_DATABASE_URL"]
    environ["TMPDIR"] = str(disk.directory)
    with begun(environ) as bench:
        yield bench


@contextmanager
def begun(environ: dict[str, str]):
    """A server on an empty database, and somebody with a device."""
    run_manage(environ, "collectstatic", "--noinput", "--verbosity=0")
    run_manage(environ, "migrate", "--verbosity=0")
    run_manage(environ, "load_reference")
    run_manage(environ, "member", "Full")
    with serve_application("deploy.wsgi:application", environ) as web:
        bench = Bench(web, run_manage(environ, "token", "Full", "--days", "1").strip())
        from tests import factories

        bench.device = bench.make(
            "devices", {"design": bench.make("designs", factories.recipe()), "tag": "C-1"}
        )
        yield bench


PARTS = ("test", "sweepfile", "result")
READ = ("/api/v1/designs/", "/api/v1/tests/", "/api/v1/bands/?format=csv", "/designs/", "/", "/healthz")


def check_reading(bench: Bench) -> int:
    """Everything that was acknowledged comes back byte for byte, and what else is read is there."""
    for key, file in bench.acknowledged.items():
        status, told, content = bench.ask("GET", f"/api/v1/tests/{key}/sweeps/sweep/")
        digest = base64.b64encode(hashlib.sha256(file).digest()).decode()
        assert (status, content, told["Content-Digest"]) == (200, file, f"sha-256=:{digest}:")
    for path in READ:
        assert bench.ask("GET", path)[0] == 200, path
    return len(bench.acknowledged)


def rows(directory: Path) -> dict[str, int]:
    """How many rows there are of what an upload writes; the database is sound and no test lacks a part."""
    with closing(sqlite3.connect(directory / "benchnight.sqlite3")) as database:
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        half = database.execute(
            "SELECT count(*) FROM measurements_test t WHERE "
            "(SELECT count(*) FROM measurements_sweepfile s WHERE s.test_id = t.id) <> 1 OR "
            "(SELECT count(*) FROM measurements_result r WHERE r.test_id = t.id AND r.current) <> 1"
        ).fetchone()
        assert half == (0,)
        tables = ("test", "sweepfile", "result", "auditentry")
        return {
            table: database.execute(f"SELECT count(*) FROM measurements_{table}").fetchone()[0]
            for table in tables
        }


def test_a_full_disk_refuses_uploads_and_nothing_else(bench, disk):
    for _ in range(3):
        assert bench.upload()[0] == 201
    disk.shrink(bench.web)
    refusals = 0
    for _ in range(3):
        status, told, text = bench.upload_until_refused()
        refusals += 1
        problem = json.loads(text)
        assert (status, problem["code"]) == (503, "server.full"), text
        assert int(told["Retry-After"]) > 0 and told["RateLimit"] and told["RateLimit-Policy"]
        assert "nothing of this was stored" in problem["detail"] and "room" in problem["detail"]
    assert check_reading(bench) == rows(disk.directory)["test"] >= 3
    time.sleep(1)  # whatever the server puts away when nobody asks, it has put away
    disk.fill(bench.web)
    status, _, text = bench.upload()
    assert (status, json.loads(text)["code"]) == (503, "server.full"), text
    spooled = build_multipart({**FIELDS, "device": bench.device}, b"! " + b"x" * 3 * ROOM_BYTES)
    status, _, text = bench.ask("POST", "/api/v1/analyse/", spooled[0], **spooled[1])
    assert (status, json.loads(text)["code"]) == (503, "server.full"), text
    check_reading(bench)
    disk.widen(bench.web)
    during = len(bench.acknowledged)
    for _ in range(20):
        status, _, text = bench.upload()
        assert status == 201, text
    found = rows(disk.directory)
    assert check_reading(bench) == found["test"] == found["sweepfile"] == found["result"] == during + 20
    print(
        f"\n{disk.name}: {during} uploads acknowledged before {refusals} refusals with 503, 0 lost, "
        f"0 half-stored, {len(READ)} kinds of reading answered meanwhile; with room again 20 of 20 stored "
        "by the same process"
    )


def small_tablespace(server: postgresql.Server, directory: Path) -> str:
    """The URL of an empty database of this server, on a small file system with nothing else on it."""
    owner = Path(server.socket_directory).stat()
    os.chown(directory, owner.st_uid, owner.st_gid)
    name = f"small_{directory.name.replace('-', '_')}"
    with psycopg.connect(server.url("postgres"), autocommit=True) as connection:
        connection.execute(f"CREATE TABLESPACE small LOCATION '{directory}'")
        connection.execute(f"CREATE DATABASE {name} TABLESPACE small")
    return server.url(name)


def test_postgresql_on_a_full_disk(tmp_path):
    """Its log lies elsewhere, so that only tables are short of room; the server of the database stays up."""
    with (
        postgresql.run_server() as server,
        tempfile.TemporaryDirectory(prefix="benchnight-small-") as directory,
    ):
        for disk in small_file_system(Path(directory)):
            url = small_tablespace(server, disk.directory)
            environ = build_environ(url, tmp_path)
            with begun(environ) as bench:
                assert bench.upload()[0] == 201
                disk.shrink(bench.web)
                for refusals in range(3):
                    if refusals == 1:
                        disk.fill(bench.web)
                    status, told, text = bench.upload_until_refused()
                    assert (status, json.loads(text)["code"]) == (503, "server.full"), text
                    assert int(told["Retry-After"]) > 0
                during = check_reading(bench)
                disk.widen(bench.web)
                for _ in range(5):
                    status, _, text = bench.upload()
                    assert status == 201, text
                with psycopg.connect(url) as connection:
                    count = "SELECT count(*) FROM measurements_"
                    found = {table: connection.execute(count + table).fetchone()[0] for table in PARTS}
                assert set(found.values()) == {check_reading(bench)} == {during + 5}
            with psycopg.connect(server.url("postgres"), autocommit=True) as connection:
                connection.execute(f"DROP DATABASE {url.rpartition('/')[2]} WITH (FORCE)")
                connection.execute("DROP TABLESPACE small")
    print(
        f"\nPostgreSQL in a full tablespace: {during} uploads acknowledged before 3 refusals with 503, "
        "0 lost, 0 half-stored, reading answered meanwhile; with room again 5 of 5 stored by the same process"
    )
