"""Many devices at once: steps with undo, and a CSV that goes out and comes back with a shown difference."""

from __future__ import annotations

import csv
import io
import time
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from measurements.disclosure import table_text
from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Device, DueMark, KitChange
from measurements.selectors.kit import tables
from measurements.selectors.kit.tables import KitFilter
from measurements.selectors.upkeep import listed_devices
from measurements.services.devices import devices
from measurements.services.kit import kit_changes, kit_csv, kit_tables, loans
from tests import factories
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def ada(reference_data):
    return factories.member("Ada")


def write(by, text: str, **given) -> str:
    plan = kit_tables.plan_table(by=by, text=text, **given)
    assert not plan.faults, plan.faults
    return kit_tables.apply_table(by=by, text=text, fingerprint=plan.fingerprint, **given)[0]


def export(by) -> str:
    wanted = KitFilter(retired=True)
    rows = ([row[name] for name in tables.COLUMNS] for row in tables.iterate_kit(by, wanted))
    plain = ([v.isoformat() if hasattr(v, "isoformat") else v for v in row] for row in rows)
    return "".join(table_text.format_csv_table(plain, tables.COLUMNS))


def faults(by, text: str) -> list[tuple[int | None, str | None, str]]:
    try:
        found = kit_tables.plan_table(by=by, text=text).faults
    except BenchnightError as error:
        found = error.errors
    return [(fault.line, fault.field, fault.code) for fault in found]


class TestTheTable:
    def test_twenty_devices_are_pasted_and_shown_before_they_are_written(self, ada):
        text = "tag;kind;ratio;make;place\n" + "".join(f"K-{n};choke;1:1;bought;Shed\n" for n in range(20))
        plan = kit_tables.plan_table(by=ada, text=text)
        assert len(plan.rows) == 20 and not Device.objects.exists() and not KitChange.objects.exists()
        assert plan.rows[0].changes["place"] == ("", "Shed")
        change = write(ada, text)
        assert Device.objects.filter(design=None, place="Shed", make="bought").count() == 20
        assert write_again_changes_nothing(ada, text)
        assert kit_changes.undo_change(by=ada, change=change).undone == 20
        assert not Device.objects.exists()

    def test_out_and_back_in_changes_nothing(self, ada):
        write(ada, 'tag,kind,place,notes\nK-1,"a, b",=Hill,"two\nlines"\nK-2,,,- dashed\n')
        loans.lend_device(by=ada, device=Device.objects.get(tag="K-1").key, borrower="Gwenna")
        plan = kit_tables.plan_table(by=ada, text=export(ada))
        assert (plan.rows, plan.same, plan.faults) == ((), 2, ())

    def test_an_edited_table_shows_the_difference_cell_by_cell(self, ada):
        write(ada, "tag,place\nK-1,Shed\nK-2,Shed\n")
        edited = export(ada).replace("Shed", "Hill site", 1)
        plan = kit_tables.plan_table(by=ada, text=edited)
        (row,) = plan.rows
        assert (row.line, row.tag, row.changes) == (2, "K-1", {"place": ("Shed", "Hill site")})
        change = write(ada, edited)
        assert Device.objects.get(tag="K-1").place == "Hill site"
        kit_changes.undo_change(by=ada, change=change)
        assert Device.objects.get(tag="K-1").place == "Shed"

    def test_a_difference_that_is_no_longer_the_shown_one_is_not_written(self, ada):
        write(ada, "tag,place\nK-1,Shed\n")
        text = "tag,place\nK-1,Hill\n"
        shown = kit_tables.plan_table(by=ada, text=text)
        device = Device.objects.get()
        devices.update_device(by=ada, device=device.key, version=device.version, place="Barn")
        refused("kit.differs", kit_tables.apply_table, by=ada, text=text, fingerprint=shown.fingerprint)
        assert Device.objects.get().place == "Barn"

    @pytest.mark.parametrize(
        ("text", "expected"),
        [
            ("tag,colour\nK-1,red\n", (1, "colour", "kit.column")),
            ("tag,tag\nK-1,K-1\n", (1, "tag", "kit.column")),
            ("place\nShed\n", (1, "tag", "kit.column")),
            ("", (1, "table", "kit.table")),
            ("tag,place\nK-1,Shed\nK-2,Shed,extra\n", (3, "place", "kit.cells")),
            ("tag,built_on\nK-1,14.5.2026\n", (2, "built_on", "kit.date")),
            ("tag,built_on\nK-1,2226-05-14\n", (2, "built_on", "device.built_on")),
            ("tag,place\nK-1," + "x" * 121 + "\n", (2, "place", "device.place")),
            ("tag,place\n\n,Shed\n", (3, "tag", "device.tag")),
            ("tag\nK-1\nK-1\n", (3, "tag", "device.tag_taken")),
            ("tag,design\nK-1,nosuchdesign\n", (2, "design", "device.unknown_design")),
            ("id,tag\n222222222222,K-1\n", (2, "id", "kit.id")),
            ("tag,owner\nK-1,Bob\n", (2, "owner", "kit.owner")),
            ("tag,owner\nK-1,the group\n", (2, "owner", "kit.owner")),
            ("tag,origin\nK-1,stolen\n", (2, "origin", "device.origin")),
            ('tag,notes\nK-1,"two\nlines"\nK-2,x\nK-2,x\n', (5, "tag", "device.tag_taken")),
            ('tag\n"K-1\n', (2, "table", "kit.table")),
        ],
    )
    def test_each_fault_names_line_and_column_and_nothing_is_written(self, ada, text, expected):
        assert expected in faults(ada, text)
        assert not Device.objects.exists()

    def test_all_faults_are_named_together(self, ada):
        text = "tag,built_on,place\nK-1,x,Shed\nK-2,2026-05-14," + "y" * 130 + "\n"
        assert {row[:2] for row in faults(ada, text)} == {(2, "built_on"), (3, "place")}

    def test_another_persons_device_is_unknown_here(self, ada):
        key = factories.device(factories.member("Bob"))
        assert faults(ada, f"id,place\n{key},Shed\n") == [(2, "id", "kit.id")]

    def test_a_table_has_a_bounded_number_of_rows(self, ada):
        text = "tag\n" + "".join(f"K-{n}\n" for n in range(kit_csv.MOST_ROWS + 1))
        assert faults(ada, text) == [(kit_csv.MOST_ROWS + 2, "table", "kit.table")]

    def test_files_of_spreadsheets_are_read(self, ada):
        for data in ("tag\nK-ä\n".encode(), "\ufefftag\nK-ä\n".encode(), "tag\nK-ä\n".encode("utf-16")):
            assert kit_csv.parse_table(kit_csv.decode_table(data))[0].cells == {"tag": "K-ä"}
        assert kit_csv.decode_table("K-ä".encode("cp1252")) == "K-ä"

    @settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(
        rows=st.lists(
            st.tuples(
                *[st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=12)] * 3
            ),
            max_size=6,
        )
    )
    def test_what_a_standard_writer_writes_is_read_cell_for_cell(self, rows):
        """The yardstick is the standard library's own writer of CSV (RFC 4180)."""
        sink = io.StringIO()
        csv.writer(sink).writerows([("tag", "place", "notes"), *rows])
        found = [row.cells["notes"] for row in kit_csv.parse_table(sink.getvalue())]
        wanted = [row[2] for row in rows if any(cell.strip() for cell in row)]
        marks = table_text.FORMULA_STARTS
        assert found == [c[1:] if c[:1] == "'" and c[1:].startswith(marks) else c for c in wanted]


def write_again_changes_nothing(by, text: str) -> bool:
    plan = kit_tables.plan_table(by=by, text=text)
    return not plan.rows and not plan.faults


class TestSteps:
    def test_all_at_one_place_are_marked_in_one_step_and_undone(self, ada):
        write(ada, "tag,place\n" + "".join(f"K-{n},Hill site\n" for n in range(60)) + "Z,Barn\n")
        keys = tables.list_kit_keys(ada, KitFilter(place="Hill site"))
        changes = {"due_event": "other", "due_reason": "storm"}
        change, count = kit_changes.change_devices(by=ada, chosen=keys, changes=changes)
        assert count == 60 and DueMark.objects.filter(reason="storm").count() == 60
        assert AuditEntry.objects.filter(action="device.mark_due").count() == 60
        assert kit_changes.undo_change(by=ada, change=change).undone == 60
        assert not DueMark.objects.exists()

    def test_retiring_many_and_undoing_leaves_alone_what_changed_since(self, ada):
        write(ada, "tag\nK-1\nK-2\n")
        keys = tables.list_kit_keys(ada, KitFilter())
        change, _ = kit_changes.change_devices(by=ada, chosen=keys, changes={"retired_on": date(2026, 5, 14)})
        one = Device.objects.get(tag="K-1")
        devices.update_device(by=ada, device=one.key, version=one.version, retired_on=date(2026, 5, 15))
        done = kit_changes.undo_change(by=ada, change=change)
        assert (done.undone, done.kept) == (1, ("K-1",))
        assert Device.objects.get(tag="K-1").retired_on == date(2026, 5, 15)
        refused("kit.no_such_change", kit_changes.undo_change, by=ada, change=change)

    def test_a_foreign_device_among_them_changes_none(self, ada):
        own, other = factories.device(ada), factories.device(factories.member("Bob"))
        given = {"chosen": [own, other], "changes": {"place": "Shed"}}
        refused("device.not_found", kit_changes.change_devices, by=ada, **given)
        assert Device.objects.get(key=own).place == ""

    def test_nobody_undoes_anothers_step(self, ada):
        own = factories.device(ada)
        change, _ = kit_changes.change_devices(by=ada, chosen=[own], changes={"place": "Shed"})
        refused("kit.no_such_change", kit_changes.undo_change, by=factories.member("Bob"), change=change)

    def test_undo_keeps_a_new_device_that_was_tested_meanwhile(self, ada):
        change = write(ada, "tag\nK-1\nK-2\n")
        factories.record(ada, Device.objects.get(tag="K-1").key)
        done = kit_changes.undo_change(by=ada, change=change)
        assert done.kept == ("K-1",) and Device.objects.get().tag == "K-1"

    def test_a_step_of_300_devices_takes_under_ten_seconds(self, ada):
        """Common practice, no source: a person waits so long for such a step. Counted by the processor."""
        write(ada, "tag\n" + "".join(f"K-{n}\n" for n in range(300)))
        started = time.process_time()
        kit_changes.change_devices(
            by=ada, chosen=tables.list_kit_keys(ada, KitFilter()), changes={"place": "Hill site"}
        )
        assert time.process_time() - started < 10
        assert listed_devices.list_devices(ada).results[0].place == "Hill site"
