"""A second server inside a test: its own key and an empty database, gone again when the block ends."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from typing import Any

from django.db import transaction

from measurements.models import (
    BundleMark,
    BundlePerson,
    Contributor,
    Design,
    Device,
    Member,
    Night,
    Test,
    TrustedKey,
)
from measurements.services.bundles import exports, imports, signing
from measurements.services.bundles.import_run import Decisions, Outcome
from measurements.services.devices import devices
from measurements.services.nights import guests, nights
from measurements.services.tests import tests
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories


@contextmanager
def other_server(settings: Any, var: Any) -> Iterator[None]:
    """Everything of this server is gone inside the block, and back after it."""
    mine = settings.BENCHNIGHT_VAR
    settings.BENCHNIGHT_VAR = var
    try:
        with transaction.atomic():
            for model in (
                BundleMark,
                BundlePerson,
                TrustedKey,
                Test,
                Device,
                Design,
                Night,
                Contributor,
                Member,
            ):
                model.objects.all().delete()
            yield
            transaction.set_rollback(True)
    finally:
        settings.BENCHNIGHT_VAR = mine


def export(scope: exports.BundleScope) -> bytes:
    """The bytes of a bundle."""
    out = io.BytesIO()
    exports.write_bundle(scope, out)
    return out.getvalue()


def take(bundle: bytes, *, apply: bool = True, **decisions: Any) -> Outcome:
    """Import the bytes of a bundle."""
    return imports.import_bundle(io.BytesIO(bundle), apply=apply, decisions=Decisions(**decisions))


def trust(key: str) -> None:
    """Trust another server."""
    signing.trust_key(key=key, name="Field box")


def hold_night(people: int = 3, devices_each: int = 2) -> tuple[str, list[str], list[str]]:
    """A night with guests, their devices and a test of each; the keys of night, devices and tests."""
    by = factories.member("bench-op", "operator")
    design = factories.design(by)
    night = nights.open_night(by=by, held_on=date(2026, 3, 14), title="Field day").key
    made: list[str] = []
    recorded: list[str] = []
    for person in range(people):
        guest = guests.add_attendee(by=by, night=night, name=f"Guest {person}").key
        for number in range(devices_each):
            key = devices.register_device(
                by=by, design=design, tag=f"G{person}-{number}", contributor=(night, guest)
            ).key
            made.append(key)
            recorded.append(record(by, key, night, seed=100 * person + number))
    return night, made, recorded


def record(by: Any, device: str, night: str | None, seed: int) -> str:
    """A common-mode test of a device."""
    return tests.record_test(
        by=by,
        device=device,
        uploads={"sweep": Upload("sweep.s2p", factories.choke_s2p(seed=seed, points=101))},
        settings=parse_settings({"kind": "common_mode", "calibrated": "true", "recipe_confirmed": "true"}),
        measured_on=date(2026, 3, 14),
        night=night,
    ).key
