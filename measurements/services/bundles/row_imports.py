"""Goes through the rows of a bundle: what is new is made, what changed follows `row_changes`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from measurements.models import Contributor, Device, Night, Test
from measurements.services.bundles import (
    catalogue_rows,
    people,
    row_changes,
    row_schema,
    row_values,
    test_figures,
    test_rows,
)
from measurements.services.bundles.import_run import ImportRun
from measurements.services.bundles.row_changes import IncomingRow
from measurements.services.bundles.row_tables import TABLE_WRITERS, TableWriter
from measurements.services.bundles.test_figures import ComputedRow
from measurements.services.bundles.zip_entries import build_refusal
from measurements.services.evidence import recipe_doubts
from measurements.services.uploads import size_limits

# a parent's table -> its model and the word for it
_PARENTS = {"night": (Night, "night"), "device": (Device, "device"), "test": (Test, "test")}


def import_rows(run: ImportRun, computed: Mapping[str, ComputedRow]) -> None:
    """Bring every row here. Call inside a transaction. Raises BenchnightError `bundle.*`."""
    catalogue_rows.add_catalogue_rows(run)
    catalogue_rows.meet_designs(run)
    people.meet_people(run)
    for table in row_schema.TABLES:
        if table != "tests" and table not in TABLE_WRITERS:
            continue
        for raw in run.rows[table]:
            row = IncomingRow(table, raw, _translate(run, raw), _show(raw))
            if table == "tests":
                _import_test(run, row, computed.get(row.key))
            else:
                _import_row(run, row, TABLE_WRITERS[table])
    for owner in {owner for owner in run.people.values() if owner is not None}:
        size_limits.reset_storage_count(owner)


def _show(raw: Mapping[str, Any]) -> str:
    """Return what people call the row."""
    return str(raw.get("tag") or raw.get("title") or raw.get("name") or raw.get("device") or "")


def _translate(run: ImportRun, raw: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row with this server's keys for designs, people and tests. Raises `bundle.row`."""
    here = {name: value for name, value in raw.items() if name != "synced"}
    try:
        if raw.get("design") is not None:
            here["design"] = run.designs[raw["design"]]
        if "voter" in raw:
            voter = None if raw["voter"] is None else run.people[raw["voter"]]
            here["voter_ref"] = raw["voter"]
            here["voter"] = None if voter is None else _get_ref(run, voter)
        if "person" in raw:
            owner = run.people[raw["person"]]
            here["person_ref"] = raw["person"]
            here["person"] = None if owner is None else _get_ref(run, owner)
    except KeyError as error:
        raise build_refusal(
            "bundle.row", f"Row {raw['key']} names a design or person that is missing."
        ) from error
    if raw.get("test"):
        here["test"] = run.tests.get(raw["test"], raw["test"])
    if "steps" in raw:
        here["steps"] = [{**step, "test": run.tests.get(step["test"], step["test"])} for step in raw["steps"]]
    return here


def _get_ref(run: ImportRun, owner: Contributor) -> str:
    ref = row_values.get_ref(owner)
    run.names[ref] = owner.guest_name if owner.member is None else owner.member.name
    return ref


def _import_row(run: ImportRun, row: IncomingRow, writer: TableWriter) -> None:
    stored = writer.find(row.here)
    if stored is None:
        if _is_deleted_here(run, row) or row.table == "baselines":
            return
        missing = _find_missing(row, writer.needs)
        if missing:
            run.note("conflicts", row.table, row.key, f"left out, because its {missing} is not here")
            return
        stored = writer.create(run, row.here)
        _finish_new(run, row, stored, writer.fields)
        return
    local = _read(run, row.table, stored)
    if any(row.here[name] != local[name] for name in writer.same):
        run.note("conflicts", row.table, row.key, "another one has this key here; this server's stays")
        return
    if row.table == "baselines" and _find_missing(row, writer.needs):
        run.note("conflicts", row.table, row.key, "left out, because its test is not here")
        return
    if row.table == "baselines" and ("devices", row.key) in run.created:
        writer.change(run, stored, {"test": row.here["test"]})
        _finish_new(run, row, stored, writer.fields)
        return
    changes = row_changes.choose_changes(run, row, local, writer.fields)
    if changes:
        # devices alone have people of the bundle in them
        people_refs = {name: row.here[name] for name in ("person_ref", "voter_ref") if name in row.here}
        writer.change(run, stored, {**changes, **people_refs})
        if "design" in changes:
            recipe_doubts.check_recipe_again(Device.objects.select_related("design").get(pk=stored.pk))
        local = _read(run, row.table, type(stored).objects.get(pk=stored.pk))
    row_changes.mark_row(run, row, local, writer.fields)


def _import_test(run: ImportRun, row: IncomingRow, computed: ComputedRow | None) -> None:
    stored = test_figures.find_stored_test(row.here)
    if stored is None:
        if _is_deleted_here(run, row):
            return
        missing = _find_missing(row, ("device",))
        if missing or computed is None:
            why = f"its {missing} is not here" if missing else "the test of its trusted partner is not here"
            run.note("conflicts", row.table, row.key, f"left out, because {why}")
            return
        run.tests[row.key] = row.key
        _finish_new(run, row, test_rows.create_test(run, row.here, computed), test_rows.TEST_FIELDS)
        return
    run.tests[row.key] = stored.key
    local = _read(run, row.table, stored)
    if any(local[name] != row.here[name] for name in ("device", "content_sha256")) or (
        _list_digests(local) != _list_digests(row.here)
    ):
        run.note("conflicts", row.table, row.key, "another test has this key here; this server's stays")
        return
    changes = row_changes.choose_changes(run, row, local, test_rows.TEST_FIELDS)
    if changes:
        test_rows.change_test(run, stored, changes)
        local = _read(run, row.table, Test.objects.get(pk=stored.pk))
    row_changes.mark_row(run, row, local, test_rows.TEST_FIELDS)


def _list_digests(row: Mapping[str, Any]) -> list[tuple[str, str]]:
    return sorted((file["role"], file["sha256"]) for file in row["files"])


def _is_deleted_here(run: ImportRun, row: IncomingRow) -> bool:
    """Tell whether the row came before and was deleted here since: it does not come back."""
    gone = (row.table, row.key) in run.marks
    if gone:
        run.note("unchanged", row.table, row.key, "")
    return gone


def _find_missing(row: IncomingRow, needs: tuple[str, ...]) -> str | None:
    for name in needs:
        value = row.here[name]
        if name == "person":
            if value is None:
                return "owner"
        elif value is not None and not _PARENTS[name][0]._default_manager.filter(key=value).exists():
            return _PARENTS[name][1]
    return None


def _finish_new(run: ImportRun, row: IncomingRow, stored: Any, fields: tuple[str, ...]) -> None:
    run.created.add((row.table, row.key))
    run.note("new", row.table, row.key, row.shown)
    local = _read(run, row.table, type(stored).objects.get(pk=stored.pk))
    if row.table == "devices" and local["tag"] != row.here["tag"]:
        run.note(
            "conflicts",
            row.table,
            row.key,
            f"its owner has another device with the tag {row.here['tag']!r}; filed as {local['tag']!r}",
        )
    row_changes.mark_row(run, row, local, fields, new=True)


def _read(run: ImportRun, table: str, stored: Any) -> dict[str, Any]:
    local = row_values.BUILDERS[table](stored)
    if table == "devices":
        _get_ref(run, stored.contributor)
        if stored.voter is not None:
            _get_ref(run, stored.voter)
    return local
