"""The service files run commands that there are, with the settings of one file."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import get_commands

from deploy import environment
from deploy.middleware import INTAKE_ADDRESS
from measurements.pages.layout.throttling import NETWORK_FACTOR
from measurements.services.operations.network_limits import WIDE_FACTOR

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"
NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")  # not on everybody's path
UNITS = sorted(DEPLOY.glob("*.service"))


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_every_command_exists_and_knows_its_settings(unit):
    text = unit.read_text(encoding="utf-8")
    started = re.findall(r"^ExecStart=(.+)$", text, re.MULTILINE)
    commands = [line.split("manage.py ", 1)[1].split()[0] for line in started if "manage.py" in line]
    assert started and set(commands) <= set(get_commands())
    assert "EnvironmentFile=/etc/benchnight.env" in text and "NoNewPrivileges=true" in text


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_no_service_reaches_the_history_of_its_source(unit):
    text = unit.read_text(encoding="utf-8")
    home = re.search(r"^WorkingDirectory=(.+)$", text, re.MULTILINE)[1]
    assert f"\nInaccessiblePaths=-{home}/.git\n" in text


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_a_service_talks_to_this_machine_alone(unit):
    """But for the one that mails, whose server a setting names."""
    told = re.findall(r"^(IPAddress\w+=.+)$", unit.read_text(encoding="utf-8"), re.MULTILINE)
    expected = ["IPAddressDeny=any", "IPAddressAllow=localhost"]
    assert told == ([] if unit.name == "benchnight-due.service" else expected)


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_no_service_takes_the_memory_of_the_whole_machine(unit):
    told = re.findall(r"^MemoryMax=(\d+)%$", unit.read_text(encoding="utf-8"), re.MULTILINE)
    assert len(told) == 1 and 20 <= int(told[0]) <= 60


def test_the_page_of_installation_names_the_memory():
    assert re.search(r"\d GB of memory", (DEPLOY / "INSTALL.md").read_text(encoding="utf-8"))


def test_the_proxy_asks_one_server_and_serves_one_directory():
    text = (DEPLOY / "nginx.conf").read_text(encoding="utf-8")
    rules = re.sub(r"#.*", "", text)
    assert set(re.findall(r"_pass\s+([^;]+);", rules)) == {"http://benchnight"}
    assert re.findall(r"\bserver\s+(\S+);", rules) == ["unix:/run/benchnight.sock"]
    assert set(re.findall(r"\b(?:root|alias|include|resolver)\s+([^;]+);", rules)) == {"/var/www/html"}


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not installed here")
def test_systemd_takes_every_unit(tmp_path):
    """As systemd reads them, but for the places of a server that is not this machine."""
    for unit in [*UNITS, *DEPLOY.glob("*.timer"), *DEPLOY.glob("*.socket")]:
        text = unit.read_text(encoding="utf-8")
        text = re.sub(r"/srv/benchnight/.venv/bin/python", sys.executable, text)
        (tmp_path / unit.name).write_text(text, encoding="utf-8")
    units = sorted(str(unit) for unit in tmp_path.iterdir())
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *units], capture_output=True, text=True, check=False
    )
    faults = [line for line in done.stderr.splitlines() if "benchnight" in line]
    assert done.returncode == 0 and not faults, done.stderr


@pytest.mark.skipif(NGINX is None, reason="nginx is not installed here")
def test_nginx_takes_its_file(tmp_path):
    """With a certificate made for this test, in a directory of its own."""
    key, certificate = tmp_path / "privkey.pem", tmp_path / "fullchain.pem"
    request = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=bench.example"]
    request += ["-days", "2", "-keyout", str(key), "-out", str(certificate)]
    subprocess.run(request, check=True, capture_output=True)
    server = (
        (DEPLOY / "nginx.conf").read_text(encoding="utf-8").replace("/etc/ssl/bench.example", str(tmp_path))
    )
    (tmp_path / "server.conf").write_text(server, encoding="utf-8")
    whole = tmp_path / "nginx.conf"
    around = f"pid {tmp_path}/pid; error_log {tmp_path}/log; events {{}}"
    whole.write_text(f"{around} http {{ include {tmp_path}/server.conf; }}", encoding="utf-8")
    done = subprocess.run([str(NGINX), "-t", "-c", str(whole)], capture_output=True, text=True, check=False)
    assert done.returncode == 0 and "warn" not in done.stderr, done.stderr


def test_the_proxy_takes_what_the_application_takes():
    """Sizes are the application's; its limits of one client are met before those of a whole network."""
    text = (DEPLOY / "nginx.conf").read_text(encoding="utf-8")
    given = {setting.name: setting.default for setting in environment.SETTINGS}
    sizes = [int(size) * environment.MEBIBYTE for size in re.findall(r"client_max_body_size (\d+)m;", text)]
    assert sizes == [given["BODY_BYTES"], given["INTAKE_BODY_BYTES"]]
    rates = dict(re.findall(r"zone=bench_(\w+):\d+m +rate=(\d+)r/s;", text))
    a_minute = {zone: 60 * int(rate) for zone, rate in rates.items()}
    assert set(a_minute) == {"all", "wide", "sign_in", "computing", "uploads"}
    assert a_minute["sign_in"] >= given["SIGN_IN_PER_MINUTE"] * NETWORK_FACTOR
    assert a_minute["wide"] == a_minute["all"] * WIDE_FACTOR
    # an address without the wide one would let a /48 through that changes networks
    assert text.count("limit_req zone=bench_wide ") == text.count("limit_req zone=bench_all ") >= 5
    for zone, limit in (
        ("all", "ANONYMOUS"),
        ("all", "TOKEN"),
        ("all", "DRAWINGS"),
        ("computing", "ANALYSE"),
        ("computing", "TOKEN"),
    ):
        assert a_minute[zone] >= given[f"{limit}_PER_MINUTE"], zone
    assert a_minute["uploads"] * 60 >= given["UPLOADS_PER_HOUR"]
    intake = re.search(r"location ~ (/nights\S+) {", text)
    assert intake and intake[1] == INTAKE_ADDRESS.pattern


def test_the_page_of_installation_names_files_that_there_are():
    page = (DEPLOY / "INSTALL.md").read_text(encoding="utf-8")
    for named in re.findall(r"deploy/[\w.-]+", page):
        assert list(DEPLOY.parent.glob(f"{named}*")), named
    enabled = re.findall(r"benchnight-?[a-z]*\.timer", page)
    assert {timer.name for timer in DEPLOY.glob("*.timer")} <= set(enabled)


def test_the_timer_has_its_service():
    assert {timer.with_suffix(".service") for timer in DEPLOY.glob("*.timer")} <= set(UNITS)
