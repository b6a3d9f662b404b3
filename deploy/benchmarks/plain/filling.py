"""Makes the plain service's tables and copies designs, devices and figures of a filled group into them.

    python -m deploy.benchmarks.plain.filling URL

URL: the database of the group. Prints the key of a device and its owner's token.
"""

# ruff: noqa: I001  the service holds the settings, so it comes before Django's own models

from __future__ import annotations

import json
import secrets
import sys
from datetime import date

import psycopg

from deploy.benchmarks.plain import service  # noqa: F401

from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import connection
from rest_framework.authtoken.models import Token

from deploy.benchmarks.plain.models import Design, Device, Result, Test

_DESIGNS = "SELECT id, key, title, recipe::text FROM measurements_design ORDER BY id"
_TESTS = (
    "SELECT t.id, t.key, d.design_id, d.contributor_id, t.measured_on, r.published::text "
    "FROM measurements_result r JOIN measurements_test t ON t.id = r.test_id "
    "JOIN measurements_device d ON d.id = t.device_id WHERE r.current AND r.counts_as_evidence ORDER BY t.id"
)


def main(group_url: str) -> None:
    """Fill an empty database; each test becomes a device of its own."""
    call_command("migrate", "authtoken", verbosity=0)  # our tables refer to accounts, and have no migrations
    call_command("migrate", run_syncdb=True, verbosity=0)
    with psycopg.connect(group_url) as group:
        designs = [
            Design(pk, key, title, json.loads(text)) for pk, key, title, text in group.execute(_DESIGNS)
        ]
        tests = group.execute(_TESTS).fetchall()
    owners = {owner for _, _, _, owner, _, _ in tests}
    User.objects.bulk_create(User(pk=owner, username=f"owner-{owner}") for owner in owners)
    Design.objects.bulk_create(designs)
    Device.objects.bulk_create(Device(pk, key, owner, design) for pk, key, design, owner, _, _ in tests)
    Test.objects.bulk_create(_make_test(pk, day) for pk, _, _, _, day, _ in tests)
    # the same curve for all: no look-up reads it
    curve = {name: [1.0] * 401 for name in ("freq_hz", "rejection_db", "r_ohm", "x_ohm")}
    Result.objects.bulk_create(
        Result(test_id=pk, bands=_read_worst_db(published), curve=curve)
        for pk, _, _, _, _, published in tests
    )
    sender = User.objects.create(pk=max(owners) + 1, username="sender")
    device = Device.objects.create(
        pk=max(row[0] for row in tests) + 1, key=secrets.token_hex(6), owner=sender, design=designs[0]
    )
    with connection.cursor() as cursor:
        cursor.execute("SELECT setval('plain_test_id_seq', %s)", [device.pk])
        cursor.execute("ANALYZE")
    sys.stdout.write(f"{device.key} {Token.objects.create(user=sender).key}\n")


def _make_test(pk: int, day: date) -> Test:
    return Test(
        pk=pk, device_id=pk, kind="common_mode", calibrated=True, measured_on=day, sweep_sha256=f"{pk:064x}"
    )


def _read_worst_db(published: str) -> dict[str, dict[str, float]]:
    """Return the worst rejection per band of what a result publishes."""
    return {band: {"worst_db": row[1]} for band, row in json.loads(published)["bands"].items()}


if __name__ == "__main__":
    main(sys.argv[1])
