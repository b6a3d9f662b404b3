"""What a Debian server runs, started together: nginx with our file, gunicorn, PostgreSQL and a worker."""

from __future__ import annotations

import http.client
import json
import shutil
import socket
import ssl
import subprocess
import sys
import time
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np
import pytest

from api.http.problems import make_problem
from deploy import postgresql
from deploy.benchmarks.stack import _free_port, build_environ, run_manage, serve_application
from deploy.benchmarks.uploads import build_multipart, make_sweep_file
from deploy.virtualenv import ROOT

NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")  # not on everybody's path
pytestmark = [
    pytest.mark.faults,
    pytest.mark.skipif(NGINX is None, reason="nginx is not installed here"),
]
NAME = "bench.example"
INTAKE_FIELDS = "file,tag,contributor,kind,method,role,ratio,design,measured_on\n"
MEBIBYTE = 1024 * 1024
PATIENCE_S = 60.0
# once on every reply, whoever makes it
TOLD = ["content-security-policy", "strict-transport-security", "x-content-type-options"]


def proxy_file(directory: Path, web_port: int, tls_port: int, plain_port: int) -> Path:
    """deploy/nginx.conf on free ports of this machine, with a certificate made for this test."""
    request = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-subj", f"/CN={NAME}"]
    request += ["-addext", f"subjectAltName=DNS:{NAME}", "-days", "2"]
    request += ["-keyout", str(directory / "privkey.pem"), "-out", str(directory / "fullchain.pem")]
    subprocess.run(request, check=True, capture_output=True)
    text = (ROOT / "deploy" / "nginx.conf").read_text(encoding="utf-8")
    for ours, here in {
        "    listen [::]:80;\n": "",
        "    listen [::]:443 ssl http2;\n": "",
        "listen 80;": f"listen 127.0.0.1:{plain_port};",
        "listen 443 ssl http2;": f"listen 127.0.0.1:{tls_port} ssl http2;",
        "http://127.0.0.1:8000;": f"http://127.0.0.1:{web_port};",
        "/etc/ssl/bench.example": str(directory),
    }.items():
        assert ours in text, ours
        text = text.replace(ours, here)
    scratch = "".join(
        f"{kind}_temp_path {directory}/{kind};"
        for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    whole = directory / "nginx.conf"
    who = "user root; " if directory.owner() == "root" else ""
    # one client of the test stands for many networks: it names the address that it comes from
    scratch += "set_real_ip_from 127.0.0.1; real_ip_header X-Seen-From; "
    around = f"{who}daemon off; pid {directory}/pid; error_log {directory}/log; events {{}}"
    whole.write_text(f"{around} http {{ {scratch} {text} }}", encoding="utf-8")
    return whole


@contextmanager
def started(command: list[str], **options):
    with subprocess.Popen(command, **options) as process:
        try:
            yield process
        finally:
            process.terminate()
            process.wait(timeout=60)


class Door:
    """A client of the TLS address that trusts the certificate of this test alone."""

    def __init__(self, port: int, certificate: Path, token: str) -> None:
        self.port, self.token, self.certificate = port, token, str(certificate)
        self.trusted = ssl.create_default_context(cafile=self.certificate)

    def ask(self, method: str, path: str, body: bytes | None = None, headers: dict[str, str] | None = None):
        connection = http.client.HTTPSConnection("127.0.0.1", self.port, timeout=60, context=self.trusted)
        plain = http.client.HTTPConnection.connect
        plain(connection)
        connection.sock = self.trusted.wrap_socket(connection.sock, server_hostname=NAME)
        sent = {"Host": NAME, "Authorization": f"Token {self.token}", **(headers or {})}
        connection.putrequest(method, path, skip_host=True)
        for key, value in {**sent, "Content-Length": str(len(body or b""))}.items():
            connection.putheader(key, value)
        connection.endheaders()
        # the proxy refuses a body that is too large before it has read it: its answer is there all the same
        with suppress(BrokenPipeError, ConnectionResetError):
            connection.send(body or b"")
        reply = connection.getresponse()
        names = [name for name, _ in reply.getheaders() if name.lower() in TOLD]
        assert sorted(name.lower() for name in names) == TOLD, f"{path} tells a browser too little or twice"
        answer = reply.status, dict(reply.getheaders()), reply.read()
        connection.close()
        return answer

    def burst(self, path: str, count: int, seen_from: str) -> list[tuple[int, dict[str, str], bytes]]:
        """The answers to so many readers without a token, one right after the other on few connections."""
        answers = []
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        for number in range(count):
            if number % 500 == 0:  # the proxy ends a connection after a thousand
                connection.close()
                connection.connect()
                connection.sock = self.trusted.wrap_socket(connection.sock, server_hostname=NAME)
            connection.request("GET", path, headers={"Host": NAME, "X-Seen-From": seen_from})
            reply = connection.getresponse()
            told = dict(reply.getheaders())
            assert reply.status != 429 or {name.title() for name in TOLD} <= set(told), told
            answers.append((reply.status, told, reply.read()))
        connection.close()
        return answers

    def until_it_answers(self) -> None:
        until = time.monotonic() + PATIENCE_S
        while True:
            try:
                status, _, _ = self.ask("GET", "/healthz")
                assert status == 200, status
                return
            except ConnectionRefusedError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.1)


def form(fields: dict[str, str], files: list[tuple[str, str, bytes]]) -> tuple[bytes, dict[str, str]]:
    """A multipart body with several files: (field, file name, bytes)."""
    edge = "front-door-of-the-bench"
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    ]
    parts += [
        f'--{edge}\r\nContent-Disposition: form-data; name="{field}"; filename="{name}"\r\n'
        "Content-Type: application/octet-stream\r\n\r\n".encode()
        + content
        + b"\r\n"
        for field, name, content in files
    ]
    body = b"".join(parts) + f"--{edge}--\r\n".encode()
    return body, {"Content-Type": f"multipart/form-data; boundary={edge}"}


def one_test_by_tls(door: Door, device: str) -> None:
    """A member's upload is stored, comes back byte for byte, and carries what a browser must be told."""
    sweep = make_sweep_file(np.random.default_rng(1))
    fields = {"device": device, "kind": "common_mode", "calibrated": "true", "measured_on": "2026-10-01"}
    body, headers = build_multipart(fields, sweep)
    status, told, text = door.ask("POST", "/api/v1/tests/", body, headers)
    assert status == 201, text
    assert told["Strict-Transport-Security"].startswith("max-age=31536000")
    status, told, content = door.ask("GET", f"/api/v1/tests/{json.loads(text)['id']}/sweeps/sweep/")
    assert status == 200 and content == sweep
    assert told["X-Content-Type-Options"] == "nosniff" and "attachment" in told["Content-Disposition"]


def one_night_by_the_worker(door: Door, device: str) -> None:
    """A night's file goes in at the door and becomes a test in the worker, which is a process of its own."""
    night = {"held_on": "2026-10-01", "title": "By the front door"}
    status, _, text = door.ask(
        "POST", "/api/v1/nights/", json.dumps(night).encode(), {"Content-Type": "application/json"}
    )
    assert status == 201, text
    address = f"/api/v1/nights/{json.loads(text)['id']}/intake/"
    design = json.loads(door.ask("GET", f"/api/v1/devices/{device}/")[2])["design"]
    line = f"one.s2p,D1,Linnet,common_mode,,sweep,1:1,{design},2026-10-01\n"
    files = [("manifest", "manifest.csv", (INTAKE_FIELDS + line).encode())]
    files += [("sweep", "one.s2p", make_sweep_file(np.random.default_rng(2)))]
    body, headers = form({}, files)
    status, _, text = door.ask("POST", address, body, headers)
    assert status == 202, text
    intake, until = json.loads(text), time.monotonic() + PATIENCE_S
    while intake["state"] != "done":
        assert time.monotonic() < until, intake
        time.sleep(0.2)
        intake = json.loads(door.ask("GET", f"/api/v1/intakes/{intake['id']}/")[2])
    assert [file["state"] for file in intake["files"]] == ["stored"], intake
    # more may be sent here than elsewhere: what refuses this body is that it is no form, not its size
    status, _, _ = door.ask("POST", address, b"x" * (10 * MEBIBYTE), {"Content-Type": "text/plain"})
    assert status == 415, status


def a_flood_waits_and_a_reader_does_not(door: Door) -> None:
    """Addresses of RFC 5737 and RFC 3849; the limits are those of deploy/nginx.conf."""
    reader, flood = "198.51.100.8", "198.51.100.7"
    for path, burst, count, who in (("/healthz", 600, 1500, "198.51.100.6"), ("/sign-in/", 100, 180, flood)):
        answers = door.burst(path, count, who)
        assert {status for status, _, _ in answers[:burst]} == {200}, path
        refused = [headers for status, headers, _ in answers if status == 429]
        assert refused and {headers["Retry-After"] for headers in refused} == {"10"}, path
        assert {status for status, _, _ in door.burst(path, 20, reader)} == {200}, path
    assert b"Wait 10 seconds" in door.burst("/sign-in/", 101, flood)[-1][2]
    time.sleep(10)  # as it is told to
    assert door.burst("/sign-in/", 1, flood)[0][0] == 200
    # a household or a phone has a whole /64 of version 6
    door.burst("/sign-in/", 180, "2001:db8:1:2::1")
    assert door.burst("/sign-in/", 1, "2001:db8:1:2:ffff::9")[0][0] == 429
    assert door.burst("/sign-in/", 1, "2001:db8:1:3::1")[0][0] == 200
    # the application refuses sooner, and its own words pass; behind them stand the proxy's
    answers = door.burst("/api/v1/predict/", 300, "198.51.100.9")
    problems = [(headers, json.loads(text)) for status, headers, text in answers if status == 429]
    assert {told["Content-Type"] for told, _ in problems} == {"application/problem+json"}
    codes = [found["code"] for _, found in problems]
    assert codes[0] != "limit.network" and "limit.network" in codes, codes
    last = problems[codes.index("limit.network")][1]
    assert last == json.loads(make_problem(429, last["code"], last["detail"]).content)


def weak_suites_are_refused(door: Door) -> None:
    """Without forward secrecy, and with block chaining; names of OpenSSL. A good one of TLS 1.2 goes in."""
    for suite, is_good in {
        "AES128-GCM-SHA256": False,
        "ECDHE-RSA-AES128-SHA": False,
        "ECDHE+AESGCM": True,
    }.items():
        client = ssl.create_default_context(cafile=door.certificate)
        client.maximum_version = ssl.TLSVersion.TLSv1_2
        client.set_ciphers(suite)
        with socket.create_connection(("127.0.0.1", door.port), timeout=30) as plain:
            if is_good:
                client.wrap_socket(plain, server_hostname=NAME).close()
                continue
            with pytest.raises(ssl.SSLError, match="HANDSHAKE_FAILURE"):
                client.wrap_socket(plain, server_hostname=NAME)


def test_an_upload_goes_in_by_the_front_door(tmp_path):
    web_dir = tmp_path / "proxy"
    web_dir.mkdir()
    with postgresql.run_server() as server:
        environ = build_environ(server.new_database(), tmp_path)
        filling = [sys.executable, "-m", "deploy.benchmarks.filling", "60"]
        filled = subprocess.run(filling, cwd=ROOT, env=environ, check=True, stdout=subprocess.PIPE, text=True)
        run_manage(environ, "member", "Bench", "--role", "operator")
        run_manage(environ, "collectstatic", "--no-input")  # pages name their files by what is in them
        token = run_manage(environ, "token", "Bench", "--days", "1").strip()
        environ |= {"BENCHNIGHT_HOSTS": f"{NAME},127.0.0.1", "BENCHNIGHT_SITE": f"https://{NAME}"}
        environ |= {"BENCHNIGHT_TLS": "true", "BENCHNIGHT_PROXIES": "1"}
        environ["BENCHNIGHT_ANALYSE_PER_MINUTE"] = "20"
        worker = [sys.executable, "manage.py", "db_worker", "--interval=0.2"]
        with (
            serve_application("deploy.wsgi:application", environ, workers=2) as web,
            started(worker, cwd=ROOT, env=environ),
        ):
            tls_port, plain_port = _free_port(), _free_port()
            whole = proxy_file(web_dir, web.port, tls_port, plain_port)
            with started([str(NGINX), "-c", str(whole)]):
                door = Door(tls_port, web_dir / "fullchain.pem", token)
                door.until_it_answers()
                one_test_by_tls(door, filled.stdout.strip())
                one_night_by_the_worker(door, filled.stdout.strip())
                status, _, page = door.ask("POST", "/api/v1/tests/", b"x" * (10 * MEBIBYTE))
                assert status == 413 and b"nginx" in page  # it never reached the application
                for forged in ("127.0.0.1", "::1"):
                    headers = {"X-Forwarded-For": forged, "X-Seen-From": forged}
                    status, _, page = door.ask("GET", "/metrics", headers=headers)
                    assert status == 404 and b"nginx" in page
                weak_suites_are_refused(door)
                a_flood_waits_and_a_reader_does_not(door)
                plain = http.client.HTTPConnection("127.0.0.1", plain_port, timeout=30)
                plain.request("GET", "/designs/", headers={"Host": NAME})
                moved = plain.getresponse()
                assert (moved.status, moved.headers["Location"]) == (301, f"https://{NAME}/designs/")
                plain.close()
