"""The index, the description and the docs page; and whatever is at no address."""

from __future__ import annotations

import difflib
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponsePermanentRedirect
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import Resolver404, resolve, reverse
from django.utils.safestring import SafeString
from rest_framework.request import Request
from rest_framework.response import Response

from api.http.problems import NOT_THERE
from api.http.renderers import Html, Json, OpenApiJson, Yaml
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import docs_page, examples
from api.schema.operations import TEXT_SCHEMA, describe_operation
from api.serializers.about import Index as IndexShown
from measurements.errors import BenchnightError
from measurements.rf.analysis import ENGINE_VERSION
from measurements.selectors.reference import reference
from measurements.selectors.releases import releases

FILE_NAMES = ("release_file", "latest_release_file")
DESCRIPTION_FILE = Path(__file__).resolve().parent.parent / "openapi.yaml"
LINKED = (
    "schema",
    "docs",
    "bands",
    "benchmarks",
    "mixes",
    "cores",
    "conductors",
    "analyse",
    "designs",
    "evidence",
    "releases",
    "devices",
    "tests",
    "nights",
    "predict",
    "identify",
)


class IndexView(ResourceView):
    @describe_operation(
        "index",
        "about",
        "What is here",
        "Addresses, the engine's version, the newest release and the group's name.",
        shows=IndexShown,
        example=examples.INDEX,
    )
    def get(self, request: Request) -> Response:
        newest = releases.get_current_release()
        return Response(
            {
                "name": "Benchnight",
                "group_name": reference.get_group_name(),
                "engine_version": ENGINE_VERSION,
                "region": reference.get_region(),
                "demo": reference.has_demo(),
                "release": None if newest is None else newest.number,
                "addresses": {name: build_absolute_address(request, name) for name in LINKED},
            }
        )


class DescriptionView(ResourceView):
    renderer_classes = (Yaml, OpenApiJson, Json)

    @describe_operation(
        "description",
        "about",
        "This description",
        "OpenAPI 3.1, as YAML or with `?format=json` as JSON.",
        shows={"type": "object"},
        media={
            "application/vnd.oai.openapi": TEXT_SCHEMA,
            "application/vnd.oai.openapi+json": {"type": "object"},
        },
    )
    def get(self, request: Request) -> Response:
        form = request.accepted_renderer.format
        return Response(_read_yaml() if form == "yaml" else json.loads(_read_json()))


class DocsView(ResourceView):
    renderer_classes = (Html,)

    @describe_operation(
        "docs",
        "about",
        "Browsable description",
        "The same for people, served from this machine.",
        shows=None,
        media={"text/html": TEXT_SCHEMA},
    )
    def get(self, request: Request) -> HttpResponse:
        context = {
            "schema_url": reverse("api:schema"),
            "check_url": f"{reverse('api:devices')}?limit=1",
            "section": "data",
            "body": _render_docs_body(),
        }
        return render(request, "api/docs.html", context)


class NotFoundView(ResourceView):
    """Answer 404 for unknown API paths; lead to a file of a release where only the last slash is missing.

    A data package names its tables beside itself, `evidence.csv`; a tool asks for it without a slash.
    """

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        with_slash = f"{request.path}/"
        if request.method in ("GET", "HEAD") and _find_name(with_slash) in FILE_NAMES:
            return HttpResponsePermanentRedirect(with_slash)
        return super().dispatch(request, *args, **kwargs)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        self._count(request)
        raise BenchnightError(NOT_THERE, describe_missing_address(request.path), kind="not_found")


def describe_missing_address(path: str) -> str:
    """Say which address was probably meant: the same with a slash, or one of a similar name."""
    index = reverse("api:index")
    if not path.endswith("/") and _exists(f"{path}/"):
        return f"Every address ends in a slash: {path}/"
    first, _, rest = path.removeprefix(index).partition("/")
    near = difflib.get_close_matches(first.lower(), LINKED, n=1, cutoff=0.6)
    if near and near[0] != first:
        likely = f"{index}{near[0]}/"
        meant = f"{likely}{rest}" if _exists(f"{likely}{rest}") else likely
        return f"There is nothing at this address. Did you mean {meant}?"
    return (
        f"There is nothing at this address. {index} lists what there is, {reverse('api:docs')} describes it."
    )


def _find_name(path: str) -> str | None:
    """Find the name of the view at a path; None where there is none."""
    try:
        return resolve(path).url_name
    except Resolver404:
        return None


def _exists(path: str) -> bool:
    try:
        return not issubclass(resolve(path).func.view_class, NotFoundView)
    except Resolver404:
        return False


@lru_cache(maxsize=1)
def _read_yaml() -> str:
    return DESCRIPTION_FILE.read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def _read_json() -> str:
    return json.dumps(yaml.safe_load(_read_yaml()))


@lru_cache(maxsize=1)
def _render_docs_body() -> SafeString:
    """Render what the page says alike to everybody; it changes with the description alone."""
    document = json.loads(_read_json())
    rows = {"tags": docs_page.list_tags(document), "components": docs_page.list_components(document)}
    return render_to_string("api/docs_body.html", rows)
