"""A test made ready: checked and computed, nothing stored yet.

Computing takes longer than storing; done first, it keeps the transaction that stores short.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Design, Device, Night, NightJigFile, SweepFile, Test
from measurements.services.analysers.descriptions import resolve_analyser
from measurements.services.tests import analysis
from measurements.services.tests.analysis import AnalysedUploads
from measurements.services.tests.upload_statements import UploadFacts
from measurements.services.uploads.uploads import TestSettings, Upload, fill_dc_type

EARLIEST = date(1990, 1, 1)
# kinds whose sweeps pass through the night's jig -> its sweeps that they use
JIG_ROLES_BY_KIND = {
    "common_mode": ("jig_through", "jig_open", "jig_short"),
    "insertion_loss": ("jig_through",),  # what it loses, and the match of port 2
}
BYPASS_KIND = "in_situ"
# a role of the first test of an antenna -> the role under which a later test holds it
FIRST_ROLES = {"sweep": "first_through", "sweep_bypassed": "first_bypassed"}


@dataclass(frozen=True)
class RequestedTest:
    """What somebody asks to be stored as one test. content: its identity, see `content_sha256`."""

    uploads: Mapping[str, Upload]
    settings: TestSettings
    measured_on: date
    night: Night | None

    @cached_property
    def content(self) -> str:
        """Hash the content that makes two uploads the same test; see `content_sha256`."""
        return compute_content_sha256(self.digests, self.settings, self.night, self.measured_on)

    @cached_property
    def digests(self) -> dict[str, str]:
        """Return SHA-256 of every upload, in hexadecimal, by role."""
        return {role: hash_upload(upload) for role, upload in self.uploads.items()}


@dataclass(frozen=True)
class ComputedTest:
    """The same with its figures. uploads and settings: what the night adds is among them."""

    asked: RequestedTest
    uploads: Mapping[str, Upload]
    settings: TestSettings
    digests: Mapping[str, str]
    analysed: AnalysedUploads
    shares_bytes: bool


def compute_test(
    by: Viewer,
    asked: RequestedTest,
    facts: UploadFacts | None = None,
    *,
    design: Design | None = None,
    device: Device | None = None,
) -> ComputedTest:
    """Read and compute. facts: of this test, where they were read already; else device: whose it is, if any.
    design: of an ohmmeter test.

    Raises BenchnightError: nothing to read, or a faulty file (with its line).
    """
    check_measured_on(asked.measured_on)
    added = {**get_night_jig_uploads(asked), **get_commissioning_uploads(by, asked)}
    uploads = {**added, **asked.uploads}
    settings = resolve_analyser(by, complete_dc_type(asked.settings, design), asked.night)
    if settings.calibrated is None and asked.night is not None:
        settings = replace(settings, calibrated=asked.night.calibrated)
    digests = {**{role: hash_upload(upload) for role, upload in added.items()}, **asked.digests}
    if facts is None:
        own, other = find_holders(digests, None if device is None else device.contributor_id, by.member_id)
    else:
        own, other = facts.is_held, facts.is_held_by_other
    analysed = analysis.analyse_uploads(
        uploads_by_role=uploads,
        settings=settings,
        on=asked.measured_on,
        same_bytes=own,
        by=by,
        facts=facts,
    )
    return ComputedTest(asked, uploads, settings, digests, analysed, shares_bytes=other)


def get_night_jig_uploads(asked: RequestedTest) -> dict[str, Upload]:
    """Return the night's jig sweeps, for a sweep through the jig that brings none of its own.

    All or none: a through of one jig beside the open of another would correct for neither. Reflections of one
    side (far_open, ...) do not pass through the jig.
    """
    used = JIG_ROLES_BY_KIND.get(asked.settings.kind, ())
    if asked.night is None or not any(_passes_jig(role) for role in asked.uploads):
        return {}
    if any(role.startswith("jig_") for role in asked.uploads):
        return {}
    files = NightJigFile.objects.filter(night=asked.night, role__in=used)
    return {role: Upload(name, bytes(raw)) for role, name, raw in files.values_list("role", "name", "raw")}


def _passes_jig(role: str) -> bool:
    return role == "sweep" or role.startswith("pair_")


def complete_dc_type(settings: TestSettings, design: Design | None) -> TestSettings:
    """Fill in what an ohmmeter test is held against from the design, where nobody said."""
    if design is None:
        return settings
    return fill_dc_type(settings, design.purpose, design.principle, design.ratio)


def get_commissioning_uploads(by: Viewer, asked: RequestedTest) -> dict[str, Upload]:
    """Return the first two sweeps of the same antenna place, for a bypass test that brings none of its own.

    Only the member's own tests are looked at, and none on a night, where another's antenna is tested. The
    first test of a place has nothing to be compared with.
    """
    place = asked.settings.antenna_place
    if asked.settings.kind != BYPASS_KIND or place is None or not by.member_id or asked.night is not None:
        return {}
    if any(role in asked.uploads for role in FIRST_ROLES.values()):
        return {}
    tests = Test.objects.filter(
        kind=BYPASS_KIND,
        device__contributor__member_id=by.member_id,
        settings__antenna_place=place,
        measured_on__lte=asked.measured_on,
    )
    first = tests.order_by("measured_on", "pk").first()
    if first is None:
        return {}
    files = first.sweeps.filter(role__in=FIRST_ROLES).values_list("role", "name", "raw")
    return {FIRST_ROLES[role]: Upload(name, bytes(raw)) for role, name, raw in files}


def compute_content_sha256(
    digests: Mapping[str, str], settings: TestSettings, night: Night | None, measured_on: date
) -> str:
    """Hash the settings and the bytes in every role: two uploads of one hash are the same test.

    On a night: as they came, without what the night adds. A sweep that is sent again finds its first test
    also after the night's jig was swept anew. Without a file the day counts too: a meter that reads the same
    next year was read anew.
    """
    content = {
        "files": dict(sorted(digests.items())),
        "settings": settings.as_json(),
    }
    if night is not None:
        content["night"] = night.key
    if not digests:
        content["measured_on"] = measured_on.isoformat()
    try:
        canonical = json.dumps(content, sort_keys=True, allow_nan=False)
    except ValueError as error:  # a reading such as 1e999
        raise BenchnightError(
            "readings.not_finite", "A reading is not a finite number.", field="readings"
        ) from error
    return hashlib.sha256(canonical.encode()).hexdigest()


def find_holders(
    digests: Mapping[str, str], contributor_id: int | None, member_id: int | None
) -> tuple[bool, bool]:
    """Say whether older tests hold one of these sweeps: own ones, and those of others.

    Own ones are of the same contributor, or stored by the same account. Whoever stores a file learns of own
    ones only: the others keep the test out of evidence, and stewards see it. Jig sweeps are rightly shared.
    """
    holders = list(
        SweepFile.objects.filter(raw_sha256__in=list_own_digests(digests)).values_list(
            "test__device__contributor", "test__recorded_by"
        )
    )
    own = [is_own_holder(owner, stored_by, contributor_id, member_id) for owner, stored_by in holders]
    return any(own), not all(own)


def is_own_holder(
    owner: int, stored_by: int | None, contributor_id: int | None, member_id: int | None
) -> bool:
    """Say whether a test of `owner` that `stored_by` stored is known to who stores the same bytes again."""
    return owner == contributor_id or (stored_by is not None and stored_by == member_id)


def list_own_digests(digests: Mapping[str, str]) -> list[str]:
    """List the test's own sweeps, from all by role; those of a jig and an antenna's first are shared."""
    return [digest for role, digest in digests.items() if not role.startswith(("jig_", "first_"))]


def check_measured_on(measured_on: date) -> None:
    """Raise BenchnightError `test.measured_on` for a day in the future or long before any analyser."""
    # tomorrow is allowed: whoever is ahead of UTC may already write tomorrow's date
    if not EARLIEST <= measured_on <= (timezone.now() + timedelta(days=1)).date():
        raise BenchnightError(
            "test.measured_on", "Give the day of the measurement, not in the future.", field="measured_on"
        )


def clean_file_name(name: str) -> str:
    """Return the file's own name without folders and control characters, at most 255 characters."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(char for char in last if char.isprintable())[:255] or "unnamed"


def hash_upload(upload: Upload) -> str:
    """Return of the bytes, in hexadecimal."""
    return hashlib.sha256(upload.data).hexdigest()
