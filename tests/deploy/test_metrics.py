"""Figures for a monitor: true, in the open format, and for this machine alone."""

import os
import random
import re
import time
from datetime import timedelta
from unittest.mock import patch

import pytest
from django.core.management import call_command
from django.db import OperationalError, connection
from django.test import RequestFactory, override_settings
from django.utils import timezone
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult
from prometheus_client.openmetrics.parser import text_string_to_metric_families as parse_openmetrics
from prometheus_client.parser import text_string_to_metric_families as parse_text

from deploy import monitoring
from deploy.virtualenv import ROOT
from measurements.models import Intake, Release, Result
from measurements.rf.analysis import ENGINE_VERSION
from measurements.services.releases import releases
from tests import club, factories, intake_samples

ELSEWHERE = ["192.0.2.7", "10.0.0.1", "2001:db8::7", "::ffff:192.0.2.7", "localhost", "x"]


@pytest.fixture(autouse=True)
def _var(settings, tmp_path):
    settings.BENCHNIGHT_VAR = tmp_path


def values(client, **headers) -> dict[str, float]:
    """Name: figure, as the library that monitors are built on reads the answer."""
    reply = client.get("/metrics", **headers)
    assert reply.status_code == 200
    return {
        sample.name: sample.value
        for family in parse_text(reply.content.decode())
        for sample in family.samples
    }


@pytest.mark.django_db
@pytest.mark.parametrize("address", ELSEWHERE)
@pytest.mark.parametrize("method", ["get", "head", "post", "put", "delete"])
def test_elsewhere_there_is_no_such_address(client, address, method):
    """RFC 5737, RFC 3849 and RFC 1918 addresses, and what is no address."""
    ask = getattr(client, method)
    assert ask("/metrics", REMOTE_ADDR=address).status_code == 404
    assert ask("/no-such-page", REMOTE_ADDR=address).status_code == 404


@pytest.mark.django_db
@pytest.mark.parametrize("proxies", [0, 1, 2])
@pytest.mark.parametrize("remote", ["127.0.0.1", "192.0.2.7"])
@pytest.mark.parametrize("forwarded", ["127.0.0.1", "::1", "127.0.0.1, 192.0.2.7", "192.0.2.7", "x", ""])
def test_what_a_proxy_passes_on_is_from_elsewhere(client, settings, proxies, remote, forwarded):
    """Also where a forged entry names this machine, or BENCHNIGHT_PROXIES counts them wrongly."""
    settings.BENCHNIGHT_PROXIES = proxies
    reply = client.get("/metrics", REMOTE_ADDR=remote, HTTP_X_FORWARDED_FOR=forwarded)
    assert reply.status_code == 404


@pytest.mark.parametrize("header", ["HTTP_FORWARDED", "HTTP_X_REAL_IP", "HTTP_VIA"])
def test_other_headers_of_proxies_count_as_well(header):
    """RFC 7239 and RFC 9110; X-Real-IP is common practice, no source."""
    assert monitoring.is_from_this_machine(RequestFactory().get("/metrics", REMOTE_ADDR="127.0.0.1"))
    named = {header: "127.0.0.1"}
    assert not monitoring.is_from_this_machine(
        RequestFactory().get("/metrics", REMOTE_ADDR="127.0.0.1", **named)
    )


@pytest.mark.django_db
@pytest.mark.parametrize("address", ["127.0.0.1", "127.8.8.8", "::1", "::ffff:127.0.0.1"])
@pytest.mark.parametrize("proxies", [0, 1])
def test_a_program_on_this_machine_is_answered(client, settings, address, proxies):
    settings.BENCHNIGHT_PROXIES = proxies
    assert values(client, REMOTE_ADDR=address)["benchnight_database_up"] == 1
    assert client.head("/metrics", REMOTE_ADDR=address).status_code == 200
    assert client.post("/metrics", REMOTE_ADDR=address).status_code == 405


@pytest.mark.django_db
def test_both_formats_are_what_the_library_reads(client):
    asked = "application/openmetrics-text; version=1.0.0; charset=utf-8"
    reply = client.get("/metrics", HTTP_ACCEPT=asked)
    assert reply["Content-Type"].startswith("application/openmetrics-text; version=1.0.0")
    assert "no-store" in reply["Cache-Control"]
    families = list(parse_openmetrics(reply.content.decode()))
    assert all(family.documentation.endswith(".") for family in families)
    names = {sample.name for family in families for sample in family.samples}
    assert names == set(values(client))
    assert client.get("/metrics")["Content-Type"].startswith("text/plain; version=")


def test_the_page_of_installation_names_figures_that_there_are():
    page = (ROOT / "deploy" / "INSTALL.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`benchnight_(\w+)`", page))
    always = {"database_up", "backup_age_seconds", "disk_free_bytes", "disk_size_bytes"}
    assert named and named <= {name for name, _, _ in monitoring.DATABASE_GAUGES} | always


@pytest.mark.django_db
def test_an_empty_server_says_nothing_of_what_never_was(client):
    found = values(client)
    assert found["benchnight_tests"] == found["benchnight_intakes_unfinished"] == 0
    for never in ("release", "release_age_seconds", "backup_age_seconds", "intake_oldest_age_seconds"):
        assert f"benchnight_{never}" not in found


@pytest.mark.django_db
def test_the_figures_are_those_of_the_database(client, reference_data):
    """Counted by hand: three tests, one of an older engine; an intake of an hour; a release of two days."""
    factories.evidence(3)
    made = releases.make_release(rng=random.Random(1)).number
    Release.objects.update(made_at=timezone.now() - timedelta(days=2))
    Result.objects.filter(pk=Result.objects.first().pk).update(engine_version="0.0.1")
    key = intake_samples.one_file(*club_of_tonight())
    Intake.objects.filter(key=key).update(made_at=timezone.now() - timedelta(hours=1))
    done = Intake.objects.create(night=Intake.objects.get().night, state=Intake.State.DONE)
    Intake.objects.filter(pk=done.pk).update(made_at=timezone.now() - timedelta(days=9))
    for status, minutes in (("READY", 5), ("READY", 7), ("FAILED", 90), ("SUCCESSFUL", 90)):
        task = DBTaskResult.objects.create(
            status=TaskResultStatus[status],
            args_kwargs={"args": ["key-of-an-intake"], "kwargs": {}},
            run_after=timezone.now(),
            backend_name="default",
        )
        since = timezone.now() - timedelta(minutes=minutes)
        DBTaskResult.objects.filter(pk=task.pk).update(enqueued_at=since)
    found = {name.removeprefix("benchnight_"): value for name, value in values(client).items()}
    assert (found["tests"], found["tests_to_recompute"]) == (3, 1)
    assert (found["intakes_unfinished"], found["intake_files_waiting"]) == (1, 1)
    assert (found["tasks_waiting"], found["tasks_failed"], found["release"]) == (2, 1, made)
    assert found["intake_oldest_age_seconds"] == pytest.approx(3600, abs=300)
    assert found["task_oldest_age_seconds"] == pytest.approx(420, abs=300)
    assert found["release_age_seconds"] == pytest.approx(2 * 86400, abs=300)


def club_of_tonight():
    operator = factories.member("Invented Operator", "operator")
    return operator, club.night(operator)


@pytest.mark.django_db
def test_versions_room_and_backups_are_told(client, tmp_path):
    call_command("backup", str(tmp_path / "one.zip"), verbosity=0)
    hours_ago = time.time() - 5 * 3600
    os.utime(tmp_path / "last-backup", (hours_ago, hours_ago))
    found = values(client)
    assert found["benchnight_backup_age_seconds"] == pytest.approx(5 * 3600, abs=300)
    assert 0 < found["benchnight_disk_free_bytes"] <= found["benchnight_disk_size_bytes"]
    assert f'engine="{ENGINE_VERSION}"' in client.get("/metrics").content.decode()
    call_command("backup", str(tmp_path / "two.zip"), verbosity=0)
    assert values(client)["benchnight_backup_age_seconds"] < 3600


@pytest.mark.django_db
def test_a_database_that_is_away_is_told_without_details(client):
    refused = OperationalError("no such host db.invalid, user keeper")
    with patch.object(connection, "cursor", side_effect=refused):
        text = client.get("/metrics").content.decode()
    assert "benchnight_database_up 0.0" in text and "benchnight_disk_free_bytes" in text
    assert "benchnight_tests" not in text and "keeper" not in text


@pytest.mark.django_db
def test_nobody_and_no_design_can_be_told_from_it(client, reference_data):
    """Names, keys, or a figure for each of something would have to be labels; there are but versions."""
    operator, night = club_of_tonight()
    design = factories.design(operator, turns=11)
    device = factories.device(operator, design, tag="CANARY-1")
    test = factories.record(operator, device, name="canary.s2p")
    intake_samples.one_file(operator, night, design)
    text = client.get("/metrics").content.decode()
    for secret in ("Invented", "Operator", "CANARY", "canary", "Gwenna", design, device, test, night):
        assert secret not in text, secret
    labels = {name for found in re.findall(r"\{(.*)\}", text) for name in re.findall(r'(\w+)="', found)}
    assert labels == {"version", "engine"}


@pytest.mark.django_db
def test_it_costs_as_much_for_many_as_for_few(client, reference_data, django_assert_num_queries):
    for people in (1, 6):
        factories.evidence(people, turns=8 + people)
        with django_assert_num_queries(6):
            client.get("/metrics")


@pytest.mark.django_db
@override_settings(SECURE_SSL_REDIRECT=True)
def test_a_monitor_needs_no_certificate(client):
    """The middleware reads its settings once, so it is made anew."""
    from django.test import Client

    assert Client().get("/metrics").status_code == 200
    assert Client().get("/designs/").status_code == 301
