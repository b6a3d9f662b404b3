"""From a filled-in upload form to a computed result: shared by looking at it and by saving it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from measurements.charts import test_chart
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.designs.forms import get_recipe_field
from measurements.pages.layout import form_handling
from measurements.pages.layout.procedures import Procedure, find_procedure
from measurements.pages.uploads import staged_files
from measurements.pages.uploads.forms import UploadForm
from measurements.pages.uploads.staged_files import Draft
from measurements.selectors.analysers.analysers import list_analysers
from measurements.selectors.designs import designs as designs_selectors
from measurements.selectors.designs import recipe_checks, similar_designs
from measurements.selectors.designs.rows import DesignRow, MatchRow
from measurements.selectors.devices import devices
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.reference import reference
from measurements.selectors.reference.reference import BandRow
from measurements.selectors.tests import tests
from measurements.selectors.tests.tests import TestRow
from measurements.services.designs import designs as designs_services
from measurements.services.evidence import recipe_doubts
from measurements.services.tests import analysis, preparation
from measurements.services.uploads.uploads import TestSettings, Upload, fill_dc_type, parse_settings

RATIO_MATTERS = ("load_match", "insertion_loss", "balance")
FORM_FIELD_NAMES = {"ratio": "recipe_ratio"}


@dataclass(frozen=True)
class CheckedUpload:
    """What an upload would be saved as. device: its key, or None for a new one. design: a key, or None
    for a recipe that is new here too (`recipe`). notes: on the recipe, beside the flags of the result.
    doubt: what its curve says against the recipe, None where nothing (`services.evidence.recipe_doubts`).
    like: designs that are here and near such a recipe."""

    device: str | None
    design: str | None
    recipe: dict[str, Any] | None
    title: str
    tag: str
    uploads: dict[str, Upload]
    settings: TestSettings
    result: dict[str, Any]
    traces: dict[str, Any]
    notes: tuple[dict[str, Any], ...]
    doubt: dict[str, Any] | None
    like: tuple[MatchRow, ...]

    @property
    def contradicted(self) -> bool:
        """Say whether it would wait outside the evidence until its owner answers for the recipe."""
        return self.doubt is not None and self.doubt["contradicts"]

    @property
    def drawable(self) -> SimpleNamespace:
        """Collect the rows that its chart needs."""
        return SimpleNamespace(kind=self.settings.kind, result=self.result)


def list_own_device_choices(viewer: Viewer) -> tuple[DeviceRow, ...]:
    """Return the devices that the form offers: the viewer's own, and the group's to its keepers."""
    return devices.list_own_devices(viewer)


def build_upload_form(viewer: Viewer, draft: Draft, *, judged: bool = True) -> UploadForm:
    """Return the form as it was sent; files that are no longer kept are faults of their fields.

    judged: False shows what was typed without a word on what is missing.
    """
    held, gone = staged_files.get_draft_files(viewer, draft.held)
    form = UploadForm(
        get_procedure(draft.kind, draft.method),
        list_own_device_choices(viewer),
        data=draft.typed if judged else None,
        held=held,
        initial=None if judged else dict(draft.typed),
        design=get_upload_design(viewer, draft.design),
        partners=list_partner_choices(viewer, get_procedure(draft.kind, draft.method)),
        analysers=list_analysers(viewer),
    )
    if judged:
        for role, error in gone.items():
            form.add_error(role if role in form.fields else None, error.detail)
    return form


def list_partner_choices(viewer: Viewer, procedure: Procedure) -> tuple[TestRow, ...]:
    """Return the tests that the form offers as a partner, where the method asks for one."""
    return tests.list_own_loss_tests(viewer) if "partner" in procedure.settings else ()


def get_procedure(kind: str, method: str | None) -> Procedure:
    """Return the row of the table. Raises BenchnightError `upload.unknown_kind`."""
    procedure = find_procedure(kind, method)
    if procedure is None:
        raise BenchnightError(
            "upload.unknown_kind", "There is no such test. Choose one from Upload.", kind="not_found"
        )
    return procedure


def get_upload_design(viewer: Viewer, key: str) -> DesignRow | None:
    """Return the design that the form was opened for, if any."""
    return designs_selectors.get_design(viewer, key) if key else None


def check_upload(viewer: Viewer, form: UploadForm) -> CheckedUpload | None:
    """Compute the result of a valid form; None, with the faults shown in the form, where it cannot."""
    if not form.is_valid():
        return None
    try:
        return _compute_upload(viewer, form)
    except BenchnightError as error:
        names = {fault.field: get_recipe_field(fault.field) for fault in error.errors if fault.field}
        form_handling.add_error_to_form(form, error, {**names, **FORM_FIELD_NAMES})
        return None


def _compute_upload(viewer: Viewer, form: UploadForm) -> CheckedUpload:
    typed = form.cleaned_data
    device, design, recipe, like = None, form.design, None, ()
    made_to: Mapping[str, Any] | None
    if not form.is_new:
        row = devices.get_device(viewer, typed["device"])
        device, tag = row.key, row.tag
        design = None if row.design is None else designs_selectors.get_design(viewer, row.design)
    else:
        tag = typed["tag"]
        _refuse_taken_tag(viewer, tag)
    if design is not None:
        title, ratio, made_to = design.title, design.ratio, design.recipe
    elif device is not None:  # its build is not known yet
        title, ratio, made_to = row.design_title, _get_written_ratio(row, form.procedure.kind), None
    else:
        recipe = form.recipe()
        normal = designs_services.preview_design(recipe)
        title, ratio, made_to = normal.title, normal.as_json["ratio"], normal.as_json
        like = similar_designs.list_similar_designs(made_to)
    settings = parse_settings(form.setting_texts(ratio))
    if made_to is not None:
        settings = fill_dc_type(settings, made_to["purpose"], made_to["principle"], ratio)
    uploads = {role: Upload(staged.name, staged.data) for role, staged in form.held.items()}
    asked = preparation.RequestedTest(uploads, settings, typed["measured_on"], None)
    # what saving adds by itself belongs into the preview, or its verdict would be another one
    commissioning = preparation.get_commissioning_uploads(viewer, asked)
    computed = analysis.analyse_uploads(
        uploads_by_role={**commissioning, **uploads},
        settings=settings,
        on=typed["measured_on"],
        by=viewer,
    ).analysis
    traces = {name: test_chart.replace_non_finite(figures) for name, figures in computed.traces.items()}
    return CheckedUpload(
        device=device,
        design=design.key if design is not None else None,
        recipe=recipe,
        title=title,
        tag=tag,
        uploads=uploads,
        settings=settings,
        result=computed.result,
        traces=traces,
        notes=() if made_to is None else recipe_checks.list_recipe_notes(made_to),
        doubt=recipe_doubts.check_recipe(made_to, computed.evidence),
        like=like,
    )


def _get_written_ratio(device: DeviceRow, kind: str) -> str:
    """Return the ratio that its owner wrote; 1:1 where the kind of test takes none.

    Raises BenchnightError `device.ratio`: a guessed ratio would judge the test by a wrong load.
    """
    if not device.ratio and kind in RATIO_MATTERS:
        raise BenchnightError(
            "device.ratio",
            "The ratio of this device is not known. Write it on its page first: the load follows it.",
            field="device",
        )
    return device.ratio or "1:1"


def _refuse_taken_tag(viewer: Viewer, tag: str) -> None:
    """Say so before the result is shown, not only when it is saved."""
    if any(row.tag == " ".join(tag.split()) for row in list_own_device_choices(viewer)):
        raise BenchnightError(
            "device.tag_taken",
            "You already have a device with this tag: choose it above, or give another tag.",
            kind="conflict",
            field="tag",
        )


def get_upload_bands(checked: CheckedUpload, form: UploadForm) -> tuple[BandRow, ...]:
    """Return the band plan of the day of the measurement."""
    return reference.list_bands(checked.settings.region, form.cleaned_data["measured_on"])
