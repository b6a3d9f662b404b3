"""Ask rather than guess where a file belongs: what is unclear waits for a person's answer.

A question refuses the files of one test. Files with the same `group` are answered together; a yes sets the
columns of `answer`. Changed columns raise every question anew.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Design, Device, Intake, IntakeFile, Night, NightDevice, NightOperator
from measurements.rf.impedance_ratio import parse_ratio
from measurements.services.devices import attendance
from measurements.services.intakes import manifests
from measurements.services.intakes.filename_hints import is_counter_name
from measurements.services.intakes.grouping import UnitAssignment
from measurements.services.intakes.sweep_likeness import looks_like_sweep
from measurements.services.intakes.tag_likeness import find_closest_tags, fold_tag, is_close_tag

NO_SWEEP = "question.no_sweep"
NO_TAG = "question.no_tag"
CLOSE_TAG = "question.close_tag"
OTHER_OWNER = "question.other_owner"
EARLIER_NIGHT = "question.earlier_night"
NEW_DEVICE = "question.new_device"
RATIO = "question.ratio"

MOST_CLOSE = 4  # tags named in one question


class OpenQuestionError(BenchnightError):
    """A file waits for an answer. group: what is answered together. answer: the columns that a yes sets."""

    def __init__(
        self,
        code: str,
        detail: str,
        *,
        column: str,
        group: str,
        answer: dict[str, str] | None = None,
        line: object = None,
    ) -> None:
        super().__init__(code, detail, field=column, line=line if isinstance(line, int) else None)
        self.group, self.answer = f"{code} {group}".strip(), dict(answer or {})


def describe_question(error: BenchnightError) -> dict[str, object]:
    """Return what is stored of a question; nothing where an error is none."""
    if not isinstance(error, OpenQuestionError):
        return {}
    return {"code": error.code, "group": error.group, "answer": error.answer, "text": error.detail}


def ask_about_files(intake: Intake, files: Sequence[IntakeFile]) -> None:
    """Ask about files that look like no sweep, and about those whose name has no tag, a counter perhaps.

    Raises OpenQuestionError.
    """
    for file in files:
        if not looks_like_sweep(file.name, bytes(file.raw)):
            raise build_no_sweep_question(file.name)
    if any(_get_tag(file) for file in files):
        return
    skeleton = re.sub(r"\d+", "#", files[0].name)
    alike = [name for name in _list_names(intake) if re.sub(r"\d+", "#", name) == skeleton]
    detail = f"The name {files[0].name} holds no tag. Give the tag of the device."
    if len(alike) > 1 and "#" in skeleton:
        detail = (
            f"{alike[0]} to {alike[-1]}: {len(alike)} files that differ by a number alone, and the number "
            "is no tag. Give the tag of each."
        )
    line = files[0].assignment.get(manifests.LINE_KEY)
    raise OpenQuestionError(NO_TAG, detail, column="tag", group=skeleton, line=line)


def build_no_sweep_question(name: str) -> OpenQuestionError:
    """Ask whether a file without figures may be left out."""
    detail = f"{name} holds no rows of figures, so it looks like no sweep. May it be left out?"
    return OpenQuestionError(NO_SWEEP, detail, column="file", group="")


def ask_about_tag(by: Viewer, intake: Intake, files: Sequence[IntakeFile], assigned: UnitAssignment) -> None:
    """Ask about a tag that nothing on the bench has: a slip, a device of an earlier night, or a new one?

    Raises OpenQuestionError.
    """
    night, tag, owner = intake.night, assigned.tag, assigned.contributor
    bench = list(_list_bench(night))
    here = [device for device in bench if device.tag.casefold() == tag.casefold()]
    named = [device for device in here if not owner or _get_owner_name(device, night) == owner.casefold()]
    if attendance.find_device_by_label(tag) is not None or named or assigned.new_device == "yes":
        return
    group = f"{fold_tag(tag)} {owner.casefold()}"
    if here:
        _ask_about_owner(here, tag, owner, group)
    elsewhere = [
        device
        for device in _list_elsewhere(by, night)
        # a line that names its owner means nobody else's device
        if assigned.new_device == "no" or not owner or _is_named(by, device, owner)
    ]
    _ask_about_earlier_night(elsewhere, tag, owner, group)
    close = [device.tag for device in bench if device not in here and _may_be(tag, device.tag)]
    close += [device.tag for device in elsewhere if is_close_tag(tag, device.tag)]
    close += _list_close_in_intake(intake, tag)
    closest = find_closest_tags(tag, close)
    if closest:
        raise OpenQuestionError(
            CLOSE_TAG,
            f"{tag}: did you mean {' or '.join(closest[:MOST_CLOSE])}?",
            column="tag",
            group=group,
            # of several that are equally close none is proposed
            answer={"tag": closest[0]} if len(closest) == 1 else {},
        )
    if assigned.new_device == "no" or any(is_counter_name(file.name, tag) for file in files):
        raise OpenQuestionError(
            NEW_DEVICE,
            f"{tag} is no device of this night. Is it a new one?",
            column="tag",
            group=group,
            answer={manifests.NEW_DEVICE: "yes"},
        )


def ask_about_ratio(design: Design | None, files: Sequence[IntakeFile], assigned: UnitAssignment) -> None:
    """Ask where a line's ratio contradicts the design of its device. Raises OpenQuestionError."""
    if design is None or not assigned.ratio_given:
        return
    given = assigned.settings.ratio
    if parse_ratio(given) == parse_ratio(design.ratio):
        return
    raise OpenQuestionError(
        RATIO,
        f"{files[0].name} says {given}, but {assigned.tag} is built as {design.title} ({design.ratio}). "
        f"Is it {assigned.tag}, at {design.ratio}?",
        column="ratio",
        group=f"{fold_tag(assigned.tag)} {assigned.contributor.casefold()} {given}",
        answer={"ratio": ""},
    )


def _ask_about_owner(here: Sequence[Device], tag: str, owner: str, group: str) -> None:
    """Ask whether a tag of the bench is meant although the line names somebody else as its owner."""
    if len(here) > 1:
        return  # the placement asks whose of them it is
    raise OpenQuestionError(
        OTHER_OWNER,
        f"{tag} lies on the bench, and it is not {owner}'s. Is it that device?",
        column="contributor",
        group=group,
        answer={"tag": here[0].key, "contributor": ""},
    )


def _ask_about_earlier_night(elsewhere: Iterable[Device], tag: str, owner: str, group: str) -> None:
    same = [device for device in elsewhere if fold_tag(device.tag) == fold_tag(tag)]
    for device in same[:1]:
        whose = "the group" if device.contributor.is_group else device.contributor.guest_name or "you"
        raise OpenQuestionError(
            EARLIER_NIGHT,
            f"{device.tag} of {whose} is known, but not on this night's bench. Is it that device?",
            column="tag",
            group=group,
            answer={"tag": device.key, "contributor": ""},
        )


def _list_bench(night: Night) -> Iterable[Device]:
    there = NightDevice.objects.live().filter(night=night).values("device")
    return Device.objects.filter(pk__in=there).select_related("contributor", "design").order_by("pk")


def _get_owner_name(device: Device, night: Night) -> str:
    person = device.contributor.attended.filter(night=night).first()
    return (person.name if person is not None else device.contributor.guest_name).casefold()


def _may_be(tag: str, known: str) -> bool:
    """Say whether a tag is another one but for its separators, or may be a slip for it."""
    return fold_tag(tag) == fold_tag(known) or is_close_tag(tag, known)


def _is_named(by: Viewer, device: Device, owner: str) -> bool:
    name = device.contributor.guest_name or by.name
    return name.casefold() == owner.casefold()


def _list_elsewhere(by: Viewer, night: Night) -> list[Device]:
    """Return own devices, a keeper's kit, and guests' devices of other nights of `by`: nothing unknown."""
    own = Device.objects.filter(contributor__member=by.member_id)
    if by.is_steward or by.keeps_kit:
        own |= Device.objects.filter(contributor__is_group=True)
    runs = NightOperator.objects.filter(member=by.member_id).exclude(night=night).values("night")
    there = NightDevice.objects.live().filter(night__in=runs).values("device")
    guests = Device.objects.filter(pk__in=there, contributor__member=None, contributor__is_group=False)
    bench = NightDevice.objects.live().filter(night=night).values("device")
    both = (own | guests).exclude(pk__in=bench).select_related("contributor").order_by("-pk")
    return list(both.distinct())


def _list_close_in_intake(intake: Intake, tag: str) -> list[str]:
    """Return tags of the same hand-in that this one may be a slip for: those of as many lines or more.

    A tag that somebody called new stays itself, and so the slip for it raises a question, never the reverse.
    """
    lines = list(intake.files.values_list("assignment", flat=True))
    counts: dict[str, int] = {}
    written: dict[str, str] = {}
    called_new: set[str] = set()
    for line in lines:
        text = str(line.get("tag") or "").strip()
        counts[fold_tag(text)] = counts.get(fold_tag(text), 0) + 1
        written.setdefault(fold_tag(text), text)
        if line.get(manifests.NEW_DEVICE) == "yes":
            called_new.add(fold_tag(text))
    own = counts.get(fold_tag(tag), 0)
    return [
        written[folded]
        for folded, count in counts.items()
        if is_close_tag(tag, written[folded]) and (count >= own or folded in called_new)
    ]


def _get_tag(file: IntakeFile) -> str:
    return str(file.assignment.get("tag") or "").strip()


def _list_names(intake: Intake) -> list[str]:
    """Return names of the intake's files that have no tag yet."""
    rows = intake.files.order_by("name").values_list("name", "assignment")
    return [name for name, line in rows if not str(line.get("tag") or "").strip()]
