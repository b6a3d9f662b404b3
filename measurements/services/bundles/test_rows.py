"""Stores the tests of a bundle that are new here, with the figures that were computed before."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from measurements.models import Device, Night, SweepFile, Test
from measurements.services.bundles.import_run import ImportRun
from measurements.services.bundles.row_fields import parse_values
from measurements.services.bundles.test_figures import ComputedRow, find_other_holder
from measurements.services.check_standards import holds
from measurements.services.evidence import recipe_doubts
from measurements.services.tests import results

TEST_FIELDS = ("excluded_reason", "excluded_at", "recipe_confirmed_at", "is_private")


def create_test(run: ImportRun, row: Mapping[str, Any], computed: ComputedRow) -> Test:
    """Store a test of a device that is here. Call inside a transaction."""
    device = Device.objects.select_related("design").get(key=row["device"])
    test = Test(
        key=row["key"],
        device=device,
        kind=row["kind"],
        settings=_translate_partner(run, row["settings"]),
        content_sha256=row["content_sha256"],
        night=None if row["night"] is None else Night.objects.filter(key=row["night"]).first(),
        recipe_doubt=_check_recipe(device, computed),
        shares_bytes=find_other_holder(row, device.contributor_id),
        **parse_values(row, ("measured_on", *TEST_FIELDS)),
    )
    test.save(force_insert=True)
    Test.objects.filter(pk=test.pk).update(**parse_values(row, ("recorded_at",)))
    digests = {file["role"]: file["sha256"] for file in row["files"]}
    SweepFile.objects.bulk_create(
        SweepFile(
            test=test,
            role=role,
            name=upload.name,
            raw=upload.data,
            raw_sha256=digests[role],
            **results.pack_sweep(computed.sweeps[role]),
        )
        for role, upload in computed.files.items()
    )
    results.add_result(test, computed.analysis)
    standard = device.standards.filter(ended_at=None).first()
    # a standard that came in this bundle brings its holds along
    if standard is not None and ("standards", standard.key) not in run.created:
        holds.check_session(Test.objects.select_related("night", "device").get(pk=test.pk))
    return test


def change_test(_run: ImportRun, test: Test, changes: Mapping[str, Any]) -> None:
    """Take what a steward or the owner decided on the other server."""
    Test.objects.filter(pk=test.pk).update(**parse_values({"key": test.key, **changes}, tuple(changes)))
    recipe_doubts.update_evidence(Test.objects.get(pk=test.pk))


def _translate_partner(run: ImportRun, settings: dict[str, Any]) -> dict[str, Any]:
    partner = settings.get("partner")
    return {**settings, "partner": run.tests.get(partner, partner)} if partner else settings


def _check_recipe(device: Device, computed: ComputedRow) -> dict[str, Any] | None:
    if computed.settings.kind != recipe_doubts.EVIDENCE_KIND:
        return None
    recipe = None if device.design is None else device.design.recipe
    return recipe_doubts.check_recipe(recipe, computed.analysis.evidence)
