"""Keep what lies under `var` to the user that serves. Standard library only.

Database, secret key and backups hold everything; a neighbour on the machine reads none of it.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

UMASK = 0o077
DIRECTORY_MODE, FILE_MODE = 0o700, 0o600
DATABASE = "benchnight.sqlite3"
OURS = (DATABASE, "secret_key", "serving.lock")  # a directory that holds one of these is ours


def set_umask() -> None:
    """Keep to this user what this process and those that it starts write from now on."""
    os.umask(UMASK)


def make_private_directory(var: Path) -> None:
    """Make `var` for its owner alone; one that is there is closed to others where it is clearly ours."""
    if not var.exists():
        var.mkdir(mode=DIRECTORY_MODE, parents=True, exist_ok=True)
        var.chmod(DIRECTORY_MODE)  # whatever the umask takes or leaves
    elif any((var / name).exists() for name in OURS):
        _tighten(var, DIRECTORY_MODE)


def protect_files(var: Path) -> None:
    """Close to others what an older version left open: the directory, the database, and the backups."""
    make_private_directory(var)
    backups = var / "backups"
    if backups.is_dir():
        _tighten(backups, DIRECTORY_MODE)
    for file in [*var.glob(f"{DATABASE}*"), *backups.glob("*")]:
        if file.is_file():
            _tighten(file, FILE_MODE)


def _tighten(path: Path, mode: int) -> None:
    """Take rights away, never give any; what belongs to another user, or to everybody as /tmp, is left."""
    found = path.lstat()
    now = stat.S_IMODE(found.st_mode)
    if found.st_uid == os.geteuid() and not now & stat.S_ISVTX and not path.is_symlink() and now & ~mode:
        path.chmod(now & mode)
