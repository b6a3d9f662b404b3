"""deploy/run: from a bare Python to a running Benchnight. Standard library only.

Environment -> packages -> database, reference data, demo, release, static files (deploy/prepare.py,
inside the environment) -> the production server (deploy/server.py), which replaces this process, so
that a signal reaches it directly.
"""

from __future__ import annotations

import argparse
import fcntl
import json
import os
import socket
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

from deploy import private_files, virtualenv
from deploy.virtualenv import ROOT, NotReadyError, print_progress

ADDRESS = "127.0.0.1"
EVERY_ADDRESS = "0.0.0.0"  # noqa: S104 --lan serves the local network, and says so


def main() -> int:
    private_files.set_umask()
    options = _parse_options()
    try:
        if not options.check:
            _reserve_port(options.port, EVERY_ADDRESS if options.lan else ADDRESS)
        python = virtualenv.ensure_packages(virtualenv.LOCK)
        greeting, variables = _prepare(python, options)
    except NotReadyError as error:
        sys.stderr.write(f"\n{error}\n")
        return 1
    except KeyboardInterrupt:
        sys.stderr.write("\nStopped. Nothing is lost: run it again and it goes on.\n")
        return 130
    if options.check:
        print_progress("Everything is ready; not serving, as --check asks.")
        return 0
    os.environ.update(variables)
    return _serve(python, f"{EVERY_ADDRESS if options.lan else ADDRESS}:{options.port}", greeting)


def _parse_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="deploy/run",
        allow_abbrev=False,
        description="Installs what is needed into .venv, prepares the database under var/ and serves "
        f"Benchnight on {ADDRESS}, or with --lan on the local network. Running it again keeps all data and "
        "starts within seconds.",
        epilog="Settings are environment variables: deploy/SETTINGS.md lists them.",
    )
    parser.add_argument("--port", type=_parse_port, default=8000, metavar="N", help="port to serve on (8000)")
    parser.add_argument(
        "--no-demo", action="store_true", help="leave a new database without the demo scenario"
    )
    parser.add_argument("--check", action="store_true", help="do everything but serve")
    parser.add_argument(
        "--lan", action="store_true", help="serve to the local network, such as this laptop's hotspot"
    )
    return parser.parse_args()


def _parse_port(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and 1 <= int(text) <= 65535):
        raise argparse.ArgumentTypeError(f"{text!r} is not a port: give a number from 1 to 65535")
    return int(text)


def _reserve_port(port: int, address: str) -> None:
    """Refuse early when something already serves here.

    The lock stays open, and so held, until the server ends: SQLite is safe with one serving process.
    """
    var = Path(os.environ.get("BENCHNIGHT_VAR") or ROOT / "var")
    private_files.make_private_directory(var)
    lock = os.open(var / "serving.lock", os.O_RDWR | os.O_CREAT, 0o600)
    if not os.environ.get("BENCHNIGHT_DATABASE_URL"):
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise NotReadyError(f"Benchnight already serves the data in {var}. Stop it first.") from error
        os.set_inheritable(lock, True)
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except OSError as error:
            raise NotReadyError(
                f"Port {port} cannot be used ({error.strerror}). Choose another: deploy/run --port N"
            ) from error


def _prepare(python: Path, options: argparse.Namespace) -> tuple[str, dict[str, str]]:
    """Run deploy/prepare.py inside the environment; return its greeting and the variables of the server."""
    read_end, write_end = os.pipe()
    command = [str(python), "-m", "deploy.prepare", f"--greeting-fd={write_end}", f"--port={options.port}"]
    command += [f"--{name}" for name in ("no-demo", "lan") if getattr(options, name.replace("-", "_"))]
    # a file or a journal keeps what is written into it, and others read that: no steward's link goes there
    if sys.stdout.isatty():
        command.append("--terminal")
    with subprocess.Popen(command, cwd=ROOT, pass_fds=[write_end]) as preparing:
        os.close(write_end)
        with os.fdopen(read_end, encoding="utf-8") as told:
            reply = told.read()
    if preparing.returncode == -2:
        raise KeyboardInterrupt
    if preparing.returncode:
        raise NotReadyError("Benchnight could not be prepared: the reason stands above.")
    handed_over = json.loads(reply)
    return handed_over["greeting"], handed_over["variables"]


def _serve(python: Path, bind: str, greeting: str) -> NoReturn:
    """Replace this process by the server, which prints the greeting once it listens.

    The greeting holds sign-in links: it goes through a pipe, not through arguments that any user of the
    machine can list.
    """
    read_end, write_end = os.pipe()
    os.write(write_end, greeting.encode())
    os.close(write_end)
    os.set_inheritable(read_end, True)
    os.chdir(ROOT)
    os.environ["BENCHNIGHT_GREETING_FD"] = str(read_end)
    command = [str(python), "-m", "gunicorn", "--config=python:deploy.server", f"--bind={bind}"]
    os.execv(command[0], [*command, "deploy.wsgi:application"])  # noqa: S606 no shell is wanted


if __name__ == "__main__":
    sys.exit(main())
