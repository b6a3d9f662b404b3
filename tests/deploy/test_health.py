"""The health page tells a load balancer the truth and nothing else."""

from unittest.mock import patch

import pytest
from django.db import OperationalError, connection


@pytest.mark.django_db
def test_ok_when_the_database_answers(client):
    reply = client.get("/healthz")
    assert reply.status_code == 200
    assert reply.json() == {"status": "ok"}
    assert "no-store" in reply["Cache-Control"]


@pytest.mark.django_db
def test_503_without_details_when_the_database_does_not_answer(client):
    refused = OperationalError("no such host db.invalid, user keeper")
    with patch.object(connection, "cursor", side_effect=refused):
        reply = client.get("/healthz")
    assert reply.status_code == 503
    assert reply.json() == {"status": "database unreachable"}


def test_only_reading_is_allowed(client):
    assert client.post("/healthz").status_code == 405


@pytest.mark.browser
def test_a_browser_reaches_the_live_server(page):
    reply = page.goto("/healthz")
    assert reply is not None
    assert reply.status == 200
    assert "ok" in page.inner_text("body")


def test_every_answer_carries_the_strict_content_policy(client, db):
    policy = client.get("/healthz")["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
