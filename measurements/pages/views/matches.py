"""Designs like the recipe that is being typed: a fragment that the upload form's script asks for."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse

from measurements.disclosure.circles import Viewer
from measurements.pages import door
from measurements.pages.forms.recipe import RecipeFields
from measurements.queries import matches


def typed(request: HttpRequest, _viewer: Viewer) -> HttpResponse:
    """GET: the fields of a recipe as they stand, any of them missing; a list of designs, or nothing."""
    form = RecipeFields(request.GET)
    form.fill_choices()
    return door.render(request, "parts/matches.html", {"matches": matches.like(form.so_far())})
