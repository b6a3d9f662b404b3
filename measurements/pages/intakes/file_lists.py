"""The questions of an intake, each once for all its files, and its files as a list to sort and filter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import QueryDict

from measurements.pages.nights import presenters
from measurements.selectors.intakes.intakes import IntakeFileRow
from measurements.services.intakes import manifests, questions

PAGE_SIZE = 50
MOST_NAMES = 6  # of one question; the list below has the others
ORDERS = {"": "as they came", "file": "file", "tag": "tag", "state": "state"}
STATES = ("waiting", "stored", "already_there", "refused")


@dataclass(frozen=True)
class QuestionLine:
    """A question with the files that wait for it.

    yes: the words on its button; empty where nothing is proposed.
    typed: the question takes a tag for each file. is_new: a yes makes a new device.
    """

    group: str
    text: str
    files: tuple[IntakeFileRow, ...]
    yes: str
    typed: bool
    is_new: bool
    may_drop: bool
    tag: str
    lacks_contributor: bool
    lacks_design: bool

    @property
    def named(self) -> tuple[IntakeFileRow, ...]:
        return self.files[:MOST_NAMES]

    @property
    def unnamed(self) -> int:
        return max(0, len(self.files) - MOST_NAMES)


@dataclass(frozen=True)
class FileList:
    """One page of an intake's files. pages: numbers of all pages. base: the query without the page."""

    lines: tuple[IntakeFileRow, ...]
    found: int
    page: int
    pages: range
    base: str
    q: str
    state: str
    order: str


def list_questions(files: Sequence[IntakeFileRow]) -> list[QuestionLine]:
    """Return every open question once, in the order of its first file."""
    groups: dict[str, list[IntakeFileRow]] = {}
    for file in files:
        if file.question:
            groups.setdefault(str(file.question["group"]), []).append(file)
    return [_present_question(group, tuple(members)) for group, members in groups.items()]


def _present_question(group: str, files: tuple[IntakeFileRow, ...]) -> QuestionLine:
    first = files[0]
    code, answer = first.question["code"], first.question.get("answer", {})
    no_tag, no_sweep = code == questions.NO_TAG, code == questions.NO_SWEEP
    text = str(first.question.get("text", first.reason))
    if no_sweep and len(files) > 1:
        text = (
            f"{len(files)} files hold no rows of figures, so they look like no sweeps. May they be left out?"
        )
    is_new = manifests.NEW_DEVICE in answer
    return QuestionLine(
        group=group,
        text=text,
        files=files,
        yes="" if no_tag or no_sweep or is_new or not answer else _word_yes(str(code), answer),
        typed=no_tag,
        is_new=is_new,
        may_drop=no_sweep,
        tag=str(first.assignment.get("tag") or ""),
        lacks_contributor=not first.assignment.get("contributor"),
        lacks_design=not first.assignment.get("design"),
    )


def _word_yes(code: str, answer: dict[str, str]) -> str:
    if code == questions.CLOSE_TAG:
        return f"It is {answer['tag']}"
    return "It is that device"


def sort_files(files: Sequence[IntakeFileRow], query: QueryDict) -> FileList:
    """Return the page of files that the query asks for: `q`, `state`, `order`, `page`."""
    q, state = query.get("q", "").strip(), query.get("state", "")
    order = query.get("order", "") if query.get("order", "") in ORDERS else ""
    wanted = q.casefold()
    found = [
        file
        for file in files
        if (not wanted or wanted in file.file.casefold() or wanted in _get_tag(file))
        and (state not in STATES or file.state == state)
    ]
    keys = {"file": lambda f: f.file.casefold(), "tag": _get_tag, "state": lambda f: STATES.index(f.state)}
    if order:
        found.sort(key=lambda file: (keys[order](file), file.number))
    pages = range(1, max(1, -(-len(found) // PAGE_SIZE)) + 1)
    asked = query.get("page", "1")
    page = min(int(asked), pages[-1]) if asked.isdecimal() and int(asked) > 0 else 1
    return FileList(
        lines=tuple(found[(page - 1) * PAGE_SIZE : page * PAGE_SIZE]),
        found=len(found),
        page=page,
        pages=pages,
        base=urlencode(
            {name: value for name, value in (("q", q), ("state", state), ("order", order)) if value}
        ),
        q=q,
        state=state,
        order=order,
    )


def _get_tag(file: IntakeFileRow) -> str:
    return str(file.assignment.get("tag") or "").casefold()


def list_file_states() -> list[tuple[str, str]]:
    """Return the states of a file with their words, for a filter."""
    return [("", "all"), *((state, presenters.FILE_STATES[state].short) for state in STATES)]
