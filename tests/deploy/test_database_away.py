"""A database that does not answer is a 503 with a time to try again, on pages and on the API alike."""

from __future__ import annotations

import pytest
from django.db.utils import InterfaceError, OperationalError

from measurements.queries import designs


@pytest.mark.django_db
@pytest.mark.parametrize("fault", [OperationalError("terminating connection"), InterfaceError("closed")])
@pytest.mark.parametrize("address", ["/designs/", "/api/v1/designs/"])
def test_503_says_when_to_try_again(client, monkeypatch, reference_data, fault, address):
    def away(*_, **__):
        raise fault

    monkeypatch.setattr(designs, "listing", away)
    client.raise_request_exception = False
    answer = client.get(address)
    assert answer.status_code == 503 and int(answer["Retry-After"]) > 0
    assert b"terminating" not in answer.content
    monkeypatch.undo()
    assert client.get(address).status_code == 200


@pytest.mark.django_db
def test_other_faults_stay_faults(client, monkeypatch, reference_data):
    def broken(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr(designs, "listing", broken)
    client.raise_request_exception = False
    assert client.get("/designs/").status_code == 500
