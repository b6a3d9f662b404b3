"""The pool of groups: what this server is in one, what groups send to a keeper, and pooled evidence."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from django.conf import settings
from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import parsers, replies, throttling
from api.http.parsers import Multipart
from api.http.renderers import TABLE_RENDERERS, StoredFile
from api.http.views import ResourceView
from api.schema import examples, pool_examples
from api.schema.operations import BINARY_SCHEMA, TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.pool import (
    Pool,
    PooledEvidenceQuery,
    PooledFigures,
    PoolMessage,
    PoolMessageForm,
)
from measurements.errors import BenchnightError
from measurements.selectors.pooling import kept_files, pool, pooled_evidence
from measurements.services.pooling import keeper_groups, keeper_sendings

FILE_MEDIA = dict.fromkeys(("text/csv", "application/json", "text/plain"), BINARY_SCHEMA)


class PoolView(ResourceView):
    @describe_operation(
        "pool",
        "evidence",
        "The pool of groups",
        "Whether the group is in a pool, which pooled release it shows, and the pool that this server keeps.",
        shows=Pool,
        example=pool_examples.POOL,
    )
    def get(self, request: Request) -> Response:
        return Response(Pool.represent(pool.get_pool_state()))


class PooledEvidenceView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    words = PooledEvidenceQuery

    @describe_operation(
        "pooled_evidence",
        "evidence",
        "Evidence of many groups",
        "A row per design, band and kind of the pooled release that this group fetched last; everybody reads "
        "the same. `evidence/?pool=1` leads here.",
        shows=make_list_serializer(PooledFigures, name="PooledEvidence"),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        words=PooledEvidenceQuery,
        example=examples.make_list(pool_examples.POOLED_ROW),
        refuses=(404,),
    )
    def get(self, request: Request) -> HttpResponseBase:
        def fetch(cursor: str | None, limit: int) -> Any:
            return pooled_evidence.list_pooled_rows(self.asked.get("design"), cursor=cursor, limit=limit)

        return replies.render_list(request, PooledFigures, self.asked, fetch)


class _MessageView(ResourceView):
    """Take a signed envelope of a group. It costs a check of a signature before anything else."""

    parser_classes = (Multipart,)
    scope = throttling.ANALYSE

    def read_message(self, request: Request) -> bytes:
        """Read the one file of the form."""
        for name in request.FILES:
            if name != "message" or len(request.FILES.getlist(name)) > 1:
                raise BenchnightError("field.unknown", "Send one file, in the field message.", field=name)
        if "message" not in request.FILES:
            raise BenchnightError("field.required", "Send the message.", field="message")
        return parsers.read_file(request.FILES["message"], "message", settings.BENCHNIGHT_BODY_BYTES).data


class PoolGroupsView(_MessageView):
    @describe_operation(
        "pool_join",
        "evidence",
        "Join or leave the pool",
        "Takes the signed request of a group that has a code, and answers under the keeper's key. A group "
        "that leaves has every record withdrawn.",
        shows=PoolMessage,
        takes={"multipart/form-data": PoolMessageForm},
        example=pool_examples.MESSAGE,
        refuses=(403, 409),
    )
    def post(self, request: Request) -> Response:
        return Response(json.loads(keeper_groups.answer_group(self.read_message(request))))


class PoolSendingsView(_MessageView):
    @describe_operation(
        "pool_send",
        "evidence",
        "Send to the pool",
        "Takes all records of a group, all or nothing. A record that is missing is withdrawn; the same again "
        "changes nothing. The signed reply tells the group alone how its benches compare.",
        shows=PoolMessage,
        takes={"multipart/form-data": PoolMessageForm},
        example=pool_examples.MESSAGE,
        refuses=(403, 409),
    )
    def post(self, request: Request) -> Response:
        return Response(json.loads(keeper_sendings.take_sending(self.read_message(request))))


class PoolPointerView(ResourceView):
    renderer_classes = (StoredFile,)

    @describe_operation(
        "pool_latest",
        "evidence",
        "The newest pooled release",
        "A small JSON file: `release`, the number of the newest; 0 before the first. A static host has it as "
        "`latest.json`.",
        shows=None,
        media={"application/json": BINARY_SCHEMA},
    )
    def get(self, request: Request) -> HttpResponseBase:
        content = kept_files.format_pointer().encode()
        digest = hashlib.sha256(content).hexdigest()
        return replies.stream_attachment(
            request, [content], len(content), kept_files.LATEST, digest, "application/json"
        )


class PoolFileView(ResourceView):
    renderer_classes = (StoredFile,)

    @describe_operation(
        "pool_file",
        "evidence",
        "A file of a pooled release",
        "A Data Package of plain files: `datapackage.json` holds the hash of each, and "
        "`datapackage.sig` is the keeper's Ed25519 signature of it.",
        shows=None,
        media=FILE_MEDIA,
        refuses=(404,),
    )
    def get(self, request: Request, number: int, name: str) -> HttpResponseBase:
        row = kept_files.get_file(number, name)
        return replies.stream_attachment(
            request, [row.content], len(row.content), row.name, row.sha256, row.media_type
        )
