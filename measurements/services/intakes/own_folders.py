"""Takes in a member's own folder: many files of own devices at once, each with its own answer.

Unlike an intake of a night it registers no device, and what it stores counts against the member's limit of
new tests. It works while the client waits, for WORK_S seconds at most; what is then left comes back as
waiting, and the client sends it again. So nothing is staged, and a lost connection loses nothing: what was
stored is found again.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import PurePath

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Device
from measurements.services.intakes import file_rows, grouping, manifests, placement, processing
from measurements.services.intakes.grouping import UnitAssignment
from measurements.services.operations.audit import WriteResult
from measurements.services.tests import preparation, tests
from measurements.services.uploads import archives
from measurements.services.uploads.uploads import Upload

WORK_S = 20.0
LIMIT_CODE = "limit.uploads"
# what one form may say of all files; a line of the manifest says otherwise for its own
SHARED_WORDS = ("kind", "method", "ratio", "load_ohm", "series_ohm", "calibrated", "measured_on")
OUT_OF_TIME = "There was no time left for this one. Send it again."
STORED, ALREADY_THERE, REFUSED, WAITING = "stored", "already_there", "refused", "waiting"
STATES = (STORED, ALREADY_THERE, REFUSED, WAITING)

Count = Callable[[], AbstractContextManager[None]]


@dataclass(frozen=True)
class FolderFile:
    """One file and its end. reason: why it is refused or waits; empty otherwise. test: its key."""

    file: str
    state: str
    reason: str = ""
    test: str | None = None


@dataclass(frozen=True)
class FolderReceipt:
    """All files in the order they came. limit_met: some wait because the limit of new tests is used up."""

    files: tuple[FolderFile, ...]
    limit_met: bool = False


@dataclass(frozen=True)
class _Sent:
    """A file beside its line: what it is of whose device."""

    upload: Upload
    line: Mapping[str, str | int]


def record_folder(
    *,
    by: Viewer,
    files: Sequence[Upload],
    shared: Mapping[str, str],
    manifest: str | None = None,
    count: Count,
) -> FolderReceipt:
    """Store a test of each file, those of one tag, kind and method in different roles as one test.

    shared: SHARED_WORDS for all files. Without a manifest a file's name without its ending is the tag.
    count: makes the context that counts one new test; it raises `limit.uploads` beyond the limit.
    Raises BenchnightError `intake.*`, `manifest.*`, `sweep.too_large` before anything is stored; a fault of
    one test refuses the files of that test alone.
    """
    policy.check_signed_in(by)
    file_rows.check_sent_files(files)
    sent = _join_lines(files, file_rows.parse_manifest_rows(manifest), shared, manifest is not None)
    return _FolderRun(by, shared, count).work_through(sent)


def unpack_folder(archive: Upload) -> tuple[tuple[Upload, ...], str | None]:
    """Unpack a zip of sweeps and perhaps a manifest.csv. Raises BenchnightError `zip.*`."""
    files, table = archives.unpack_zip(archive)
    return files, None if table is None else manifests.decode_manifest(table)


def _join_lines(
    files: Sequence[Upload],
    rows: Sequence[manifests.ManifestRow],
    shared: Mapping[str, str],
    has_manifest: bool,
) -> list[_Sent]:
    """Put each file beside its line; a line whose file did not come has no bytes."""
    by_name = {str(row["file"]).casefold(): row for row in rows}
    joined = []
    for upload in files:
        name = preparation.clean_file_name(upload.name)
        given = by_name.pop(name.casefold(), None)
        line = given if has_manifest else {"tag": PurePath(name).stem}
        joined.append(_Sent(Upload(name, upload.data), _fill_line(line, shared)))
    missing = (row for row in rows if str(row["file"]).casefold() in by_name)
    return joined + [_Sent(Upload(str(row["file"]), b""), _fill_line(row, shared)) for row in missing]


def _fill_line(line: Mapping[str, str | int] | None, shared: Mapping[str, str]) -> dict[str, str | int]:
    """Fill kind and method, which group the files, from the answers for all files; {} without a line."""
    if line is None:
        return {}
    filled = {name: shared[name] for name in ("kind", "method") if shared.get(name)}
    return filled | {name: value for name, value in line.items() if value != ""}


def _fill_unit(
    lines: Sequence[Mapping[str, str | int]], shared: Mapping[str, str]
) -> list[Mapping[str, str | int]]:
    """Add the answers for all files where no line of the unit gives its own, so that none contradicts it."""
    given = {name for line in lines for name in line}
    rest = {name: text for name, text in shared.items() if text and name not in given}
    return [{**rest, **lines[0]}, *lines[1:]]


class _FolderRun:
    """One pass over the units of a folder."""

    def __init__(self, by: Viewer, shared: Mapping[str, str], count: Count) -> None:
        self._by, self._shared, self._count = by, shared, count
        self._until = time.monotonic() + WORK_S
        self._limit: BenchnightError | None = None

    def work_through(self, sent: Sequence[_Sent]) -> FolderReceipt:
        """Work on unit after unit; each is stored by itself."""
        numbers = grouping.number_units([each.line for each in sent])
        ends: dict[int, FolderFile] = {}
        for unit in sorted(set(numbers)):
            places = [place for place, number in enumerate(numbers) if number == unit]
            for place, end in zip(places, self._end_unit([sent[place] for place in places]), strict=True):
                ends[place] = end
        return FolderReceipt(tuple(ends[place] for place in range(len(sent))), self._limit is not None)

    def _end_unit(self, unit: Sequence[_Sent]) -> list[FolderFile]:
        if time.monotonic() > self._until:
            return [FolderFile(each.upload.name, WAITING, OUT_OF_TIME) for each in unit]
        try:
            stored = self._record_unit(unit)
        except BenchnightError as error:
            state = WAITING if error.code == LIMIT_CODE else REFUSED
            reason = processing.describe_refusal(error)
            return [FolderFile(each.upload.name, state, reason) for each in unit]
        state = STORED if stored.created else ALREADY_THERE
        return [FolderFile(each.upload.name, state, test=stored.key) for each in unit]

    def _record_unit(self, unit: Sequence[_Sent]) -> WriteResult:
        if not unit[0].line:
            raise BenchnightError("intake.unassigned", file_rows.UNASSIGNED)
        assigned = grouping.combine_lines(_fill_unit([each.line for each in unit], self._shared))
        device = _find_own_device(self._by, assigned)
        uploads = {role: _check_sent(each.upload) for role, each in zip(assigned.roles, unit, strict=True)}
        return tests.record_test(
            by=self._by,
            device=device.key,
            uploads=uploads,
            settings=placement.get_unit_settings(placement.Placement(device, None), assigned),
            measured_on=_get_day(assigned),
            counted=self._count_new(),
        )

    @contextmanager
    def _count_new(self) -> Iterator[None]:
        """Count a new test; once the limit is used up, refuse without counting again."""
        if self._limit is not None:
            raise self._limit
        try:
            with self._count():
                yield
        except BenchnightError as error:
            if error.code == LIMIT_CODE:
                self._limit = error
            raise


def _find_own_device(by: Viewer, assigned: UnitAssignment) -> Device:
    """Find the member's own device of a tag. Raises BenchnightError `folder.*`."""
    if assigned.contributor or assigned.design:
        raise BenchnightError(
            "folder.own_only",
            "A folder holds tests of your own registered devices: leave contributor and design empty.",
            field="contributor" if assigned.contributor else "design",
        )
    own = Device.objects.select_related("contributor", "design").filter(
        contributor__member=by.member_id, tag__iexact=assigned.tag
    )
    found = list(own[:20])
    exact = [device for device in found if device.tag == assigned.tag]
    if len(exact or found) == 1:
        return (exact or found)[0]
    raise BenchnightError(
        "folder.several_devices" if found else "folder.unknown_tag",
        f"You have {'several devices' if found else 'no device'} with the tag {assigned.tag!r}. "
        f"{'Give each a tag of its own' if found else 'Register it, or correct the tag'}, "
        "and send this file again.",
    )


def _check_sent(upload: Upload) -> Upload:
    if upload.data:
        return upload
    raise BenchnightError(
        "intake.not_sent", "The manifest names this file, but it did not come or is empty.", field="file"
    )


def _get_day(assigned: UnitAssignment) -> date:
    if assigned.measured_on is None:
        raise BenchnightError("field.required", "Give the day of the measurement.", field="measured_on")
    return assigned.measured_on
