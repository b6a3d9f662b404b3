"""What an import knows while it runs: the bundle's rows, the decisions of a person, and what came of it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import BundleMark, Contributor
from measurements.services.bundles import row_schema
from measurements.services.bundles.bags import Bag
from measurements.services.bundles.zip_entries import build_refusal

MOST_ROWS = 200_000
MOST_LINES = 5_000  # of one outcome
MOST_CLASHES = 200  # listed with both values, for a person to decide
MOST_SHOWN = 60  # characters of a value in a line
NAMES = {
    "mixes": "mix",
    "cores": "core",
    "conductors": "conductor",
    "designs": "design",
    "people": "person",
    "nights": "night",
    "attendance": "name on a night's list",
    "devices": "device",
    "labels": "label",
    "marks": "due mark",
    "loans": "loan",
    "handovers": "hand-over",
    "brought": "stay on the bench",
    "standards": "check standard",
    "tests": "test",
    "baselines": "commissioning test of",
    "holds": "hold of a check standard",
    "inspections": "inspection",
    "pictures": "picture",
    "searches": "fault search",
}


@dataclass(frozen=True)
class Decisions:
    """What a person decided.

    same: name of a person in the bundle -> name of an account here. theirs, ours: keys of rows of which the
    bundle's values are taken, or this server's kept, where both sides edited.
    """

    same: Mapping[str, str] = field(default_factory=dict)
    theirs: frozenset[str] = frozenset()
    ours: frozenset[str] = frozenset()


@dataclass
class Outcome:
    """What an import comes to: a line for each row that is not as it was, and four counts.

    clashes: rows that both sides edited: key, what (the word for it), name, and fields, each with its name
    and both values as text.
    """

    lines: list[str] = field(default_factory=list)
    clashes: list[dict[str, Any]] = field(default_factory=list)
    new: int = 0
    changed: int = 0
    unchanged: int = 0
    conflicts: int = 0
    unlisted: int = 0

    def add_line(self, line: str) -> None:
        """Keep a line, up to a bound."""
        if len(self.lines) < MOST_LINES:
            self.lines.append(line)
        else:
            self.unlisted += 1

    def add_clash(self, table: str, key: str, name: str, fields: list[dict[str, str]]) -> None:
        """Keep a row that a person has to decide about, up to a bound."""
        if len(self.clashes) < MOST_CLASHES:
            self.clashes.append({"key": key, "what": NAMES[table], "name": name, "fields": fields})

    @property
    def counts(self) -> dict[str, int]:
        """Return the four counts, as the last line of an import shows them."""
        return {name: getattr(self, name) for name in ("new", "changed", "unchanged", "conflicts")}


@dataclass
class ImportRun:
    """One import under way. people, designs, tests: what the bundle's references are here."""

    bag: Bag
    head: Mapping[str, Any]
    made_at: datetime
    rows: Mapping[str, list[dict[str, Any]]]
    decisions: Decisions
    by: Viewer | None
    outcome: Outcome = field(default_factory=Outcome)
    people: dict[str, Contributor | None] = field(default_factory=dict)
    designs: dict[str, str] = field(default_factory=dict)
    tests: dict[str, str] = field(default_factory=dict)
    marks: dict[tuple[str, str], BundleMark] = field(default_factory=dict)
    created: set[tuple[str, str]] = field(default_factory=set)
    names: dict[str, str] = field(default_factory=dict)  # pseudonym here -> name, for lines

    def note(self, count: str, table: str, key: str, text: str) -> None:
        """Count a row; one that is not unchanged gets a line."""
        setattr(self.outcome, count, getattr(self.outcome, count) + 1)
        word = "conflict" if count == "conflicts" else count
        if text or count != "unchanged":
            self.outcome.add_line(f"{word}: {NAMES[table]} {show_value(key)}{f': {text}' if text else ''}")


def show_value(value: Any) -> str:
    """Return a value as a line shows it: short, and without control characters."""
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, sort_keys=True)
    plain = "".join(char if char.isprintable() else " " for char in text)
    return plain if len(plain) <= MOST_SHOWN else f"{plain[: MOST_SHOWN - 3]}..."


def read_head(bag: Bag) -> tuple[dict[str, Any], datetime]:
    """Return the head of a bundle and when it was made. Raises BenchnightError `bundle.version`, `.head`."""
    try:
        head = json.loads(bag.read("data/bundle.json"))
        version = head["version"]
        if version not in row_schema.SCHEMAS:
            raise build_refusal(
                "bundle.version",
                f"This bundle is of version {str(version)[:20]}; this server reads "
                f"{', '.join(map(str, row_schema.SCHEMAS))}. Update this server, then import it again.",
            )
        made_at = datetime.fromisoformat(head["made_at"])
        if head["made_by"] != bag.source or made_at.tzinfo is None or not isinstance(head["what"], dict):
            raise ValueError
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise build_refusal("bundle.head", "data/bundle.json of this bundle cannot be read.") from error
    return head, made_at


def read_rows(bag: Bag, version: int) -> dict[str, list[dict[str, Any]]]:
    """Return the rows of every table, each held against the schema of its version.

    Raises BenchnightError `bundle.row`, `bundle.twice`, `bundle.too_large`.
    """
    found: dict[str, list[dict[str, Any]]] = {table: [] for table in row_schema.TABLES}
    left = MOST_ROWS
    for table in row_schema.SCHEMAS[version]:
        seen: set[str] = set()
        rows = found[table]
        for number, line in enumerate(_iterate_lines(bag, table), start=1):
            left -= 1
            if left < 0:
                raise build_refusal(
                    "bundle.too_large", f"A bundle has up to {MOST_ROWS:,} rows.", "too_large"
                )
            row = row_schema.check_row(version, table, _parse_line(line, table, number), number)
            if row["key"] in seen:
                raise build_refusal("bundle.twice", f"Line {number} of {table} repeats a key.")
            seen.add(row["key"])
            rows.append(row)
    return found


def _iterate_lines(bag: Bag, table: str) -> Iterator[bytes]:
    yield from bag.read(f"data/rows/{table}.jsonl").splitlines()


def _parse_line(line: bytes, table: str, number: int) -> Any:
    try:
        if b"\\u0000" in line:
            raise ValueError
        return json.loads(line, parse_constant=_refuse_constant, parse_float=_parse_float)
    except (ValueError, RecursionError) as error:
        raise BenchnightError(
            "bundle.row", f"Line {number} of {table} is no JSON. Nothing was taken.", field="bundle"
        ) from error


def _refuse_constant(_text: str) -> float:
    raise ValueError("JSON has no such number.")


def _parse_float(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError("JSON has no such number.")
    return number
