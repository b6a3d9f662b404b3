"""Settings of the production server (gunicorn -c python:deploy.server deploy.wsgi:application).

SQLite: one process with threads, because several writing processes can in rare cases corrupt a
write-ahead log. PostgreSQL: as many processes as BENCHNIGHT_WORKERS says, by default one per processor.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from typing import Any

from deploy import environment, logs, private_files

private_files.set_umask()

_given = environment.read_environment()

umask = private_files.UMASK
bind = "127.0.0.1:8000"
worker_class = "gthread"
workers = environment.count_processes(_given)
threads = 8
# the arrays here are small: a linear-algebra thread per processor under each of these eight only gets in the
# way of the others (a prediction's search took twice as long with them)
raw_env = ["OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1"]
# an upload over a slow link may take minutes; the worker's heartbeat is what this watches
timeout = 120
graceful_timeout = 25
keepalive = 5
# the API refuses addresses of half this length itself, as a problem; the server's own refusal is a page
limit_request_line = 8190
# nobody talks to a running server but over its address: its own socket of commands would be one more way in,
# and would lie where the units do not let it write
control_socket_disable = True
# addresses and paths of visitors are not kept: errors are logged by deploy/logs.py, visits by nobody
accesslog = None
loglevel = "warning"
# gunicorn's own handler would print a client's address, and what was sent, of a request that it cannot read
logconfig_dict = logs.build_logging_settings("WARNING")


def post_worker_init(_worker: Any) -> None:
    """Take up the intakes that an earlier process left unfinished; judge devices that wait."""
    from deploy import background, databases
    from measurements.charts import rendering

    databases.hold_database_open()
    background.resume_unfinished_intakes()
    background.keep_service_states()
    # now, so that no reader waits for the engine and a worker's memory does not grow by it later
    threading.Thread(target=rendering.start_engine, name="drawing engine", daemon=True).start()


def worker_exit(_server: Any, _worker: Any) -> None:
    """Leave one whole file behind."""
    from deploy import databases

    databases.close_held_database()


def when_ready(server: Any) -> None:
    """Start the worker of deploy/run, and print its greeting now that the address answers."""
    handed_over = os.environ.pop("BENCHNIGHT_GREETING_FD", None)
    if handed_over is None:
        return
    if _given["DATABASE_URL"].startswith("postgres"):
        server.task_worker = subprocess.Popen([sys.executable, "-m", "deploy.task_worker"])
    with os.fdopen(int(handed_over), encoding="utf-8") as greeting:
        print(greeting.read(), flush=True)  # noqa: T201 the one thing that deploy/run says on standard output


def on_exit(server: Any) -> None:
    """End the worker of deploy/run with the server."""
    worker = getattr(server, "task_worker", None)
    if worker is not None:
        worker.terminate()
        worker.wait()
