"""Registering a device by itself, and in whose hands it is: offers, loans, returns."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.devices.forms import LoanForm
from measurements.pages.kit.forms import RegisterForm
from measurements.pages.layout import form_handling, rendering
from measurements.services.devices import devices
from measurements.services.kit import handovers, loans


def show_register_form(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the form of a device without a test. POST: register it."""
    initial = {name: request.GET.get(name, "")[:64] for name in ("tag", "code", "owner")}
    data = request.POST if request.method == "POST" else None
    form = RegisterForm(data, keeps_kit=viewer.is_keeper, initial={"origin": "commercial", **initial})
    if form.is_bound and form.is_valid():
        try:
            stored = devices.register_device(by=viewer, **form.described)
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            messages.success(request, f"{form.cleaned_data['tag']} is registered.")
            if "another" in request.POST:
                return HttpResponseRedirect(reverse("pages:device_new"))
            return HttpResponseRedirect(reverse("pages:device", kwargs={"key": stored.key}))
    return rendering.render_page(
        request, "kit/register.html", {"form": form}, status=422 if form.errors else 200
    )


def submit_hands(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """POST: hand the device over, take the offer back, lend it, or note its return."""
    try:
        said = _act_on_device(request, viewer, key)
    except BenchnightError as error:
        if error.kind in ("not_found", "forbidden"):
            raise
        messages.warning(request, error.detail)
    else:
        messages.success(request, said)
    if request.POST.get("do") == "offer" and not _still_sees(viewer, key):
        return HttpResponseRedirect(reverse("pages:devices"))
    return HttpResponseRedirect(f"{reverse('pages:device', kwargs={'key': key})}#hands")


def submit_offer_answer(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """POST: take a device over, or decline it."""
    yes = request.POST.get("answer") == "yes"
    try:
        device = handovers.answer_offer(by=viewer, offer=key, yes=yes)
    except BenchnightError as error:
        if error.kind == "not_found":
            raise
        messages.warning(request, error.detail)
        return HttpResponseRedirect(reverse("pages:devices"))
    if not yes:
        messages.success(request, "Declined. It stays with its owner.")
        return HttpResponseRedirect(reverse("pages:devices"))
    messages.success(request, "Taken over, with its tests and history.")
    return HttpResponseRedirect(reverse("pages:device", kwargs={"key": device}))


def _act_on_device(request: HttpRequest, viewer: Viewer, key: str) -> str:
    act = request.POST.get("do", "")
    if act == "offer":
        to_group = request.POST.get("to") == "group"
        handovers.offer_device(
            by=viewer, device=key, to_group=to_group, name="" if to_group else request.POST.get("name", "")
        )
        return (
            "It is the group’s now."
            if to_group and viewer.is_keeper
            else "Offered. It stays yours until the yes."
        )
    if act == "keep":
        handovers.take_offer_back(by=viewer, device=key)
        return "The offer is taken back."
    if act == "return":
        loans.return_device(by=viewer, device=key)
        return "It is back."
    if act != "lend":
        raise BenchnightError("device.unknown_act", "Choose one of the buttons.")
    form = LoanForm(request.POST)
    if not form.is_valid():
        raise BenchnightError("loan.borrower", "Say who has it, and since when as 2026-05-14.")
    loans.lend_device(by=viewer, device=key, **form.cleaned_data)
    return f"Lent to {form.cleaned_data['borrower']}."


def _still_sees(viewer: Viewer, key: str) -> bool:
    try:
        devices.get_own_device(viewer, key)
    except BenchnightError:
        return False
    return True
