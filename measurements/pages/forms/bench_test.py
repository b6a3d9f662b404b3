"""One test of one device on the bench: the files of a procedure and the few numbers it asks for.

The jig, the calibration and the day are the night's; the ratio is the design's.
"""

from __future__ import annotations

from typing import Any

from django import forms

from measurements.ingest.staging import Staged
from measurements.pages import bench
from measurements.pages.bench import SETTINGS, Procedure
from measurements.pages.forms import setting_fields
from measurements.pages.forms.upload import FileSlot, file_place

# a partner is chosen among one's own tests, which is a matter for a desk
OFFERED = tuple(each for each in bench.PROCEDURES if "partner" not in each.settings)


class BenchTestForm(forms.Form):
    """What the bench view asks for."""

    use_required_attribute = False

    def __init__(
        self,
        procedure: Procedure,
        *,
        data: Any = None,
        held: dict[str, Staged] | None = None,
        initial: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(data, initial=initial)
        self.procedure = procedure
        self.held = held or {}
        for name in procedure.settings:
            self.fields[name] = setting_fields.field_of(SETTINGS[name], ())
        for each in procedure.main_files:  # a fault of a file is shown beside it
            self.fields[each.role] = file_place(each)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        typed_in = bool(cleaned.get("readings")) or self.has_error("readings")
        for each in self.procedure.main_files:
            missing = each.required and each.role not in self.held and not self.has_error(each.role)
            if missing and not typed_in:
                self.add_error(each.role, "Choose this file.")
        return cleaned

    def numbers(self) -> list[forms.BoundField]:
        """The numbers that are asked for openly."""
        return [self[name] for name in self.procedure.settings if SETTINGS[name].shape == "number"]

    def readings(self) -> forms.BoundField | None:
        """Lines typed in place of a file, folded away."""
        return self["readings"] if "readings" in self.fields else None

    def slots(self) -> list[FileSlot]:
        """The files that are asked for."""
        return [
            FileSlot(
                each, self.held.get(each.role), list(self.errors.get(each.role, [])) if self.is_bound else []
            )
            for each in self.procedure.main_files
        ]

    def setting_texts(self, ratio: str) -> dict[str, Any]:
        """The settings as `ingest.uploads` takes them; on calibration the night's word counts."""
        return {
            "kind": self.procedure.kind,
            "method": self.procedure.method,
            "ratio": ratio,
            **{name: self.cleaned_data.get(name, "") for name in self.procedure.settings},
        }

    def fault_list(self) -> list[dict[str, str | None]]:
        """Every fault with its field, for the page's script."""
        return [
            {"field": None if name == "__all__" else name, "detail": str(fault)}
            for name, faults in self.errors.items()
            for fault in faults
        ]
