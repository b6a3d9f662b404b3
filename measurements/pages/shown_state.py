"""A service state as a page shows it: words, shapes, and where the next step leads."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from django.urls import reverse

from measurements.pages import words_of_upkeep
from measurements.pages.words import Said
from measurements.queries.rows_of_upkeep import ReasonRow, ServiceRow

NOTE = Said("Note", "note", "shape-meets", "is-few", "")


@dataclass(frozen=True)
class ShownState:
    """row: the state itself. reasons: each with its shape. step_href: where the next step is made."""

    row: ServiceRow
    said: Said
    reasons: tuple[tuple[ReasonRow, Said | None], ...]
    step_href: str
    step_words: str
    due_on: date | None
    yardstick: str


def shown_state(row: ServiceRow, *, own: bool) -> ShownState:
    """Everything that a page needs of it. own: only an owner's upload form offers the device."""
    href, said = _step(row) if own or row.next_step.code != "test" else ("", "")
    return ShownState(
        row=row,
        said=words_of_upkeep.STATES[row.state],
        reasons=tuple((reason, words_of_upkeep.STATES.get(reason.weight)) for reason in row.reasons),
        step_href=href,
        step_words=said,
        due_on=row.due_on,
        yardstick=words_of_upkeep.yardstick(row.repeatability),
    )


def _step(row: ServiceRow) -> tuple[str, str]:
    of_device = {"key": row.device}
    code = row.next_step.code
    if code == "test":
        query = urlencode({"device": row.device, **({"kind": row.next_step.kind} if _plain(row) else {})})
        return f"{reverse('pages:upload')}?{query}", "Add the test"
    if code in ("inspect", "mend"):
        return reverse("pages:inspect", kwargs=of_device), "Inspect it"
    if code == "find_fault":
        return reverse("pages:fault_begin", kwargs=of_device), "Find the fault"
    if code == "commission":
        return reverse("pages:baseline", kwargs=of_device), "Choose the test"
    return "", ""


def _plain(row: ServiceRow) -> bool:
    """Insertion loss asks for a method first, so its form cannot be opened at once."""
    return row.next_step.kind in ("common_mode", "load_match", "balance")
