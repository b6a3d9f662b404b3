"""Bundles: a night as one signed file, and a bundle of another server brought here."""

from __future__ import annotations

import hashlib
import io

from django.conf import settings
from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import parsers, replies
from api.http.parsers import Multipart
from api.http.renderers import Raw
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import night_examples
from api.schema.operations import BINARY_SCHEMA, describe_operation
from api.serializers.bundles import BundleForm
from api.serializers.bundles import BundleImport as BundleImportShown
from measurements.disclosure import policy
from measurements.errors import BenchnightError
from measurements.selectors.bundles import imports as imports_selectors
from measurements.selectors.nights import nights
from measurements.services.bundles import exports, processing


class NightBundleView(ResourceView):
    renderer_classes = (Raw,)
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "night_bundle",
        "nights",
        "A night as one file",
        "A zip that holds a signed bag (RFC 8493): sweeps, jig, devices with their keys, recipes, the list. "
        "Another server that trusts this one's key takes it. Of a member's device it holds what lay on the "
        "bench, unless a steward asks.",
        shows=None,
        media={"application/octet-stream": BINARY_SCHEMA},
        refuses=(403, 404),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> HttpResponseBase:
        nights.get_night_record(self.viewer, id)
        scope = exports.select_night(id, by=self.viewer)
        made = io.BytesIO()
        exports.write_bundle(scope, made, by=self.viewer)
        data = made.getvalue()
        return replies.render_attachment(data, f"night-{id}.zip", hashlib.sha256(data).hexdigest())


class BundlesView(ResourceView):
    parser_classes = (Multipart,)
    members_only = frozenset({"POST"})

    @describe_operation(
        "bring_bundle",
        "nights",
        "Bring a bundle here",
        "Checks the signature and every hash, stores it and answers at once; a worker applies it, all "
        "or nothing, or with `apply=false` only shows what would change. Watch the import. The same bundle "
        "again changes nothing. A server trusts another's key by a command alone.",
        shows=BundleImportShown,
        status=202,
        takes={"multipart/form-data": BundleForm},
        example=night_examples.BUNDLE_IMPORT,
        refuses=(403,),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        policy.check_operator(self.viewer)  # before any other refusal
        texts = parsers.read_texts(request, ("apply",))
        apply = texts.get("apply", "true")
        if apply not in ("true", "false"):
            raise BenchnightError("field.choice", "Give true or false.", field="apply")
        key = processing.begin_import(by=self.viewer, data=_read_bundle(request), apply=apply == "true")
        data = BundleImportShown.represent(imports_selectors.get_bundle_import(self.viewer, key))
        where = build_absolute_address(request, "bundle", key)
        return Response(data, status=202, headers={"Location": where})


def _read_bundle(request: Request) -> bytes:
    for name in request.FILES:
        if name != "bundle" or len(request.FILES.getlist(name)) > 1:
            raise BenchnightError("field.unknown", "Send one file, in the field bundle.", field=name)
    if "bundle" not in request.FILES:
        raise BenchnightError("field.required", "Send the bundle.", field="bundle")
    return parsers.read_file(request.FILES["bundle"], "bundle", settings.BENCHNIGHT_INTAKE_BODY_BYTES).data


class BundleView(ResourceView):
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "bundle",
        "nights",
        "An import of a bundle",
        "How far it has come, with a line for each row that is not as it was; for who sent it and stewards.",
        shows=BundleImportShown,
        example=night_examples.BUNDLE_IMPORT,
        refuses=(403, 404),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(BundleImportShown.represent(imports_selectors.get_bundle_import(self.viewer, id)))
