"""Moving a test to its device, or a night's tests to their person, and taking the step back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import rendering, wording
from measurements.pages.nights.views import get_night_url
from measurements.selectors.nights import after_night
from measurements.selectors.tests import tests as tests_selectors
from measurements.services.tests import moves


def show_move_form(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the devices that the test may be of. POST: move it."""
    test = tests_selectors.get_test(viewer, key)
    fault = ""
    if request.method == "POST":
        try:
            move = moves.move_test(by=viewer, test=key, device=request.POST.get("device", ""))
        except BenchnightError as error:
            if error.kind in ("forbidden", "not_found"):
                raise
            fault = error.detail
        else:
            messages.success(request, _offer_undo("The test is moved.", move.key))
            return HttpResponseRedirect(reverse("pages:test", kwargs={"key": key}))
    context = {
        "test": test,
        "kind_words": wording.format_method(test.kind, test.method),
        "devices": after_night.list_move_targets(viewer, key),
        "fault": fault,
    }
    return rendering.render_page(request, "nights/move.html", context, status=422 if fault else 200)


def submit_person_move(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """POST: move what one guest brought to another guest of the night."""
    try:
        move = moves.move_person_tests(
            by=viewer,
            night=key,
            giver=request.POST.get("giver", ""),
            receiver=request.POST.get("receiver", ""),
        )
    except BenchnightError as error:
        if error.kind == "forbidden" or error.code == "night.not_found":
            raise
        messages.warning(request, error.detail)
    else:
        messages.success(request, _offer_undo("The devices and tests are moved.", move.key))
    return HttpResponseRedirect(f"{get_night_url(key)}#people")


def submit_undo(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what it does. POST: take a move back."""
    if request.method != "POST":
        return rendering.render_page(request, "nights/move_undo.html", {})
    try:
        night = moves.undo_move(by=viewer, move=key)
    except BenchnightError as error:
        if error.kind in ("forbidden", "not_found"):
            raise
        messages.warning(request, error.detail)
        return HttpResponseRedirect(reverse("pages:devices"))
    messages.success(request, "The move is undone.")
    return HttpResponseRedirect(get_night_url(night) if night else reverse("pages:devices"))


def _offer_undo(words: str, move: str) -> SafeString:
    """Return the words with a link to the page that takes the step back."""
    return format_html('{} <a href="{}">Undo</a>', words, reverse("pages:move_undo", kwargs={"key": move}))
