"""Makes `.venv` and installs a lock file into it. Standard library only: nothing is installed yet.

A mark inside the environment holds the hash of the lock and the Python that it was installed for, so
that a second start installs nothing and asks no package index.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / "deploy" / "lock.txt"
LOCK_CHECK = ROOT / "deploy" / "lock-check.txt"
OLDEST_PYTHON = (3, 11)
LINES_BETWEEN_PROGRESS = 10


class NotReadyError(Exception):
    """The environment cannot be made; the text says what to do."""


def print_progress(line: str) -> None:
    """One line of progress, at once also into a pipe."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def get_location() -> Path:
    """Return the path of the environment: `.venv` beside manage.py, or BENCHNIGHT_VENV."""
    return Path(os.environ.get("BENCHNIGHT_VENV") or ROOT / ".venv").absolute()


def ensure_packages(lock: Path) -> Path:
    """Return the Python of an environment that holds everything in `lock`.

    Raises NotReadyError when the environment cannot be made or filled.
    """
    venv = get_location()
    python = venv / "bin" / "python"
    version = _find_version(python)
    if version is None:
        _make_environment(venv)
        version = _find_version(python)
        if version is None:
            raise NotReadyError(f"The new environment {venv} does not run. Remove it and start again.")
    # what the checks need includes what the server needs, in the same versions (a test compares them)
    if any(_read_mark(venv, each) == _compute_mark(each, version) for each in {lock, LOCK_CHECK}):
        return python
    _install(python, lock)
    _mark_path(venv, lock).write_text(_compute_mark(lock, version), encoding="ascii")
    return python


def _find_version(python: Path) -> str | None:
    """Return `3.11.7` and the like, or None when the environment is missing, too old or broken."""
    if not python.exists():
        return None
    code = "import sys, pip; print('.'.join(map(str, sys.version_info[:3])), sys.prefix != sys.base_prefix)"
    try:
        asked = subprocess.run(
            [str(python), "-I", "-c", code], capture_output=True, text=True, timeout=60, check=False
        )
    except OSError:
        return None
    words = asked.stdout.split()
    if asked.returncode or len(words) != 2 or words[1] != "True":
        return None
    return words[0] if tuple(int(part) for part in words[0].split(".")[:2]) >= OLDEST_PYTHON else None


def _make_environment(venv: Path) -> None:
    """Create an environment at `venv`; replace one that no longer works, leave anything else alone."""
    if venv.exists():
        if not (venv / "pyvenv.cfg").exists() and any(venv.iterdir()):
            raise NotReadyError(f"{venv} is not a virtual environment. Move it away and start again.")
        print_progress(
            f"The environment in {venv.name}/ was made by a Python that is gone or too old: making it again"
        )
        shutil.rmtree(venv)
    try:
        import ensurepip  # noqa: F401
        import venv as standard_venv  # noqa: F401
    except ImportError as error:
        raise NotReadyError(_describe_missing_venv()) from error
    print_progress(f"Making a virtual environment in {venv.name}/ with Python {sys.version.split()[0]}")
    made = subprocess.run(
        [sys.executable, "-m", "venv", str(venv)], capture_output=True, text=True, check=False
    )
    if made.returncode:
        shutil.rmtree(venv, ignore_errors=True)
        raise NotReadyError(f"{_describe_missing_venv()}\nPython said: {(made.stdout + made.stderr).strip()}")


def _describe_missing_venv() -> str:
    major, minor = sys.version_info[:2]
    return (
        f"This Python {major}.{minor} cannot make a virtual environment: a part of it is packaged apart.\n"
        f"  Debian, Ubuntu, Raspberry Pi OS:  sudo apt-get install python{major}.{minor}-venv"
    )


def _install(python: Path, lock: Path) -> None:
    wanted = sum("==" in line for line in lock.read_text(encoding="utf-8").splitlines())
    print_progress(f"Installing {wanted} packages of deploy/{lock.name} (needs the network, this once)")
    command = [str(python), "-m", "pip", "install", "--require-hashes", "--no-input", "-r", str(lock)]
    environment = {**os.environ, "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_USER": "0"}
    tail: list[str] = []
    seen = 0
    with subprocess.Popen(
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as pip:
        for line in pip.stdout or ():
            tail = [*tail[-14:], line.rstrip()]
            if line.startswith(("Collecting", "Requirement already")):
                seen += 1
                if seen % LINES_BETWEEN_PROGRESS == 0:
                    print_progress(f"  {seen} of {wanted} found")
            elif line.startswith("Installing collected"):
                print_progress("  unpacking")
    if pip.returncode:
        raise NotReadyError(
            "The packages could not be installed. Is the network reachable? "
            "The installer's last lines were:\n  " + "\n  ".join(tail)
        )


def _mark_path(venv: Path, lock: Path) -> Path:
    return venv / f"installed-{lock.stem}"


def _read_mark(venv: Path, lock: Path) -> str | None:
    path = _mark_path(venv, lock)
    return path.read_text(encoding="ascii") if path.exists() else None


def _compute_mark(lock: Path, version: str) -> str:
    return f"{hashlib.sha256(lock.read_bytes()).hexdigest()} {version}\n"
