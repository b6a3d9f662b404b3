"""A worker of background tasks beside the web server that deploy/run started on PostgreSQL.

Starts `manage.py db_worker` anew whenever it ends, and ends with the web server. A server with units has
benchnight-worker.service instead.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from types import FrameType

from deploy.virtualenv import ROOT

LOOK_S = 1.0
RESTART_S = 5.0
STOP_S = 25.0


def main() -> int:
    """Run until the process that started this one is gone, or until SIGTERM."""
    parent = os.getppid()
    signal.signal(signal.SIGTERM, _stop)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the server ends this one
    try:
        while os.getppid() == parent:
            _run_worker(parent)
            time.sleep(RESTART_S)
    except SystemExit:
        return 0
    return 0


def _stop(_signal: int, _frame: FrameType | None) -> None:
    raise SystemExit


def _run_worker(parent: int) -> None:
    """Run one worker until it ends or the parent does; let it finish the task at hand."""
    worker = subprocess.Popen(
        [sys.executable, "manage.py", "db_worker"],
        cwd=ROOT,
        start_new_session=True,  # Ctrl-C is for the server; the worker gets its own signal below
    )
    try:
        while worker.poll() is None and os.getppid() == parent:
            time.sleep(LOOK_S)
    finally:
        if worker.poll() is None:
            worker.terminate()
            try:
                worker.wait(STOP_S)
            except subprocess.TimeoutExpired:
                worker.kill()
                worker.wait()


if __name__ == "__main__":
    sys.exit(main())
