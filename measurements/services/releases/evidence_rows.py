"""From the results behind a design's votes to its identity-free cell.

Pure but for the tables it builds rows for: nothing here knows whose a result is, beyond a number that
tells contributors of one design apart while the percentiles are taken.
"""

from __future__ import annotations

import hashlib
import json
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db import connection
from django.db.models import Model
from numpy.typing import NDArray

from measurements.disclosure.release_rows import shuffle_rows
from measurements.models import Cell
from measurements.rf.evidence_grid import FIGURE_CURVES, GRID_HZ
from measurements.services.tests.results import CURVE_DTYPE, FIGURE_CURVE_DTYPE
from measurements.verdict.judged_kinds import COMMON_MODE
from measurements.verdict.percentiles import compute_curve_band

# Stores many new rows of one table at once: COPY on PostgreSQL, batches of INSERT on SQLite.

INSERT_BATCH = 500


def insert_rows(table: type[Model], names: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Rows of values as the columns take them; a column that is not named gets its number from the database.

    names: of the model's columns (`attname`). Raises IntegrityError as an INSERT would.
    """
    if connection.vendor == "postgresql":
        _copy_rows(table, names, rows)
    else:
        made = (table(**dict(zip(names, row, strict=True))) for row in rows)
        table._default_manager.bulk_create(made, batch_size=INSERT_BATCH)


def _copy_rows(table: type[Model], names: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Values go as they are, without a model's object around them: a release has a million rows."""
    columns = {
        field.attname: connection.ops.quote_name(field.column) for field in table._meta.concrete_fields
    }
    listed = ", ".join(columns[name] for name in names)
    into = connection.ops.quote_name(table._meta.db_table)
    with connection.cursor() as cursor, cursor.copy(f"COPY {into} ({listed}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


WORST_DTYPE = np.dtype("<f4")
PERSON_DTYPE = np.dtype("<u2")

REFERENCE_OHM = 50.0

MOST_SPREAD_CURVES = 12  # enough to see how builds of a design spread


@dataclass(frozen=True)
class AnonymousVote:
    """One vote without its owner.

    contributor: a number that is the same for votes of one person. jig: alike for figures of one jig.
    published: see `published_figures.extract_published_figures`.
    """

    contributor: int
    jig: str
    published: dict[str, Any]
    curve: bytes


def build_cell(
    *,
    design_id: int,
    kind: str,
    band: str,
    release: int,
    voices: list[AnonymousVote],
    plan: list[str],
    reach: NDArray[np.bool_],
    min_contributors: int,
    rng: random.Random,
) -> Cell:
    """Build the cell of a design from the votes behind it.

    kind: of the tests. band: empty for the core set. plan: the bands of the set in their order. reach: (G,)
    on which frequencies of the grid its curves are shown.
    """
    mixed = shuffle_rows(voices, rng)
    there = {band for voice in mixed for band in voice.published["bands"]}
    bands = [band for band in plan if band in there]
    rows = [voice.published["bands"] for voice in mixed]
    worst = np.array(
        [[own[band][1] if band in own else np.nan for band in bands] for own in rows], dtype=WORST_DTYPE
    )
    cell = Cell(
        design_id=design_id,
        kind=kind,
        band=band,
        first_release=release,
        devices=len(mixed),
        contributors=len({voice.contributor for voice in mixed}),
        bands=bands,
        worst_db=worst.reshape(len(mixed), len(bands)).tobytes(),
        persons=_number_persons(mixed),
        one_jig=len({voice.jig for voice in mixed}) == 1,
        # what is learned of how builds spread is of windings
        spread_curves=b"".join(voice.curve for voice in mixed[:MOST_SPREAD_CURVES])
        if kind == COMMON_MODE
        else b"",
        curves=_compute_curves(kind, mixed, min_contributors, reach),
    )
    cell.content_sha256 = _compute_content_sha256(cell)
    return cell


def _number_persons(voices: list[AnonymousVote]) -> bytes:
    """Return number the persons of a cell by their first row; rows are in random order, so numbers tell
    nothing.
    """
    numbers: dict[int, int] = {}
    rows = [numbers.setdefault(voice.contributor, len(numbers)) for voice in voices]
    return np.array(rows, dtype=PERSON_DTYPE).tobytes()


# of each curve: its values (N, G), and to how many digits its statistics are rounded
_NamedCurves = dict[str, tuple[NDArray[np.float64], int]]


def _compute_curves(
    kind: str, voices: list[AnonymousVote], min_contributors: int, reach: NDArray[np.bool_]
) -> dict[str, Any]:
    """Return median and 10-90 % band per frequency of each curve of the kind; empty where too few people.

    Only where every vote has a value: at any frequency the curves are of the whole set. A curve that some
    vote's method cannot know, such as the part of a loss that becomes heat, is left out as a whole.
    """
    named = _list_impedances(voices) if kind == COMMON_MODE else _list_figures(kind, voices)
    people = np.array([voice.contributor for voice in voices])
    curves: dict[str, Any] = {}
    for name, (values, digits) in named.items():
        hidden = ~reach | ~np.isfinite(values).all(axis=0)
        band = compute_curve_band(np.where(hidden, np.nan, values), people, min_contributors)
        if band is None and not curves:
            return {}
        if band is None:
            continue
        curves[name] = {
            "median": _list_rounded(band.median, digits),
            "p10": _list_rounded(band.p10, digits),
            "p90": _list_rounded(band.p90, digits),
        }
        curves.setdefault("contributors", band.contributors.tolist())
    return curves


def _list_impedances(voices: list[AnonymousVote]) -> _NamedCurves:
    """List rejection, R, X and |Z| of common-mode tests."""
    z_ohm = np.array([np.frombuffer(voice.curve, CURVE_DTYPE) for voice in voices]).astype(np.complex128)
    z_ohm[:, ~np.isfinite(z_ohm).all(axis=0)] = np.nan
    return {
        "rejection_db": (20 * np.log10(np.abs(1 + z_ohm / (2 * REFERENCE_OHM))), 2),
        "resistance_ohm": (z_ohm.real, 1),
        "reactance_ohm": (z_ohm.imag, 1),
        "impedance_ohm": (np.abs(z_ohm), 1),
    }


def _list_figures(kind: str, voices: list[AnonymousVote]) -> _NamedCurves:
    """List the curves of loss or match, the judged one first."""
    names = FIGURE_CURVES[kind]
    shape = len(voices), len(names), GRID_HZ.size
    values = np.array([np.frombuffer(voice.curve, FIGURE_CURVE_DTYPE) for voice in voices])
    curves = values.astype(np.float64).reshape(shape)
    return {name: (curves[:, place], 3) for place, name in enumerate(names)}


def _compute_content_sha256(cell: Cell) -> str:
    """Compute the hash of a cell's figures; its id, which never leaves, keeps them from being guessed."""
    head = [cell.id.hex, cell.devices, cell.contributors, cell.bands, cell.curves]
    digest = hashlib.sha256(json.dumps(head, sort_keys=True).encode())
    digest.update(cell.worst_db)
    return digest.hexdigest()


def _list_rounded(values: NDArray[np.float64], digits: int) -> list[float | None]:
    return [round(float(value), digits) if np.isfinite(value) else None for value in values]
