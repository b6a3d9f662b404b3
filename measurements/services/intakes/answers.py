"""Answers the questions of an intake: one answer for all files that wait for it."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import IntakeFile
from measurements.services.intakes import intakes, manifests

YES, NEW, OTHER, DROP = "yes", "new", "other", "drop"
ANSWERS = (YES, NEW, OTHER, DROP)
GIVEN_WITH_NEW = ("contributor", "design")


def answer_question(
    *, by: Viewer, intake: str, group: str, answer: str, given: Mapping[str, str] | None = None
) -> int:
    """Answer one question for all files that wait for it; answers how many there were.

    answer: `yes` to what the question proposes; `new`: the tag is a new device (given: its contributor and
    design, where they are missing); `other`: another tag (given: `tag` for all of them, or one for each file
    under its number); `drop`: leave the files out.
    Raises BenchnightError `intake.not_found`, `intake.no_question`, `intake.answer`.
    """
    found = intakes.get_intake_for_staff(by, intake)
    files = [file for file in _list_refused(found.pk) if file.question.get("group") == group]
    if not files:
        raise BenchnightError(
            "intake.no_question",
            "This question has its answer already, or changed meanwhile.",
            kind="conflict",
        )
    if answer == DROP:
        with transaction.atomic():
            for file in files:
                intakes.drop_file(by=by, intake=intake, number=file.number)
        return len(files)
    lines = _build_lines(files, answer, dict(given or {}))
    if not lines:
        raise BenchnightError("intake.answer", "Give the tag of at least one file.", field="tag")
    intakes.correct_files(by=by, intake=intake, assignments=lines)
    return len(lines)


def _build_lines(files: list[IntakeFile], answer: str, given: dict[str, str]) -> dict[int, dict[str, str]]:
    """Return the columns that change, by the number of the file."""
    if answer == YES:
        return {file.number: dict(file.question.get("answer", {})) for file in files}
    if answer == NEW:
        more = {name: given[name] for name in GIVEN_WITH_NEW if given.get(name)}
        return {file.number: {**more, manifests.NEW_DEVICE: "yes"} for file in files}
    if answer != OTHER:
        raise BenchnightError("intake.answer", f"Answer with one of: {', '.join(ANSWERS)}.", field="answer")
    tags = {file.number: (given.get(str(file.number)) or given.get("tag") or "").strip() for file in files}
    # a tag that was typed is looked at like any other: a slip of the keyboard is one too
    return {number: {"tag": tag, manifests.NEW_DEVICE: "no"} for number, tag in tags.items() if tag}


def _list_refused(intake_id: int) -> list[IntakeFile]:
    rows = IntakeFile.objects.filter(intake=intake_id, state=IntakeFile.State.REFUSED)
    return list(rows.exclude(question={}).defer("raw").order_by("number"))
