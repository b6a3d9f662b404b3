"""Imports a bundle: shows what would change, or does it, all or nothing.

A preview is the import itself, rolled back: it cannot say anything else than what would happen. A killed
import leaves nothing; the same command again does it. An import of what is here changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import BinaryIO

from django.db import IntegrityError, transaction

from measurements.disclosure.viewers import Viewer
from measurements.services.bundles import bags, import_run, row_changes, row_imports, test_figures
from measurements.services.bundles.import_run import Decisions, ImportRun, Outcome
from measurements.services.bundles.zip_entries import build_refusal
from measurements.services.operations import audit

CATALOGUE_TABLES = ("mixes", "cores", "conductors")


def _do_nothing() -> None:
    """Do nothing between two tests."""


def import_bundle(
    file: BinaryIO,
    *,
    apply: bool,
    decisions: Decisions | None = None,
    by: Viewer | None = None,
    step: Callable[[], None] = _do_nothing,
    finish: Callable[[Outcome], None] | None = None,
) -> Outcome:
    """Read, verify and compute a bundle, then bring its rows here in one transaction.

    apply: False rolls everything back at the end. by: who answers for it; None for a command. step: called
    before each test is computed. finish: called last in the transaction of an import that is applied.
    Raises BenchnightError `bundle.*`; nothing is stored then.
    """
    with bags.open_bag(file) as bag:
        head, made_at = import_run.read_head(bag)
        rows = import_run.read_rows(bag, head["version"])
        run = ImportRun(bag, head, made_at, rows, decisions or Decisions(), by)
        row_changes.load_marks(run)
        computed = test_figures.compute_new_tests(run, step=step)
        try:
            with transaction.atomic():
                row_imports.import_rows(run, computed)
                if apply:
                    _record(run)
                    if finish is not None:
                        finish(run.outcome)
                else:
                    transaction.set_rollback(True)
        except IntegrityError as error:
            raise build_refusal(
                "bundle.clash",
                "Something of this bundle clashes with what is here, or was changed here meanwhile. Nothing "
                "was taken; try again.",
                "conflict",
            ) from error
    return run.outcome


def _record(run: ImportRun) -> None:
    counts = run.outcome.counts
    if not counts["new"] + counts["changed"]:
        return
    listed = sum(
        1 for table in CATALOGUE_TABLES for row in run.rows[table] if (table, row["key"]) in run.created
    )
    if listed:
        audit.record_action(by=run.by, action="reference.load", subject="bundle", rows=listed)
    audit.record_action(by=run.by, action="bundle.import", subject=run.bag.source[:16], **counts)
