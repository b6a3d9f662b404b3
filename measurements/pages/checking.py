"""From a filled-in upload form to a computed result: shared by looking at it and by saving it."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from measurements.charts import test_chart
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import analysis, designs
from measurements.ingest.uploads import TestSettings, Upload, parse_settings
from measurements.pages import drafts, faults
from measurements.pages.bench import Procedure, find
from measurements.pages.drafts import Draft
from measurements.pages.forms.recipe import field_of
from measurements.pages.forms.upload import UploadForm
from measurements.queries import designs as design_rows
from measurements.queries import devices, matches, recipe_checks, reference
from measurements.queries import tests as test_rows
from measurements.queries.rows import BandRow, DesignRow, DeviceRow, MatchRow, TestRow

MOST_A_PAGE = 200
NAMES = {"ratio": "recipe_ratio"}


@dataclass(frozen=True)
class Checked:
    """What an upload would be saved as. device: its key, or None for a new one. design: a key, or None
    for a recipe that is new here too (`recipe`). notes: on the recipe, beside the flags of the result.
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
    like: tuple[MatchRow, ...]

    @property
    def drawable(self) -> SimpleNamespace:
        """What a chart needs to know of it."""
        return SimpleNamespace(kind=self.settings.kind, result=self.result)


def own_devices(viewer: Viewer) -> tuple[DeviceRow, ...]:
    """The devices that the form offers: the viewer's own, also for a steward, who sees all."""
    found: list[DeviceRow] = []
    cursor: str | None = None
    while True:
        page = devices.listing(viewer, cursor=cursor, limit=MOST_A_PAGE)
        found += [row for row in page.results if row.owner == viewer.name]
        cursor = page.next_cursor
        if cursor is None:
            return tuple(found)


def form_of(viewer: Viewer, draft: Draft, *, judged: bool = True) -> UploadForm:
    """The form as it was sent; files that are no longer kept are faults of their fields.

    judged: False shows what was typed without a word on what is missing.
    """
    held, gone = drafts.files(viewer, draft.held)
    form = UploadForm(
        procedure_of(draft.kind, draft.method),
        own_devices(viewer),
        data=draft.typed if judged else None,
        held=held,
        initial=None if judged else dict(draft.typed),
        design=design_of(viewer, draft.design),
        partners=partners_for(viewer, procedure_of(draft.kind, draft.method)),
    )
    if judged:
        for role, error in gone.items():
            form.add_error(role if role in form.fields else None, error.detail)
    return form


def partners_for(viewer: Viewer, procedure: Procedure) -> tuple[TestRow, ...]:
    """The tests that the form offers as a partner, where the method asks for one."""
    return test_rows.loss_tests(viewer) if "partner" in procedure.settings else ()


def procedure_of(kind: str, method: str | None) -> Procedure:
    """The row of the table. Raises BenchnightError `upload.unknown_kind`."""
    procedure = find(kind, method)
    if procedure is None:
        raise BenchnightError(
            "upload.unknown_kind", "There is no such test. Choose one from Upload.", kind="not_found"
        )
    return procedure


def design_of(viewer: Viewer, key: str) -> DesignRow | None:
    """The design that the form was opened for, if any."""
    return design_rows.one(viewer, key) if key else None


def check(viewer: Viewer, form: UploadForm) -> Checked | None:
    """Computes the result of a valid form; None, with the faults shown in the form, where it cannot."""
    if not form.is_valid():
        return None
    try:
        return _checked(viewer, form)
    except BenchnightError as error:
        names = {fault.field: field_of(fault.field) for fault in error.errors if fault.field}
        faults.show(form, error, {**names, **NAMES})
        return None


def _checked(viewer: Viewer, form: UploadForm) -> Checked:
    typed = form.cleaned_data
    device, design, recipe, like = None, form.design, None, ()
    if not form.is_new:
        row = devices.one(viewer, typed["device"])
        device, tag, design = row.key, row.tag, design_rows.one(viewer, row.design)
    else:
        tag = typed["tag"]
        _refuse_taken_tag(viewer, tag)
    if design is not None:
        title, ratio, made_to = design.title, design.ratio, design.recipe
    else:
        recipe = form.recipe()
        normal = designs.preview(recipe)
        title, ratio, made_to = normal.title, normal.as_json["ratio"], normal.as_json
        like = matches.like(made_to)
    settings = parse_settings(form.setting_texts(ratio))
    uploads = {role: Upload(staged.name, staged.data) for role, staged in form.held.items()}
    computed = analysis.of_uploads(
        uploads_by_role=uploads, settings=settings, on=typed["measured_on"], by=viewer
    ).analysis
    traces = {name: test_chart.plain(figures) for name, figures in computed.traces.items()}
    return Checked(
        device=device,
        design=design.key if design is not None else None,
        recipe=recipe,
        title=title,
        tag=tag,
        uploads=uploads,
        settings=settings,
        result=computed.result,
        traces=traces,
        notes=recipe_checks.notes(made_to, computed.result, traces),
        like=like,
    )


def _refuse_taken_tag(viewer: Viewer, tag: str) -> None:
    """Says so before the result is shown, not only when it is saved."""
    if any(row.tag == " ".join(tag.split()) for row in own_devices(viewer)):
        raise BenchnightError(
            "device.tag_taken",
            "You already have a device with this tag: choose it above, or give another tag.",
            kind="conflict",
            field="tag",
        )


def bands_of(checked: Checked, form: UploadForm) -> tuple[BandRow, ...]:
    """The band plan of the day of the measurement."""
    return reference.bands(checked.settings.region, form.cleaned_data["measured_on"])
