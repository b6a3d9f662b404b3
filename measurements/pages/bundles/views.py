"""Bundles: a night, the group or an account as one signed file, and a bundle of another server brought here.

A bundle is shown first. Nothing changes until a person applies it, and decides where both sides edited.
"""

from __future__ import annotations

import tempfile
from typing import Any

from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import rendering
from measurements.selectors.bundles import imports
from measurements.services.bundles import exports, processing, signing
from measurements.services.bundles.exports import BundleScope

MEBIBYTE = 1024 * 1024
OURS, THEIRS, LATER = "ours", "theirs", "later"
DECISION_PREFIX = "decide-"  # before the key of a row, in the name of its field
STATES = {"queued": "waits for a worker", "running": "is being read", "done": "done"}


def show_bundles(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: bring a bundle here, take one along, own imports. POST: store one and show what it changes."""
    policy.check_operator(viewer)
    fault = ""
    if request.method == "POST":
        try:
            key = processing.begin_import(by=viewer, data=_read_bundle(request), apply=False)
        except BenchnightError as error:
            fault = error.detail
        else:
            return HttpResponseRedirect(reverse("pages:bundle", kwargs={"key": key}))
    context = {
        "imports": [(row, _name_state(row)) for row in imports.list_bundle_imports(viewer)],
        "fault": fault,
        "public_key": signing.get_public_key(),
    }
    return rendering.render_page(request, "bundles/list.html", context, status=422 if fault else 200)


def _read_bundle(request: HttpRequest) -> bytes:
    """Read the sent file. Raises BenchnightError `field.required`."""
    sent = request.FILES.get("bundle")
    if sent is None:
        raise BenchnightError("field.required", "Choose the file of the bundle.", field="bundle")
    data: bytes = sent.read()
    return data


def _name_state(row: imports.BundleImportRow) -> str:
    if row.refused:
        return "refused"
    if row.state != "done":
        return STATES[row.state]
    return "applied" if row.applied else "shown, not applied"


def show_bundle(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what an import changes, or changed. POST: apply what was shown, as a person decided."""
    row = imports.get_bundle_import(viewer, key)
    fault = ""
    if request.method == "POST":
        try:
            made = processing.apply_preview(by=viewer, key=key, decisions=_read_decisions(request, row))
        except BenchnightError as error:
            if error.kind == "not_found":
                raise
            fault = error.detail
        else:
            return HttpResponseRedirect(reverse("pages:bundle", kwargs={"key": made}))
    context = {
        "row": row,
        "state": _name_state(row),
        "running": row.state != "done",
        "clashes": [(clash, f"{DECISION_PREFIX}{clash['key']}") for clash in row.clashes],
        "fault": fault,
        "choices": ((LATER, "decide later"), (OURS, "keep this server's"), (THEIRS, "take the bundle's")),
    }
    return rendering.render_page(request, "bundles/import.html", context, status=422 if fault else 200)


def _read_decisions(request: HttpRequest, row: imports.BundleImportRow) -> dict[str, Any]:
    """Collect the keys that a person decided about; what was not shown cannot be decided."""
    chosen = {
        clash["key"]: request.POST.get(f"{DECISION_PREFIX}{clash['key']}", LATER) for clash in row.clashes
    }
    return {word: sorted(key for key, choice in chosen.items() if choice == word) for word in (OURS, THEIRS)}


def download_night_bundle(_request: HttpRequest, viewer: Viewer, key: str) -> HttpResponseBase:
    """POST: a night as one file, for its operators."""
    return _send_bundle(viewer, exports.select_night(key, by=viewer), f"night-{key}.zip")


def download_group_bundle(_request: HttpRequest, viewer: Viewer) -> HttpResponseBase:
    """POST: everything of the group, for stewards."""
    policy.check_steward(viewer)
    return _send_bundle(viewer, exports.select_all(), "group.zip")


def download_own_bundle(_request: HttpRequest, viewer: Viewer) -> HttpResponseBase:
    """POST: what an account owns, to carry it to another server."""
    return _send_bundle(viewer, exports.select_member(viewer.name), "my-devices.zip")


def _send_bundle(viewer: Viewer, scope: BundleScope, name: str) -> HttpResponseBase:
    made = tempfile.TemporaryFile()  # noqa: SIM115  # the response closes it
    exports.write_bundle(scope, made, by=viewer)
    made.seek(0)
    return FileResponse(made, as_attachment=True, filename=name, content_type="application/octet-stream")
