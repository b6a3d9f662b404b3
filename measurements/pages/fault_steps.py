"""A step of a fault search on its page: what it asks for, how it is wired, what came of those before it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import fault_searches as register
from measurements.ingest import tests as test_register
from measurements.ingest.uploads import Upload, parse_settings
from measurements.pages import bench, cautions, words, words_of_upkeep
from measurements.pages.forms.upkeep import StepForm
from measurements.pages.guide import addresses
from measurements.pages.words import Said
from measurements.queries import designs, devices, inspections, tests
from measurements.queries.fault_searches import FaultSearchRow, StepRow
from measurements.verdict.fault_path import KIND_OF_STEP

MOST_BYTES = 8 * 1024 * 1024
MOST_KNOWN = 20


def kind_of(search: FaultSearchRow) -> str | None:
    """The kind of test that the next step makes; None for an inspection and at the end."""
    return KIND_OF_STEP.get(search.next_step)  # type: ignore[call-overload]  # "" at the end


def form_of(search: FaultSearchRow, data: Any = None) -> StepForm:
    """The form of the next step."""
    return StepForm(data, with_load=kind_of(search) == "load_match")


def context(viewer: Viewer, search: FaultSearchRow) -> dict[str, Any]:
    """Files, drawings, cautions, and tests that are there already."""
    kind = kind_of(search)
    known = _known(viewer, search, kind)
    if kind is None:
        given = cautions.AT_DEVICE if search.next_step else cautions.AT_ANTENNA
        return {"title": words_of_upkeep.STEPS.get(search.next_step, ""), "cautions": given, "known": known}
    procedure = bench.BY_KEY[kind]
    files = [each for each in procedure.main_files if each.role != "sweep_reversed"]
    return {
        "title": words_of_upkeep.STEPS[search.next_step],
        "files": files,
        "pictures": [addresses.picture(kind, None, each.role) for each in files],
        "guide": addresses.section(kind, None),
        "cautions": cautions.for_kind(kind),
        "known": known,
    }


def record(viewer: Viewer, search: FaultSearchRow, form: StepForm, files: Mapping[str, Any]) -> str:
    """Stores the step's test of the device and answers its key. Raises BenchnightError."""
    kind = kind_of(search)
    if kind is None:
        raise BenchnightError(
            "fault.other_step", "The search went on meanwhile. Open it again.", kind="conflict"
        )
    procedure = bench.BY_KEY[kind]
    uploads = {
        each.role: Upload(files[each.role].name or "unnamed", files[each.role].read(MOST_BYTES + 1))
        for each in procedure.main_files
        if files.get(each.role)
    }
    missing = [each.label for each in procedure.main_files if each.required and each.role not in uploads]
    if missing:
        raise BenchnightError("fault.files", f"Choose the file: {', '.join(missing)}.")
    ratio = designs.one(viewer, devices.one(viewer, search.device).design).ratio
    given = form.cleaned_data
    texts = {"kind": kind, "ratio": ratio, "calibrated": given["calibrated"]}
    if given.get("load_ohm"):
        texts["load_ohm"] = given["load_ohm"].replace(",", ".")
    return test_register.record(
        by=viewer,
        device=search.device,
        uploads=uploads,
        settings=parse_settings(texts),
        measured_on=given["measured_on"],
    ).key


def take_known(viewer: Viewer, search: FaultSearchRow, step: str, key: str) -> None:
    """Takes a test or an inspection that is there already. Raises BenchnightError."""
    if step == "inspection":
        register.answer_with_inspection(by=viewer, search=search.key, step=step, inspection=key)
    else:
        register.answer_with_test(by=viewer, search=search.key, step=step, test=key)


def said(error: BenchnightError) -> str:
    """What went wrong with a file, in the words of the form, with its line."""
    found = []
    for fault in error.errors:
        line = f" (line {fault.line})" if fault.line else ""
        found.append(bench.in_words(f"{fault.detail}{line}"))
    return " ".join(found)


def shown(step: StepRow) -> tuple[StepRow, str, Said, str]:
    """A step that was made: itself, its name, what came of it, where that is kept."""
    href = ""
    if step.test:
        href = reverse("pages:test", kwargs={"key": step.test})
    elif step.inspection:
        href = reverse("pages:inspection", kwargs={"key": step.inspection})
    return step, words_of_upkeep.STEPS[step.step], words_of_upkeep.OUTCOMES[step.outcome], href


def _known(viewer: Viewer, search: FaultSearchRow, kind: str | None) -> list[tuple[str, str]]:
    if not search.next_step:
        return []
    if kind is None:
        rows = inspections.listing(viewer, search.device, limit=MOST_KNOWN).results
        return [(row.key, f"Inspection of {row.inspected_on:%d %b %Y}") for row in rows]
    found = tests.listing(viewer, device=search.device, limit=100).results
    alike = [row for row in found if row.kind == kind][:MOST_KNOWN]
    return [(row.key, f"{words.KINDS[kind]}, {row.measured_on:%d %b %Y}") for row in alike]
