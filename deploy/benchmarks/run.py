"""What one run of the benchmarks shares: a PostgreSQL server, filled databases, servers started on them."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from deploy import postgresql
from deploy.benchmarks import stack
from deploy.benchmarks.stack import Served
from deploy.environment import ROOT


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
        """Whether figures are wanted in a minute, from fewer repetitions."""
        return self.rounds < 100

    def group(self, tests: int) -> Group:
        """The group of so many tests, filled when it is first asked for; a quick run fills all at once."""
        if tests not in self.groups:
            self._fill(self.sizes if self.is_quick else (tests,))
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

    def _fill(self, sizes: Sequence[int]) -> None:
        """Fills data sets side by side, then makes their releases in turn, because those are timed."""
        vars_ = [self.scratch / f"var-{tests}" for tests in sizes]
        for var in vars_:
            var.mkdir()
        environs = [stack.variables(self.server.new_database(), var) for var in vars_]
        with ThreadPoolExecutor() as pool:
            collected = pool.submit(self._collect_static, environs[0], vars_)
            filled = list(pool.map(_filled, sizes, environs))
            collected.result()
        for tests, environ, (device, token) in zip(sizes, environs, filled, strict=True):
            self.groups[tests] = Group(tests, environ, token, device, *make_release(environ))

    def _collect_static(self, environ: dict[str, str], vars_: Sequence[Path]) -> None:
        """Static files do not depend on the data: they are collected once, and linked to from then on."""
        if self.static is None:
            stack.manage(environ, "collectstatic", "--noinput", "--verbosity=0")
            self.static = vars_[0] / "static"
        for var in vars_:
            if var != self.static.parent:
                (var / "static").symlink_to(self.static, target_is_directory=True)


def _filled(tests: int, environ: dict[str, str]) -> tuple[str, str]:
    """Fills a database in a process of its own; the key of a device in it and its owner's token."""
    command = [sys.executable, "-m", "deploy.benchmarks.filling", "--token", str(tests)]
    done = subprocess.run(command, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True)
    device, token = done.stdout.split()
    return device, token


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
