"""Tells which side edited a row since both had it, and what follows: take it, keep ours, or ask a person.

A mark holds for each field how it was there and here when the row last came. A field that changed on one side
alone follows that side. One that changed on both, to different values, is a conflict: this server's value
stays until a person decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone

from measurements.models import BundleMark
from measurements.services.bundles import row_values, signing
from measurements.services.bundles.import_run import ImportRun, show_value

Base = Mapping[str, tuple[str, str]]  # field -> hash of the value there and here


@dataclass(frozen=True)
class IncomingRow:
    """A row of the bundle. raw: as it is there; here: the same with this server's keys; shown: its name."""

    table: str
    raw: Mapping[str, Any]
    here: Mapping[str, Any]
    shown: str = ""

    @property
    def key(self) -> str:
        """Return the row's key there."""
        return str(self.raw["key"])


def load_marks(run: ImportRun) -> None:
    """Read the marks of everything that came from this source before."""
    for mark in BundleMark.objects.filter(source=run.bag.source).iterator():
        run.marks[(mark.table, mark.key)] = mark


def find_base(run: ImportRun, table: str, raw: Mapping[str, Any]) -> Base:
    """Return how the row was when both sides last had it alike; empty where they never had.

    The mark of this server, or the one that the bundle holds about this server, whichever is newer: both
    times are of this server's clock.
    """
    mine = run.marks.get((table, str(raw["key"])))
    theirs = (raw.get("synced") or {}).get(signing.get_public_key())
    try:
        their_time = None if theirs is None else datetime.fromisoformat(theirs["made_at"])
        if their_time is not None and (mine is None or mine.taken_at < their_time):
            # what is "there" in the bundle is "here" for us
            return {name: (str(pair[1]), str(pair[0])) for name, pair in theirs["fields"].items()}
    except (KeyError, TypeError, ValueError, IndexError, AttributeError):
        pass  # a mark that cannot be read is no base: differences become conflicts
    if mine is None and table == "baselines":  # a device begins without one, and then has no such row
        nothing = row_values.hash_value(None)
        return {"test": (nothing, nothing)}
    return {} if mine is None else {name: (pair[0], pair[1]) for name, pair in mine.fields.items()}


def choose_changes(
    run: ImportRun, row: IncomingRow, local: Mapping[str, Any], fields: Iterable[str]
) -> dict[str, Any]:
    """Return the fields to take from the bundle; counts the row, and lists what differs.

    A field that the bundle leaves out stays.
    """
    base = find_base(run, row.table, row.raw)
    taken: dict[str, Any] = {}
    asked: list[str] = []
    for name in fields:
        if name not in row.here or row.here[name] == local[name]:
            continue
        verdict = _judge_field(base.get(name), row.raw[name], local[name])
        if verdict == "ask":
            verdict = _get_decision(run, row)
        if verdict == "take":
            taken[name] = row.here[name]
        elif verdict == "ask":
            asked.append(name)
    _count(run, row, local, taken, asked)
    return taken


def _judge_field(base: tuple[str, str] | None, raw: Any, local: Any) -> str:
    if base is None:
        return "ask"
    changed_there = row_values.hash_value(raw) != base[0]
    changed_here = row_values.hash_value(local) != base[1]
    if changed_there and changed_here:
        return "ask"
    return "take" if changed_there else "keep"


def _get_decision(run: ImportRun, row: IncomingRow) -> str:
    if row.key in run.decisions.theirs:
        return "take"
    return "keep" if row.key in run.decisions.ours else "ask"


def _count(
    run: ImportRun,
    row: IncomingRow,
    local: Mapping[str, Any],
    taken: Mapping[str, Any],
    asked: list[str],
) -> None:
    def show_both(name: str) -> tuple[str, str]:
        here, there = (
            show_value(run.names.get(value, value) if name in ("person", "voter") else value)
            for value in (local[name], row.here[name])
        )
        return here, there

    def describe(name: str) -> str:
        here, there = show_both(name)
        return f"{name}: here {here!r}, in the bundle {there!r}"

    name = f"{row.shown}; " if row.shown else ""
    if asked:
        values = [
            dict(zip(("field", "here", "there"), (each, *show_both(each)), strict=True)) for each in asked
        ]
        run.outcome.add_clash(row.table, row.key, row.shown, values)
        text = "; ".join(map(describe, asked))
        run.note(
            "conflicts", row.table, row.key, f"{name}{text}. This server's value stays until you decide."
        )
    elif taken:
        run.note("changed", row.table, row.key, f"{name}{'; '.join(map(describe, taken))}")
    else:
        run.note("unchanged", row.table, row.key, "")


def mark_row(
    run: ImportRun, row: IncomingRow, local: Mapping[str, Any], fields: Iterable[str], *, new: bool = False
) -> None:
    """Note how the row is now on both sides; a field that a person has not decided keeps its older mark.

    new: it was made just now, so nobody has edited it.
    """
    base = find_base(run, row.table, row.raw)
    kept: dict[str, Any] = {}
    for name in fields:
        if name not in row.raw:
            if name in base:
                kept[name] = list(base[name])
            continue
        undecided = (
            not new
            and row.here[name] != local[name]
            and (
                _judge_field(base.get(name), row.raw[name], local[name]) == "ask"
                and _get_decision(run, row) == "ask"
            )
        )
        if not undecided:
            kept[name] = [row_values.hash_value(row.raw[name]), row_values.hash_value(local[name])]
        elif name in base:
            kept[name] = list(base[name])
    old = run.marks.get((row.table, row.key))
    if old is not None and old.fields == kept and old.made_at >= run.made_at:
        return
    mark, _ = BundleMark.objects.update_or_create(
        source=run.bag.source,
        table=row.table,
        key=row.key,
        defaults={"fields": kept, "made_at": run.made_at, "taken_at": timezone.now()},
    )
    run.marks[(row.table, row.key)] = mark
