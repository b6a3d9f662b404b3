"""Computes the tests of a bundle that are new here, from their bytes: no figure of another is believed.

This runs before the transaction that stores them, which so stays short.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.errors import BenchnightError
from measurements.models import BundlePerson, Device, Test
from measurements.rf.analysis import Analysis, analyse
from measurements.rf.request import LossCurve
from measurements.rf.sweeps.sweep import Sweep
from measurements.services.bundles.import_run import ImportRun
from measurements.services.bundles.zip_entries import build_refusal
from measurements.services.tests import analysis, preparation
from measurements.services.uploads import uploads
from measurements.services.uploads.dc_settings import read_stored_dc
from measurements.services.uploads.uploads import TestSettings, Upload


@dataclass(frozen=True)
class ComputedRow:
    """A test of the bundle with its figures. shares_bytes: another's test here holds the same file."""

    analysis: Analysis
    sweeps: Mapping[str, Sweep]
    files: Mapping[str, Upload]
    settings: TestSettings


def compute_new_tests(run: ImportRun, *, step: Callable[[], None]) -> dict[str, ComputedRow]:
    """Compute every test that is not here yet, by its key. step: called before each.

    A test whose trusted partner is neither here nor in the bundle is left out.
    Raises BenchnightError `bundle.test` for one that cannot be read.
    """
    rows = run.rows["tests"]
    owners = _find_owners(run)
    computed: dict[str, ComputedRow] = {}
    seen: set[tuple[str, str]] = set()
    for row in rows:
        if ("tests", row["key"]) in run.marks or find_stored_test(row) is not None:
            continue
        step()
        person = owners.get(row["device"], ("", None))
        digests = preparation.list_own_digests({file["role"]: file["sha256"] for file in row["files"]})
        same_bytes = (
            any((person[0], digest) in seen for digest in digests)
            or preparation.find_holders(_name_sweeps(digests), person[1], None)[0]
        )
        seen.update((person[0], digest) for digest in digests)
        try:
            found = _compute(run, row, computed, same_bytes=same_bytes)
        except BenchnightError as error:
            raise build_refusal(
                "bundle.test",
                f"Test {row['key']} of this bundle cannot be computed: {error.errors[0].detail}",
            ) from error
        if found is not None:
            computed[row["key"]] = found
    return computed


def find_stored_test(row: Mapping[str, Any]) -> Test | None:
    """Return the test here that this row is: by its key, or by the same content of the same device."""
    same = Test.objects.filter(device__key=row["device"], content_sha256=row["content_sha256"])
    return Test.objects.filter(key=row["key"]).first() or same.first()


def find_other_holder(row: Mapping[str, Any], contributor_id: int) -> bool:
    """Tell whether another's test here holds one of the sweeps; the test then has no vote."""
    digests = preparation.list_own_digests({file["role"]: file["sha256"] for file in row["files"]})
    return preparation.find_holders(_name_sweeps(digests), contributor_id, None)[1]


def _name_sweeps(digests: list[str]) -> dict[str, str]:
    return {f"sweep {number}": digest for number, digest in enumerate(digests)}


def _find_owners(run: ImportRun) -> dict[str, tuple[str, int | None]]:
    """Return for each device the person in the bundle and the contributor here, as far as there is one."""
    mapped = dict(BundlePerson.objects.filter(source=run.bag.source).values_list("ref", "contributor_id"))
    here = dict(
        Device.objects.filter(key__in=[row["key"] for row in run.rows["devices"]]).values_list(
            "key", "contributor_id"
        )
    )
    return {
        row["key"]: (row["person"], here.get(row["key"], mapped.get(row["person"])))
        for row in run.rows["devices"]
    }


def read_settings(row: Mapping[str, Any]) -> TestSettings:
    """Return the settings of a test. Raises BenchnightError `bundle.row`."""
    given = row["settings"]
    try:
        return TestSettings(
            **{
                **given,
                "readings": tuple(given["readings"]),
                "antenna_bands": tuple(given.get("antenna_bands", ())),
                "dc": read_stored_dc(given.get("dc")),
            }
        )
    except (TypeError, KeyError) as error:
        raise build_refusal(
            "bundle.row", f"The settings of test {row['key']} are none that this server knows. Update it."
        ) from error


def _compute(
    run: ImportRun, row: dict[str, Any], computed: Mapping[str, ComputedRow], *, same_bytes: bool
) -> ComputedRow | None:
    settings = read_settings(row)
    if settings.kind != row["kind"]:
        raise build_refusal("bundle.row", f"Test {row['key']} says two kinds.")
    partner = None
    if settings.partner:
        partner = _find_partner(settings.partner, computed)
        if partner is None:
            return None
    files = {
        file["role"]: Upload(
            preparation.clean_file_name(file["name"]), run.bag.read(f"data/files/{file['sha256']}")
        )
        for file in row["files"]
    }
    uploads.check_upload_roles(files)
    sweeps = analysis.read_sweeps(files)
    request = analysis.build_request(
        sweeps=sweeps, settings=settings, on=_parse_day(row), same_bytes=same_bytes, partner=partner
    )
    return ComputedRow(analyse(request), sweeps, files, settings)


def _parse_day(row: dict[str, Any]) -> date:
    try:
        day = date.fromisoformat(row["measured_on"])
    except ValueError as error:
        raise build_refusal("bundle.row", f"Test {row['key']} has no day.") from error
    preparation.check_measured_on(day)
    return day


def _find_partner(key: str, computed: Mapping[str, ComputedRow]) -> LossCurve | None:
    """Return the loss of the trusted device, of this bundle or as stored here."""
    if key in computed:
        traces = computed[key].analysis.traces
        if "loss_db" in traces:
            return analysis.build_partner_loss(traces)
    try:
        return analysis.get_stored_partner_loss(key)
    except BenchnightError:
        return None
