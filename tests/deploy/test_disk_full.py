"""A full disk: a clear answer, nothing half-stored, and work goes on when there is room."""

from __future__ import annotations

import pytest
from django.db import connection

from measurements.ingest import access_tokens
from measurements.models import AuditEntry, Result, SweepFile, Test
from tests import factories

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("reference_data")]


def pages(most: int | None = None) -> int:
    """How many pages the database has, or may have from now on."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA page_count" if most is None else f"PRAGMA max_page_count = {most}")
        return cursor.fetchone()[0]


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="only SQLite can be told how full its disk is")
def test_nothing_is_half_stored(client):
    member = factories.member("Ada")
    device = factories.device(member)
    token = access_tokens.issue(name="Ada", days=1)
    before = [table.objects.count() for table in (Test, SweepFile, Result, AuditEntry)]

    def send() -> int:
        from django.core.files.uploadedfile import SimpleUploadedFile

        fields = {"device": device, "kind": "common_mode", "calibrated": "true", "measured_on": "2026-10-01"}
        fields["sweep"] = SimpleUploadedFile("a.s2p", factories.choke_s2p(seed=3))
        client.raise_request_exception = False
        answer = client.post("/api/v1/tests/", fields, headers={"Authorization": f"Token {token}"})
        if answer.status_code != 201:
            assert answer.status_code == 503 and int(answer["Retry-After"]) > 0
            assert answer.json()["code"] == "server.busy"
        return answer.status_code

    pages(pages() + 2)  # room for the counts of requests, not for a sweep
    assert send() == 503
    assert [table.objects.count() for table in (Test, SweepFile, Result, AuditEntry)] == before
    pages(1_000_000)
    assert send() == 201
    assert Test.objects.count() == before[0] + 1
