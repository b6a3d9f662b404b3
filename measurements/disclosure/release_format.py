"""Every column of a release's files: what it is called, its unit, what it means and how it is rounded.

The files are written from this list and the data dictionary is made of it, so neither can lack a column
that the other has.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from measurements.disclosure.evidence_view import METRICS, list_bounds
from measurements.disclosure.rounding import STEPS
from measurements.disclosure.thresholds import Thresholds

_DETAIL = "Empty below {detail} people."

_COUNT = (
    "a number for members; for the public a range: 5-9, 10-19, 20-49, 50-99 and so on (a text, not a date)"
)

_SHARE = "0.01 for members, 0.1 for the public"


@dataclass(frozen=True)
class Column:
    """One column. unit and rounding are None where there is none; a value may be empty where it says so."""

    name: str
    meaning: str
    type: str = "text"
    unit: str | None = None
    rounding: str | None = None

    @property
    def is_count(self) -> bool:
        """Say whether members read a number of people or devices here, and the public a range."""
        return self.rounding == _COUNT


def _list_metric_columns(kind: str, unit: str | None, worst: str) -> tuple[Column, ...]:
    """List the columns of one kind's metric; they are empty in rows of the other kinds."""
    metric, bounds = METRICS[kind], list_bounds(kind)
    coarse, fine = STEPS[metric]
    size = f" {unit}" if unit else ""
    rounding = f"{coarse:g}{size} below {{detail}} people, {fine:g}{size} from {{detail}} on; halves to even"

    def build_column(name: str, meaning: str) -> Column:
        return Column(f"{metric}.{name}", f"{meaning} Of {kind}.", "number", unit, rounding)

    exceed, unused = (
        ("exceed", "") if bounds[-1] == "tolerance_low" else ("stay below", "Empty: see tolerance_high.")
    )
    bound = f"Bound that 90 % of such devices {exceed} with 90 % confidence (one-sided, normal). {_DETAIL}"
    return (
        build_column("median", f"Median over the devices of {worst}."),
        *(
            build_column(f"p{percent}", f"{percent}th percentile of it. {_DETAIL}")
            for percent in (10, 25, 75, 90)
        ),
        *(build_column(name, bound if name == bounds[-1] else unused) for name in bounds),
        Column(
            f"{metric}.histogram",
            f"Bins with at least three people each, as JSON: from, to (null: open) and devices. {_DETAIL}",
            "JSON",
            unit,
        ),
    )


EVIDENCE_COLUMNS: tuple[Column, ...] = (
    Column("release", "Number of the release.", "number"),
    Column("quarter", "Quarter of the release, YYYY-Qn. No figure has a date of its own."),
    Column("design", "The design's id, as in its address."),
    Column("title", "The recipe in one line."),
    Column("purpose", "choke, balun or unun."),
    Column("principle", "current, voltage or hybrid."),
    Column("ratio", "Impedance ratio, such as 4:1."),
    Column("mix", "Ferrite material; several are joined by +."),
    Column("core_part", "The maker's part number, else shape and size; several are joined by +. A text."),
    Column("cores", "Cores or stacks beside each other.", "number"),
    Column("stacked", "Cores on top of each other.", "number"),
    Column("turns", "Passes through the core.", "number"),
    Column("style", "How it is wound."),
    Column("conductor", "What it is wound with, as in conductors/."),
    Column("band", "Name of the amateur band in the release's region."),
    Column("kind", "The kind of test: common_mode, insertion_loss or load_match. A row is of one kind."),
    Column("benchmark_db", "The group's benchmark; empty but for common_mode.", "number", "dB", "as set"),
    Column(
        "limit",
        "The group's limit: of insertion_loss the largest loss in dB, of load_match the largest SWR.",
        "number",
        "dB or 1",
        "as set",
    ),
    Column(
        "chance",
        "Chance that a device newly built by somebody else keeps to the limit in the whole band.",
        "number",
        rounding="0.1 below {detail} people and for the public, else 0.01; never 0 or 1",
    ),
    Column(
        "verdict", "typically_meets (a chance of 0.8 or more), typically_falls_short (0.2 or less) or mixed."
    ),
    Column("reason", "Why there is no verdict; empty where there is one."),
    Column("devices", "Devices that vote on the band.", rounding=_COUNT),
    Column("contributors", "Distinct people who own them.", rounding=_COUNT),
    Column("passing", f"Devices that keep to the benchmark or limit; members only. {_DETAIL}", "number"),
    Column("share", f"passing / devices. {_DETAIL}", "number", rounding=_SHARE),
    Column("share_low", f"Lower Wilson bound of it, one-sided 90 %. {_DETAIL}", "number", rounding=_SHARE),
    Column("share_high", f"Upper Wilson bound of it, one-sided 90 %. {_DETAIL}", "number", rounding=_SHARE),
    *_list_metric_columns("common_mode", "dB", "the smallest rejection in the band"),
    *_list_metric_columns("insertion_loss", "dB", "the largest loss in the band"),
    *_list_metric_columns("load_match", None, "the largest SWR in the band"),
)


def list_column_names(columns: tuple[Column, ...]) -> tuple[str, ...]:
    """Return the header of a file."""
    return tuple(column.name for column in columns)


def describe_columns(columns: tuple[Column, ...], detail: int) -> list[dict[str, Any]]:
    """List the columns as the data dictionary does. detail: persons from whom on detail is shown."""
    return [
        {
            name: value.format(detail=detail) if isinstance(value, str) else value
            for name, value in asdict(column).items()
        }
        for column in columns
    ]


# What lies beside the rows of a release: the data dictionary, the licence note and the manifest.
#
# The manifest of the public names the public's files only: the size of a members' file counts its rows, and
# how many designs have few people is not for everybody.

NO_TERMS_NOTE = (
    "The group has not said under which terms its data may be passed on. Ask it before you publish them."
)


def build_data_dictionary(number: int, engine_version: str, region: int, limits: Thresholds) -> str:
    """Return `dictionary.json`: every column of every table, and what the figures rest on."""
    columns = describe_columns(EVIDENCE_COLUMNS, limits.detail_min_contributors)
    table = {
        "a row is": "one design on one band by one kind of test, where enough people stand behind it",
        "columns": columns,
    }
    content = {
        "release": number,
        "engine_version": engine_version,
        "itu_region": region,
        "thresholds": {
            "min_contributors": limits.min_contributors,
            "public_min_contributors": limits.public_min_contributors,
            "min_joiners": limits.min_joiners,
            "detail_min_contributors": limits.detail_min_contributors,
            "votes_per_contributor": limits.votes_per_contributor,
        },
        "csv": "UTF-8, comma, lines end in CR LF, decimal point; an empty cell is a value that does not "
        "exist. A text that a spreadsheet would take for a formula has an apostrophe before it.",
        "ndjson": "UTF-8, one object per line; null is a value that does not exist.",
        "files": {
            "evidence.csv": table,
            "evidence.ndjson": {
                **table,
                "columns": "as in evidence.csv; rejection_db, loss_db and swr are objects, or null",
            },
            "design-ID.csv": {
                "a row is": "as in evidence.csv, of the design with this id; manifest.json lists these files",
                "columns": [],
            },
        },
    }
    return _format_indented(content)


def build_licence_note(group_name: str, terms: str) -> str:
    """Return `LICENCE.txt`: under which terms the group gives its data, and what they are not."""
    return (
        f"Measurements of {group_name}\n\n{terms or NO_TERMS_NOTE}\n\n"
        "The rows are of several people each. Do not try to find out whose devices stand behind one.\n"
        "Prefer the newest release, and drop older copies when you can.\n"
        "Amateur measurements without warranty: they say what was measured at a bench, at low power, and\n"
        "not what a device withstands.\n"
    )


def build_manifest(number: int, made_at: str, files: Iterable[Mapping[str, Any]]) -> str:
    """Return `manifest.json` of one circle. files: name, circle, media_type, size (bytes), sha256 of each."""
    return _format_indented({"release": number, "made_at": made_at, "files": list(files)})


def _format_indented(content: Mapping[str, Any]) -> str:
    return json.dumps(content, ensure_ascii=False, allow_nan=False, indent=2) + "\n"
