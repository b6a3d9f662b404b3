"""Keeping files of a check, or of an upload whose session ended: in the account, or until a sign-in."""

from __future__ import annotations

import json
from dataclasses import asdict

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.pages.layout import rendering
from measurements.pages.uploads import staged_files
from measurements.pages.uploads.staged_files import Draft
from measurements.services.uploads import staging, unclaimed_files
from measurements.services.uploads.uploads import Upload


def keep_files(
    request: HttpRequest, viewer: Viewer, draft: Draft, files: dict[str, Upload]
) -> HttpResponseRedirect:
    """Lead on with files: to the upload form, or to an address that a sign-in claims them by."""
    if not viewer.signed_in:
        told = json.dumps(asdict(draft)).encode()
        secret = unclaimed_files.keep_unclaimed_files(files=files, draft=told)
        return HttpResponseRedirect(reverse("pages:check_kept", kwargs={"secret": secret}))
    held = {
        role: staging.stage_file(by=viewer, role=role, name=each.name, data=each.data).key
        for role, each in files.items()
    }
    return _open_draft(request, Draft(**{**asdict(draft), "held": {**draft.held, **held}}))


def show_kept_files(request: HttpRequest, viewer: Viewer, secret: str) -> HttpResponse:
    """GET: signed out, the way to sign in; signed in, the upload form with the files in it."""
    if not viewer.signed_in:
        until = unclaimed_files.find_claim_end(secret=secret)
        response = rendering.render_page(request, "uploads/kept.html", {"until": until})
        response["Referrer-Policy"] = "no-referrer"
        return response
    claimed = unclaimed_files.claim_files(by=viewer, secret=secret)
    draft = json.loads(claimed.draft)
    return _open_draft(request, Draft(**{**draft, "held": claimed.held}))


def _open_draft(request: HttpRequest, draft: Draft) -> HttpResponseRedirect:
    name = staged_files.store_draft(request, draft)
    return HttpResponseRedirect(f"{reverse('pages:upload')}?draft={name}")
