"""Starts what is measured: PostgreSQL out of its wheel, and gunicorn as it serves in production."""

from __future__ import annotations

import os
import secrets
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.client import HTTPConnection
from pathlib import Path

from deploy import postgresql, server
from deploy.environment import ROOT

# limits on how often one client may ask would measure themselves
UNLIMITED = {
    f"BENCHNIGHT_{name}": "1000000000"
    for name in (
        "ANONYMOUS_PER_MINUTE",
        "TOKEN_PER_MINUTE",
        "ANALYSE_PER_MINUTE",
        "DRAWINGS_PER_MINUTE",
        "UPLOADS_PER_HOUR",
        "MEMBER_BYTES",
    )
}

START_S = 60.0


def build_environ(database_url: str, var: Path) -> dict[str, str]:
    """Return the environment of every process of one run."""
    return {
        **{name: value for name, value in os.environ.items() if not name.startswith("BENCHNIGHT_")},
        **UNLIMITED,
        "BENCHNIGHT_DATABASE_URL": database_url,
        "BENCHNIGHT_SECRET_KEY": os.environ.setdefault("BENCH_SECRET", secrets.token_urlsafe(64)),
        "BENCHNIGHT_VAR": str(var),
    }


def run_manage(environ: dict[str, str], *words: str) -> str:
    """Run one of our commands and answer what it printed. Raises CalledProcessError where it fails."""
    command = [sys.executable, "manage.py", *words]
    done = subprocess.run(command, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True)
    return done.stdout


@dataclass(frozen=True)
class RunningServer:
    """A running server: its port, and the process ids of its workers."""

    port: int
    master: int

    def workers(self) -> list[int]:
        listed = Path(f"/proc/{self.master}/task/{self.master}/children").read_text(encoding="ascii")
        return [int(word) for word in listed.split()]

    def resident_bytes(self) -> int:
        """Return resident memory of the workers (RSS), in bytes; summed over them.

        Pages of libraries count in full, also where other processes hold them as well. What nobody else holds
        (USS) falls by 25 MB while anything else on the machine has the same libraries loaded.
        """
        total = 0
        for worker in self.workers():
            rollup = Path(f"/proc/{worker}/smaps_rollup").read_text(encoding="ascii")
            total += sum(
                int(line.split()[1]) * 1024 for line in rollup.splitlines() if line.startswith("Rss:")
            )
        return total


@contextmanager
def serve_application(
    application: str, environ: dict[str, str], *, workers: int = 1, bare: bool = False
) -> Iterator[RunningServer]:
    """Yield gunicorn as in production on a free port, stopped on leaving.

    bare: with the same kind of workers, but without what our own configuration starts beside them.
    """
    port = _free_port()
    kind = [f"--worker-class={server.worker_class}", f"--threads={server.threads}"]
    kind += [f"--keep-alive={server.keepalive}", "--log-level=warning", "--no-control-socket"]
    command = [sys.executable, "-m", "gunicorn"]
    command += kind if bare else ["--config=python:deploy.server"]
    command += [f"--bind=127.0.0.1:{port}", f"--workers={workers}", application]
    with subprocess.Popen(command, cwd=ROOT, env=environ) as process:
        try:
            _wait_until_ready(port, process)
            yield RunningServer(port, process.pid)
        finally:
            process.terminate()
            process.wait(timeout=40)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_until_ready(port: int, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + START_S
    while time.monotonic() < until:
        if process.poll() is not None:
            raise RuntimeError(f"The server ended with {process.returncode} before it answered.")
        try:
            connection = HTTPConnection("127.0.0.1", port, timeout=30)
            connection.request("GET", "/healthz")
            connection.getresponse().read()
            connection.close()
            return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError("The server did not answer in time.")


# What one run of the benchmarks shares: a PostgreSQL server, filled databases, servers started on them.


@dataclass(frozen=True)
class Group:
    """A filled database with a release made.

    environ: of every process on it. device: key of one of the member's devices, token: that member's.
    release_s, files_s: how long the release and its files took.
    """

    tests: int
    environ: dict[str, str]
    token: str
    device: str
    release_s: float
    files_s: float


@dataclass
class Run:
    """One run.

    sizes: numbers of tests of the data sets. rounds: repetitions of quick measurements. static: directory of
    the collected static files, once they are there.
    """

    scratch: Path
    server: postgresql.Server
    sizes: tuple[int, ...]
    rounds: int
    groups: dict[int, Group] = field(default_factory=dict)
    static: Path | None = None

    @property
    def is_quick(self) -> bool:
        """Say whether figures are wanted in a minute, from fewer repetitions."""
        return self.rounds < 100

    def group(self, tests: int) -> Group:
        """Return the group of so many tests, filled when it is first asked for; a quick run fills all at
        once.
        """
        if tests not in self.groups:
            self._fill(self.sizes if self.is_quick else (tests,))
        return self.groups[tests]

    @contextmanager
    def product(self, group: Group, *, workers: int = 1) -> Iterator[RunningServer]:
        """Yield Benchnight serving this group."""
        with serve_application("deploy.wsgi:application", group.environ, workers=workers) as served:
            yield served

    @contextmanager
    def floor(self, group: Group, replies: dict[str, bytes] | None = None) -> Iterator[RunningServer]:
        """Yield the bare application on the same database. replies: what it answers under `/replies/NAME`."""
        with tempfile.TemporaryDirectory(dir=self.scratch) as directory:
            for name, body in (replies or {}).items():
                (Path(directory) / name).write_bytes(body)
            environ = {**group.environ, "BENCH_REPLIES": directory}
            make = "from deploy.benchmarks import floor; floor.make_table()"
            subprocess.run([sys.executable, "-c", make], cwd=ROOT, env=environ, check=True)
            with serve_application("deploy.benchmarks.floor:application", environ, bare=True) as served:
                yield served

    @contextmanager
    def plain(self, group: Group) -> Iterator[tuple[RunningServer, str, str]]:
        """Yield the plain service over the same designs and figures: its server, a device, its owner's
        token.
        """
        environ = build_environ(self.server.new_database(), self.scratch)
        url = group.environ["BENCHNIGHT_DATABASE_URL"]
        command = [sys.executable, "-m", "deploy.benchmarks.plain.filling", url]
        done = subprocess.run(command, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True)
        device, token = done.stdout.split()
        application = "deploy.benchmarks.plain.service:application"
        with serve_application(application, environ, bare=True) as served:
            yield served, device, token

    def _fill(self, sizes: Sequence[int]) -> None:
        """Fill data sets side by side, then make their releases in turn, because those are timed."""
        vars_ = [self.scratch / f"var-{tests}" for tests in sizes]
        for var in vars_:
            var.mkdir()
        environs = [build_environ(self.server.new_database(), var) for var in vars_]
        with ThreadPoolExecutor() as pool:
            collected = pool.submit(self._collect_static, environs[0], vars_)
            filled = list(pool.map(_fill_database, sizes, environs))
            collected.result()
        for tests, environ, (device, token) in zip(sizes, environs, filled, strict=True):
            self.groups[tests] = Group(tests, environ, token, device, *make_release(environ))

    def _collect_static(self, environ: dict[str, str], vars_: Sequence[Path]) -> None:
        """Link static files, collected once: they do not depend on the data."""
        if self.static is None:
            run_manage(environ, "collectstatic", "--noinput", "--verbosity=0")
            self.static = vars_[0] / "static"
        for var in vars_:
            if var != self.static.parent:
                (var / "static").symlink_to(self.static, target_is_directory=True)


def _fill_database(tests: int, environ: dict[str, str]) -> tuple[str, str]:
    """Fill a database in a process of its own; the key of a device in it and its owner's token."""
    command = [sys.executable, "-m", "deploy.benchmarks.filling", "--token", str(tests)]
    done = subprocess.run(command, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True)
    device, token = done.stdout.split()
    return device, token


def make_release(environ: dict[str, str]) -> tuple[float, float]:
    """Make a release in a process of its own; the seconds that the release took there, and its files."""
    command = [sys.executable, "-m", "deploy.benchmarks.make_release"]
    done = subprocess.run(command, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True)
    made_s, files_s = done.stdout.split()[-2:]
    return float(made_s), float(files_s)


@contextmanager
def open_run(sizes: tuple[int, ...], *, rounds: int) -> Iterator[Run]:
    """Yield a run with its PostgreSQL, both gone on leaving."""
    with (
        postgresql.run_server() as server,
        tempfile.TemporaryDirectory(prefix="benchnight-bench-") as scratch,
    ):
        yield Run(Path(scratch), server, sizes, rounds)
