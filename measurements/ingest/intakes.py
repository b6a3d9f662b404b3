"""Takes in many files of a night at once, and turns them into tests one by one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from measurements.disclosure.circles import Viewer
from measurements.ingest.stored import Stored
from measurements.ingest.uploads import Upload


def begin(*, by: Viewer, night: str, files: Sequence[Upload], manifest: str | None) -> Stored:
    """Stores every file in one transaction, then has a worker turn them into tests. Answers the intake."""
    raise NotImplementedError


def begin_zip(*, by: Viewer, night: str, archive: Upload) -> Stored:
    """The same from a zip of sweeps and a manifest.csv."""
    raise NotImplementedError


def mend(
    *,
    by: Viewer,
    intake: str,
    number: int,
    upload: Upload | None = None,
    assignment: Mapping[str, Any] | None = None,
) -> None:
    """Sends one refused file again: with other bytes, with another assignment, or as it is."""
    raise NotImplementedError


def work(*, intake: str) -> None:
    """What the task runs: every waiting file of an intake, one transaction per test."""
    raise NotImplementedError


def resume_stale() -> int:
    """Hands intakes whose worker died to a new one; answers how many."""
    raise NotImplementedError


def template(*, by: Viewer, night: str, names: Sequence[str]) -> str:
    """A CSV manifest for these file names, filled with what they suggest."""
    raise NotImplementedError
