"""What one run of the benchmarks shares: a PostgreSQL server, filled databases, servers started on them."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from deploy import postgresql
from deploy.benchmarks import stack
from deploy.benchmarks.stack import Served
from deploy.environment import ROOT

MEMBER = "Bench"


@dataclass(frozen=True)
class Group:
    """A filled database with a release made.

    environ: of every process on it. device: key of one of the member's devices, token: that member's.
    fill_s, release_s, files_s: how long filling, the release and its files took.
    """

    tests: int
    environ: dict[str, str]
    token: str
    device: str
    fill_s: float
    release_s: float
    files_s: float


@dataclass
class Run:
    """One run. sizes: numbers of tests of the data sets; rounds: repetitions of quick measurements."""

    scratch: Path
    server: postgresql.Server
    sizes: tuple[int, ...]
    rounds: int
    groups: dict[int, Group] = field(default_factory=dict)

    def group(self, tests: int) -> Group:
        """The group of so many tests, filled when it is first asked for."""
        if tests not in self.groups:
            self.groups[tests] = self._filled(tests)
        return self.groups[tests]

    @contextmanager
    def product(self, group: Group, *, workers: int = 1) -> Iterator[Served]:
        """Benchnight serving this group."""
        with stack.serving("deploy.wsgi:application", group.environ, workers=workers) as served:
            yield served

    @contextmanager
    def floor(self, group: Group, replies: dict[str, bytes] | None = None) -> Iterator[Served]:
        """The bare application on the same database. replies: what it answers under `/replies/NAME`."""
        with tempfile.TemporaryDirectory(dir=self.scratch) as directory:
            for name, body in (replies or {}).items():
                (Path(directory) / name).write_bytes(body)
            environ = {**group.environ, "BENCH_REPLIES": directory}
            make = "from deploy.benchmarks import floor; floor.make_table()"
            subprocess.run([sys.executable, "-c", make], cwd=ROOT, env=environ, check=True)
            with stack.serving("deploy.benchmarks.floor:application", environ, bare=True) as served:
                yield served

    def _filled(self, tests: int) -> Group:
        var = self.scratch / f"var-{tests}"
        var.mkdir()
        environ = stack.variables(self.server.new_database(), var)
        began = time.monotonic()
        filling = [sys.executable, "-m", "deploy.benchmarks.filling", str(tests)]
        device = subprocess.run(
            filling, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True
        ).stdout.strip()
        filled = time.monotonic()
        release_s, files_s = make_release(environ)
        token = stack.manage(environ, "token", MEMBER, "--days", "2").strip()
        stack.manage(environ, "collectstatic", "--noinput", "--verbosity=0")
        return Group(tests, environ, token, device, filled - began, release_s, files_s)


def make_release(environ: dict[str, str]) -> tuple[float, float]:
    """Makes a release in a process of its own; the seconds that the release took there, and its files."""
    command = [sys.executable, "-m", "deploy.benchmarks.make_release"]
    done = subprocess.run(command, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True)
    made_s, files_s = done.stdout.split()[-2:]
    return float(made_s), float(files_s)


@contextmanager
def running(sizes: tuple[int, ...], *, rounds: int) -> Iterator[Run]:
    """A run with its PostgreSQL, both gone on leaving."""
    with (
        postgresql.running() as server,
        tempfile.TemporaryDirectory(prefix="benchnight-bench-") as scratch,
    ):
        yield Run(Path(scratch), server, sizes, rounds)
