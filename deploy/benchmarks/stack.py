"""Starts what is measured: PostgreSQL out of its wheel, and gunicorn as it serves in production."""

from __future__ import annotations

import os
import secrets
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.client import HTTPConnection
from pathlib import Path

from deploy import server
from deploy.environment import ROOT

# limits on how often one client may ask would measure themselves
UNLIMITED = {
    f"BENCHNIGHT_{name}": "1000000000"
    for name in (
        "ANONYMOUS_PER_MINUTE",
        "TOKEN_PER_MINUTE",
        "ANALYSE_PER_MINUTE",
        "UPLOADS_PER_HOUR",
        "MEMBER_BYTES",
    )
}
START_S = 60.0


def variables(database_url: str, var: Path) -> dict[str, str]:
    """The environment of every process of one run."""
    return {
        **{name: value for name, value in os.environ.items() if not name.startswith("BENCHNIGHT_")},
        **UNLIMITED,
        "BENCHNIGHT_DATABASE_URL": database_url,
        "BENCHNIGHT_SECRET_KEY": os.environ.setdefault("BENCH_SECRET", secrets.token_urlsafe(64)),
        "BENCHNIGHT_VAR": str(var),
    }


def manage(environ: dict[str, str], *words: str) -> str:
    """Runs one of our commands and answers what it printed. Raises CalledProcessError where it fails."""
    command = [sys.executable, "manage.py", *words]
    done = subprocess.run(command, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True)
    return done.stdout


@dataclass(frozen=True)
class Served:
    """A running server: its port, and the process ids of its workers."""

    port: int
    master: int

    def workers(self) -> list[int]:
        listed = Path(f"/proc/{self.master}/task/{self.master}/children").read_text(encoding="ascii")
        return [int(word) for word in listed.split()]

    def resident_bytes(self) -> int:
        """Resident memory of the workers (RSS), in bytes; summed over them.

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
def serving(
    application: str, environ: dict[str, str], *, workers: int = 1, bare: bool = False
) -> Iterator[Served]:
    """gunicorn as in production on a free port, stopped on leaving.

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
            _wait(port, process)
            yield Served(port, process.pid)
        finally:
            process.terminate()
            process.wait(timeout=40)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait(port: int, process: subprocess.Popen[bytes]) -> None:
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
