"""deploy/run from a copy of the repository: prepares, keeps, serves, stops, and refuses plainly.

The environment of the checks is used, so that nothing is installed; a fresh installation is what
whoever clones the repository does first.
"""

import os
import pty
import re
import shutil
import signal
import socket
import sqlite3
import stat
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from urllib.request import Request

import pytest

from deploy import virtualenv
from deploy.virtualenv import ROOT

START_S = 120


@pytest.fixture(scope="module")
def copy(tmp_path_factory) -> Path:
    """The files that git knows, as they stand, in a directory of their own."""
    if not any(
        (Path(sys.prefix) / f"installed-{lock.stem}").exists()
        for lock in (virtualenv.LOCK, virtualenv.LOCK_CHECK)
    ):
        pytest.skip("this environment was not made by deploy/check or deploy/run")
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("this copy is not a git work tree")
    target = tmp_path_factory.mktemp("copy") / "bench night"  # a space: paths are quoted everywhere
    for name in filter(None, listed.stdout.split("\0")):
        if (ROOT / name).is_file():
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, target / name)
    return target


def environment(**variables: str) -> dict[str, str]:
    ours = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("BENCHNIGHT_", "DJANGO_", "PYTEST_"))
    }
    return {**ours, "BENCHNIGHT_VENV": sys.prefix, **variables}


def run(copy: Path, *options: str, cwd: Path | None = None, **variables: str):
    return subprocess.run(
        [str(copy / "deploy" / "run"), *options],
        cwd=cwd or copy, env=environment(**variables),
        capture_output=True, text=True, check=False, timeout=START_S,
    )  # fmt: skip


def rows(copy: Path, table: str) -> int:
    opened = sqlite3.connect(copy / "var" / "benchnight.sqlite3")
    try:
        return opened.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
    finally:
        opened.close()


@pytest.fixture(scope="module")
def prepared(copy, tmp_path_factory) -> Path:
    """The copy after its first `deploy/run --check`, called from somewhere else."""
    done = run(copy, "--check", cwd=tmp_path_factory.mktemp("elsewhere"))
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Installing" not in done.stdout, "the test would need the network"
    return copy


def test_a_first_start_makes_database_demo_release_and_static_files(prepared):
    assert rows(prepared, "measurements_device") > 0
    assert rows(prepared, "measurements_release") == 1
    assert rows(prepared, "measurements_allocation") > 0
    assert (prepared / "var" / "static" / "staticfiles.json").exists()
    assert stat.S_IMODE((prepared / "var" / "secret_key").stat().st_mode) == 0o600
    assert not (prepared / "var" / "first-start").exists()


def test_a_second_start_keeps_everything_and_installs_and_loads_nothing_again(prepared):
    tables = ["measurements_device", "measurements_test", "measurements_release", "measurements_member"]
    before = {table: rows(prepared, table) for table in tables}
    key = (prepared / "var" / "secret_key").read_text()
    done = run(prepared, "--check")
    assert done.returncode == 0, done.stderr
    assert not [word for word in ("Installing", "Demo scenario", "release") if word in done.stdout]
    assert {table: rows(prepared, table) for table in tables} == before
    assert (prepared / "var" / "secret_key").read_text() == key


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def served(copy: Path, port: int, *options: str, **variables: str) -> tuple[subprocess.Popen[str], str]:
    """A running server and what it printed until its greeting was complete."""
    server = subprocess.Popen(
        [str(copy / "deploy" / "run"), "--port", str(port), *options],
        cwd=copy, env=environment(**variables), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    said = ""
    assert server.stdout is not None
    for line in server.stdout:
        said += line
        if "Ctrl-C" in line:
            break
    return server, said


def get(url: str) -> tuple[int, str]:
    with urllib.request.urlopen(url, timeout=30) as reply:
        return reply.status, reply.read().decode()


@pytest.mark.parametrize("stop", [signal.SIGTERM, signal.SIGINT])
def test_it_serves_says_how_to_sign_in_and_stops_cleanly(prepared, stop):
    port = free_port()
    server, said = served(prepared, port)
    try:
        site = f"http://127.0.0.1:{port}"
        assert f"{site}/" in said
        assert get(f"{site}/healthz") == (200, '{"status": "ok"}')
        status, page = get(f"{site}/")
        assert status == 200
        style = re.search(r'href="(/static/[^"]+\.[0-9a-f]{12}\.css)"', page)
        assert style, "the page names no style sheet with a hashed name"
        with urllib.request.urlopen(site + style[1], timeout=30) as reply:
            assert "max-age=315360000" in reply.headers["Cache-Control"]
            assert "immutable" in reply.headers["Cache-Control"]
        refused = run(prepared, "--port", str(free_port()))
        assert refused.returncode == 1
        assert "already serves" in refused.stderr
    finally:
        server.send_signal(stop)
        rest = server.communicate(timeout=40)[0]
    assert server.returncode == 0, rest
    assert "Traceback" not in said + rest
    with pytest.raises(urllib.error.URLError):
        get(f"http://127.0.0.1:{port}/healthz")


ROLES = ("steward", "operator", "member")


def linked(said: str, port: int) -> set[str]:
    """Roles that got a link."""
    return {role for role in ROLES if re.search(rf"\b{role}\b.*http://127\.0\.0\.1:{port}/sign-in/\S+", said)}


def test_codes_lead_to_the_port_that_is_served(prepared):
    """A card printed by a server on another port once led to port 8000."""
    port = free_port()
    server, said = served(prepared, port)
    try:
        link = re.search(r"member .*(http://\S+)", said)[1]
        opened = _browse(link, f"http://127.0.0.1:{port}")
        assert f"http://127.0.0.1:{port}/devices/" in opened
        assert "127.0.0.1:8000" not in opened
    finally:
        server.terminate()
        server.communicate(timeout=40)


def _browse(link: str, site: str) -> str:
    """Sign in by a link and return the card of the first device."""
    import requests

    with requests.Session() as session:
        form = session.get(link, timeout=30).text
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', form)[1]
        session.post(link, data={"csrfmiddlewaretoken": token}, headers={"Referer": link}, timeout=30)
        devices = session.get(f"{site}/devices/", timeout=30).text
        key = re.search(r"/devices/([0-9a-z]{8,})/", devices)[1]
        return session.get(f"{site}/devices/{key}/card/", timeout=30).text


def lan_address() -> str:
    from deploy import local_network

    found = local_network.list_lan_addresses()
    if not found:
        pytest.skip("this machine is on no network")
    return found[0]


def test_on_the_local_network_it_answers_under_the_machines_address(prepared):
    port, address = free_port(), lan_address()
    server, said = served(prepared, port, "--lan")
    try:
        assert f"Benchnight is ready: http://{address}:{port}/" in said
        assert "This is plain http" in said and "Clock: " in said
        assert f"http://{address}:{port}/sign-in/" in said
        asked = Request(f"http://127.0.0.1:{port}/", headers={"Host": f"{address}:{port}"})
        with urllib.request.urlopen(asked, timeout=30) as reply:
            assert reply.status == 200
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(
                Request(f"http://127.0.0.1:{port}/", headers={"Host": "elsewhere.example"}), timeout=30
            )
        refused.value.close()
        assert refused.value.code == 400
        # another process: this one may only reach 127.0.0.1
        fetched = subprocess.run(
            [sys.executable, "-c", f"import urllib.request as u; u.urlopen('http://{address}:{port}/healthz')"],
            check=False, timeout=60,
        )  # fmt: skip
        assert fetched.returncode == 0
    finally:
        server.terminate()
        server.communicate(timeout=40)


def test_with_debug_it_stays_off_the_network(prepared):
    lan_address()
    done = run(prepared, "--lan", "--check", BENCHNIGHT_DEBUG="true")
    assert done.returncode == 1
    assert "BENCHNIGHT_DEBUG" in done.stderr and "Traceback" not in done.stderr


def test_into_a_pipe_goes_no_link_of_a_steward_but_how_to_get_one(prepared):
    """A journal or a file would keep it for others to read."""
    port = free_port()
    server, said = served(prepared, port)
    server.terminate()
    said += server.communicate(timeout=40)[0]
    assert linked(said, port) == {"operator", "member"}
    command = re.search(r"steward .*get a link with: (\S+ manage\.py member \"([^\"]+)\")", said)
    made = subprocess.run(
        [sys.executable, "manage.py", "member", command[2]],
        cwd=prepared, env=environment(), capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert "/sign-in/" in made.stdout


def test_on_a_terminal_each_kind_of_account_gets_a_link(prepared):
    port, (ours, theirs) = free_port(), pty.openpty()
    server = subprocess.Popen(
        [str(prepared / "deploy" / "run"), "--port", str(port)],
        cwd=prepared, env=environment(), stdin=theirs, stdout=theirs, stderr=theirs,
    )  # fmt: skip
    os.close(theirs)
    said = ""
    try:
        while "Ctrl-C" not in said:
            said += os.read(ours, 4096).decode()
    finally:
        server.terminate()
        server.wait(timeout=40)
        os.close(ours)
    assert linked(said, port) == set(ROLES)


def loose(var: Path) -> list[str]:
    """What others may read, enter or write."""
    return [str(each) for each in [var, *var.rglob("*")] if each.lstat().st_mode & 0o077]


@pytest.mark.parametrize("umask", [0o000, 0o022, 0o077])
def test_what_it_writes_is_its_owners_alone(copy, tmp_path, umask):
    var = tmp_path / "var"
    done = subprocess.run(
        [str(copy / "deploy" / "run"), "--check", "--no-demo"], umask=umask, cwd=copy,
        env=environment(BENCHNIGHT_VAR=str(var)), capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    backups = var / "backups"
    backups.mkdir()
    kept = subprocess.run(
        [sys.executable, "manage.py", "backup", str(backups / "kept.zip")], umask=umask, cwd=copy,
        env=environment(BENCHNIGHT_VAR=str(var)), capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert kept.returncode == 0, kept.stderr
    assert [each for each in loose(var) if each != str(backups)] == []
    assert stat.S_IMODE(var.stat().st_mode) == 0o700
    assert stat.S_IMODE((var / "benchnight.sqlite3").stat().st_mode) == 0o600


def test_what_an_older_version_left_open_is_closed(copy, tmp_path):
    var = tmp_path / "var"
    start = ["--check", "--no-demo"]
    assert run(copy, *start, BENCHNIGHT_VAR=str(var)).returncode == 0
    (var / "backups").mkdir()
    (var / "backups" / "old.zip").write_bytes(b"old")
    for each in (var, var / "backups", var / "benchnight.sqlite3", var / "backups" / "old.zip"):
        each.chmod(0o755)
    assert run(copy, *start, BENCHNIGHT_VAR=str(var)).returncode == 0
    assert [stat.S_IMODE(each.stat().st_mode) for each in (var, var / "backups")] == [0o700] * 2
    assert stat.S_IMODE((var / "benchnight.sqlite3").stat().st_mode) == 0o600
    assert stat.S_IMODE((var / "backups" / "old.zip").stat().st_mode) == 0o600


def test_a_port_in_use_is_said_before_anything_is_done(prepared):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        done = run(prepared, "--port", str(other.getsockname()[1]))
    assert done.returncode == 1
    assert "Choose another: deploy/run --port N" in done.stderr
    assert done.stdout == ""


def test_without_the_demo_a_new_database_is_empty(copy, tmp_path):
    done = run(copy, "--check", "--no-demo", BENCHNIGHT_VAR=str(tmp_path))
    assert done.returncode == 0, done.stderr
    opened = sqlite3.connect(tmp_path / "benchnight.sqlite3")
    assert opened.execute("SELECT count(*) FROM measurements_device").fetchone() == (0,)
    assert opened.execute("SELECT count(*) FROM measurements_allocation").fetchone() > (0,)
    opened.close()


def test_a_first_start_that_was_cut_short_is_taken_up_again(copy, tmp_path):
    """Cut after the tables: the next start still loads the demo, and the choice made then stands."""
    assert run(copy, "--check", "--no-demo", BENCHNIGHT_VAR=str(tmp_path)).returncode == 0
    (tmp_path / "first-start").write_text("with demo")
    assert run(copy, "--check", BENCHNIGHT_VAR=str(tmp_path)).returncode == 0
    opened = sqlite3.connect(tmp_path / "benchnight.sqlite3")
    assert opened.execute("SELECT count(*) FROM measurements_device").fetchone() > (0,)
    opened.close()
    assert not (tmp_path / "first-start").exists()


@pytest.mark.postgresql
def test_it_prepares_a_postgresql_too(copy, postgresql, tmp_path):
    import psycopg

    url = postgresql.new_database()
    # as on a new server: nothing has made the directory
    variables = {"BENCHNIGHT_DATABASE_URL": url, "BENCHNIGHT_VAR": str(tmp_path / "srv" / "var")}
    refused = run(copy, "--check", **variables)
    assert refused.returncode == 1
    assert "BENCHNIGHT_SECRET_KEY is required" in refused.stderr
    assert "Traceback" not in refused.stderr
    done = run(copy, "--check", **variables, BENCHNIGHT_SECRET_KEY="x" * 50)
    assert done.returncode == 0, done.stderr
    with psycopg.connect(url) as opened:
        assert opened.execute("SELECT count(*) FROM measurements_release").fetchone() == (1,)


def _find_workers(var: Path) -> list[int]:
    """Process numbers of the task workers of the server with this `var`."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            command = (process / "cmdline").read_bytes()
            environ = (process / "environ").read_bytes()
        except OSError:
            continue  # it ended meanwhile
        if b"db_worker" in command and f"BENCHNIGHT_VAR={var}\0".encode() in environ:
            found.append(int(process.name))
    return found


def _wait_until(holds) -> None:
    end = time.monotonic() + START_S
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.2)


@pytest.mark.postgresql
def test_on_postgresql_a_task_worker_runs_beside_the_server(copy, postgresql, tmp_path):
    """An intake once waited for ever: nothing worked on its files."""
    var, port = tmp_path / "var", free_port()
    variables = {"BENCHNIGHT_DATABASE_URL": postgresql.new_database(), "BENCHNIGHT_SECRET_KEY": "x" * 50}
    server, said = served(copy, port, "--no-demo", BENCHNIGHT_VAR=str(var), **variables)
    try:
        assert "is ready" in said
        _wait_until(lambda: len(_find_workers(var)) == 1)
        (first,) = _find_workers(var)
        os.kill(first, signal.SIGKILL)
        _wait_until(lambda: _find_workers(var) not in ([], [first]))
    finally:
        server.terminate()
        server.communicate(timeout=60)
    _wait_until(lambda: _find_workers(var) == [])


@pytest.mark.parametrize(
    "options", [["--prot", "8000"], ["--chec"], ["extra"], ["--port", "0"], ["--port", "http"]]
)
def test_an_unknown_option_is_an_error_and_does_nothing(copy, options, tmp_path):
    done = run(copy, *options, BENCHNIGHT_VAR=str(tmp_path / "var"))
    assert done.returncode == 2
    assert "usage: deploy/run" in done.stderr
    assert not (tmp_path / "var").exists()


def test_help_names_every_option(copy):
    done = run(copy, "--help")
    assert done.returncode == 0
    for option in ("--port N", "--no-demo", "--check", "--lan"):
        assert option in done.stdout


def test_a_bad_setting_stops_the_start_with_a_sentence(copy, tmp_path):
    done = run(copy, "--check", BENCHNIGHT_REGION="9", BENCHNIGHT_VAR=str(tmp_path))
    assert done.returncode == 1
    assert "BENCHNIGHT_REGION cannot be used" in done.stderr
    assert "Traceback" not in done.stderr
