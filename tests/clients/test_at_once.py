"""The same request many times at once, as from a client that lost its patience: done once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
import requests

from measurements.models import Device
from tests.clients.conftest import Group

pytestmark = pytest.mark.django_db(transaction=True)
MANY = 12


def test_one_key_is_one_device(group: Group):
    headers = {"Authorization": f"Token {group.token}", "Idempotency-Key": "once"}
    sent = {"design": group.design, "tag": "hurried"}

    def send(_number: int) -> tuple[int, str | None]:
        reply = requests.post(f"{group.api}devices/", json=sent, headers=headers, timeout=60)
        return reply.status_code, reply.json().get("id")

    with ThreadPoolExecutor(MANY) as pool:
        replies = list(pool.map(send, range(MANY)))
    statuses = {status for status, _ in replies}
    assert 201 in statuses and statuses <= {201, 409}, replies
    assert {key for status, key in replies if status == 201} == {Device.objects.get(tag="hurried").key}
    assert send(0) == (201, Device.objects.get(tag="hurried").key)
