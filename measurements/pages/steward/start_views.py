"""The first evening of a group: five steps that a steward takes on one page, and the end of the demo."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import form_handling, rendering
from measurements.pages.steward.forms import InviteForm
from measurements.pages.steward.setup_steps import list_setup_steps
from measurements.selectors.reference import reference
from measurements.services.demo import removal
from measurements.services.reference import fact_changes

# SPDX identifiers, and what each means for whoever passes the figures on
LICENCES = {
    "CC0-1.0": "Anybody may use the figures for anything, without naming you.",
    "CC-BY-4.0": "Anybody may use them for anything and names your group.",
    "CC-BY-SA-4.0": "As CC-BY-4.0, and whoever changes and passes them on does so under the same licence.",
    "ODbL-1.0": "As CC-BY-SA-4.0, written for collections of data: what is made public of them stays open.",
}


class NameForm(forms.Form):
    """What the group is called."""

    use_required_attribute = False

    group_name = forms.CharField(
        max_length=fact_changes.MOST_NAME,
        label="Name of the group",
        help_text="Every page and every release shows it.",
        error_messages={"required": "Give the group a name."},
    )


class PlaceForm(forms.Form):
    """Where the group is."""

    use_required_attribute = False

    region = forms.ChoiceField(
        choices=[
            ("1", "1: Europe, Africa, the Middle East, northern Asia"),
            ("2", "2: the Americas"),
            ("3", "3: the rest of Asia, Oceania"),
        ],
        label="ITU region",
        help_text="It decides which band plan tests are judged by. Tests that are stored keep theirs.",
    )
    time_zone = forms.CharField(
        max_length=64,
        label="Time zone",
        help_text="A name such as Europe/Lisbon. Days and hours on pages are in it.",
        error_messages={"required": "Give a time zone."},
    )


class TermsForm(forms.Form):
    """Under which terms the published figures may be passed on."""

    use_required_attribute = False

    licence = forms.ChoiceField(
        choices=[*((name, name) for name in LICENCES), ("other", "Other terms, or none yet")],
        widget=forms.RadioSelect,
        label="Licence of the data",
    )
    other = forms.CharField(
        max_length=fact_changes.MOST_TERMS,
        required=False,
        label="Other terms",
        help_text="Up to 400 characters. Empty: the group has not said, so nobody may count on a licence.",
    )

    @property
    def terms(self) -> str:
        """Return the terms as they are stored."""
        chosen = self.cleaned_data["licence"]
        return str(self.cleaned_data["other"] if chosen == "other" else chosen)


def show_start(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the five steps with their forms. POST: take one of the first three."""
    given = {
        "name": NameForm(initial={"group_name": reference.get_group_name()}),
        "place": PlaceForm(
            initial={"region": str(reference.get_region()), "time_zone": reference.get_time_zone()}
        ),
        "licence": TermsForm(initial=_read_terms()),
    }
    if request.method == "POST":
        act = request.POST.get("act", "")
        if act not in given:
            raise BenchnightError("start.unknown_act", "Choose one of the buttons.")
        given[act] = type(given[act])(request.POST)
        answer = _take_step(request, viewer, act, given[act])
        if answer is not None:
            return answer
    steps = list_setup_steps(viewer)
    context: dict[str, Any] = {
        "steps": steps,
        "done": sum(step.done for step in steps),
        "forms": given,
        "licences": LICENCES.items(),
        "steward_form": InviteForm(initial={"role": "steward"}, auto_id="steward_%s"),
        "member_form": InviteForm(initial={"role": "member"}, auto_id="member_%s"),
    }
    faulty = any(form.errors for form in given.values())
    return rendering.render_page(request, "steward/start.html", context, status=422 if faulty else 200)


def _take_step(request: HttpRequest, viewer: Viewer, act: str, form: forms.Form) -> HttpResponse | None:
    def write() -> None:
        facts = {"data_terms": form.terms} if isinstance(form, TermsForm) else form.cleaned_data
        fact_changes.change_group_facts(by=viewer, **facts)

    target = f"{reverse('pages:steward_start')}#{act}"
    return form_handling.submit_form(
        request, form, write, said="Set.", target=target, names={"data_terms": "other"}
    )


def _read_terms() -> dict[str, str]:
    terms = reference.get_data_terms()
    if terms in LICENCES:
        return {"licence": terms}
    return {"licence": "other", "other": terms} if terms else {}


def remove_demo(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what goes with the demo. POST: remove it."""
    if request.method == "POST":
        gone = removal.remove_demo(by=viewer)
        messages.success(
            request,
            f"The demo is gone: {gone.members} accounts, {gone.devices} devices, {gone.tests} tests.",
        )
        return HttpResponseRedirect(reverse("pages:steward_start"))
    return rendering.render_page(request, "steward/demo.html", {})
