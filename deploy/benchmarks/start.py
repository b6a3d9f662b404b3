"""deploy/bench: installs the locked packages, then runs the table inside the environment."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import NoReturn

from deploy import virtualenv
from deploy.virtualenv import ROOT, NotReadyError


def main() -> int:
    try:
        python = virtualenv.ensure_packages(virtualenv.LOCK_CHECK)
    except NotReadyError as error:
        sys.stderr.write(f"\n{error}\n")
        return 1
    return _replace_process(python)


def _replace_process(python: Path) -> NoReturn:
    os.chdir(ROOT)
    command = [str(python), "-m", "deploy.benchmarks.table", *sys.argv[1:]]
    os.execv(command[0], command)  # noqa: S606 no shell is wanted


if __name__ == "__main__":
    sys.exit(main())
