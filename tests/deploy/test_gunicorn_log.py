"""The log says what is wrong with a request that cannot be read, not who sent it or what it held."""

from __future__ import annotations

import re
import socket

from deploy.benchmarks.stack import build_environ, run_manage, serve_application

# one of each kind that somebody may send; a line of the log for each
UNREADABLE = (
    "canary to nowhere\r\n\r\n",
    "GET /canary HTTP/1.1\r\nHost: bench.example\r\nX canary: 1\r\n\r\n",
    "GET /?canary HTTP/1.1\r\nHost: bench.example\r\nContent-Length: canary\r\n\r\n",
    "GET /?canary HTTP/1.1\r\nHost: bench.example\r\nX-Note: a\r\n canary\r\n\r\n",
    "GET /?canary HTTP/1.1\r\nHost: bench.example\r\nTransfer-Encoding: canary\r\n\r\n",
    "GET /?canary HTTP/canary\r\n\r\n",
    f"GET /{'canary' * 2000} HTTP/1.1\r\n\r\n",
    f"GET / HTTP/1.1\r\nX-Canary: {'canary' * 2000}\r\n\r\n",
)
LINE = re.compile(
    r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z WARNING gunicorn\.error: Unreadable request refused: .+"
)


def test_an_unreadable_request_leaves_neither_its_sender_nor_its_words(tmp_path, capfd):
    environ = build_environ("", tmp_path)
    del environ["BENCHNIGHT_DATABASE_URL"]  # SQLite
    run_manage(environ, "migrate", "--verbosity=0")
    with serve_application("deploy.wsgi:application", environ) as served:
        for sent in UNREADABLE:
            with socket.create_connection(("127.0.0.1", served.port), timeout=20) as connection:
                connection.sendall(sent.encode())
                assert re.match(rb"HTTP/1\.1 [45]\d\d ", connection.recv(100)), sent[:60]
    said = capfd.readouterr().err
    lines = [line for line in said.splitlines() if "gunicorn" in line]
    assert len(lines) == len(UNREADABLE), said
    assert all(LINE.fullmatch(line) for line in lines), said
    assert "127.0.0.1" not in said and "canary" not in said.casefold(), said
    assert "Unreadable request refused: Invalid HTTP header name" in said
