"""The production server reads its settings as they are meant."""

import http.client
import os
import socket
import subprocess
import sys
import time

import pytest
from gunicorn.app.wsgiapp import WSGIApplication

from deploy import server
from deploy.virtualenv import ROOT


def test_gunicorn_takes_every_setting_and_opens_no_socket_of_commands(monkeypatch):
    """As gunicorn itself reads them, which refuses a name that it does not know."""
    monkeypatch.setattr("sys.argv", ["gunicorn", "--config=python:deploy.server", "deploy.wsgi:application"])
    read = WSGIApplication("", prog="gunicorn").cfg
    assert read.control_socket_disable is True
    assert read.address == [("127.0.0.1", 8000)] and read.accesslog is None
    assert (read.timeout, read.threads, read.workers) == (server.timeout, server.threads, server.workers)


HANDED_OVER = """
import os, socket, sys
door = socket.socket(socket.AF_UNIX)
door.bind(sys.argv[1])
os.chmod(sys.argv[1], 0o600)
door.listen()
os.dup2(door.fileno(), 3)
os.set_inheritable(3, True)
os.environ.update(LISTEN_FDS="1", LISTEN_PID=str(os.getpid()))
command = ["-m", "gunicorn", "--config=python:deploy.server", "deploy.wsgi:application"]
os.execv(sys.executable, [sys.executable, *command])
"""


class SocketConnection(http.client.HTTPConnection):
    """Over a socket that is a file."""

    def __init__(self, path: str) -> None:
        super().__init__("127.0.0.1", timeout=120)
        self.path = path

    def connect(self) -> None:
        self.sock = socket.socket(socket.AF_UNIX)
        self.sock.settimeout(120)
        self.sock.connect(self.path)


def _wait_for(door: str) -> None:
    """Wait until somebody listens there."""
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        with socket.socket(socket.AF_UNIX) as tried:
            if tried.connect_ex(door) == 0:
                return
        time.sleep(0.1)


def test_it_answers_at_the_socket_that_systemd_hands_over_and_nowhere_else(tmp_path):
    """As sd_listen_fds(3) describes it. Figures are for who opens the socket, not for whom a proxy asks."""
    door = str(tmp_path / "door")
    kept = {name: value for name, value in os.environ.items() if not name.startswith("BENCHNIGHT_")}
    server = subprocess.Popen(
        [sys.executable, "-c", HANDED_OVER, door],
        cwd=ROOT,
        env={**kept, "BENCHNIGHT_VAR": str(tmp_path / "var")},
        stderr=subprocess.DEVNULL,  # a pipe that nobody reads would stop the server
    )
    try:
        _wait_for(door)
        statuses = {}
        for headers in ({}, {"X-Forwarded-For": "192.0.2.7"}):
            connection = SocketConnection(door)
            connection.request("GET", "/metrics", headers=headers)
            statuses[tuple(headers)] = connection.getresponse().status
            connection.close()
        # this server has no tables, so that its page for what it hides fails too
        assert statuses[()] == 200 and statuses["X-Forwarded-For",] in (404, 500)
        with pytest.raises(ConnectionRefusedError), socket.create_connection(("127.0.0.1", 8000), timeout=2):
            pass
    finally:
        server.terminate()
        server.wait(timeout=60)
