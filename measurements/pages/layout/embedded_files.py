"""Files that a page carries along in itself, so that a second question needs no second choice.

For a page that promises to keep nothing: what was chosen goes back into the form as text and comes again with
it. A field of a form may be this long only, so larger files have to be chosen again; the page names them.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest

EMBEDDED_SHARE = 0.5  # of what a request may hold beside its files; the rest is for the other fields


@dataclass(frozen=True)
class EmbeddedFile:
    """A file inside the page. text: its bytes in base 64."""

    name: str
    size: int
    text: str


def read_embedded_files(request: HttpRequest, fields: Sequence[str]) -> dict[str, ContentFile]:
    """Return the files that came along with the page, by field; what was altered on the way is passed
    over.
    """
    found = {}
    for field in fields:
        text = request.POST.get(f"carried_{field}")
        if not text or request.POST.get(f"drop_{field}"):
            continue
        try:
            data = base64.b64decode(text, validate=True)
        except binascii.Error:
            continue
        found[field] = ContentFile(data, request.POST.get(f"carried_name_{field}") or "unnamed")
    return found


def embed_files(files: Mapping[str, UploadedFile | ContentFile]) -> tuple[dict[str, EmbeddedFile], list[str]]:
    """Return the files that the page can carry along, by field, and the names of those that are too large for
    it.
    """
    room = int(settings.DATA_UPLOAD_MAX_MEMORY_SIZE * EMBEDDED_SHARE)
    kept, too_large = {}, []
    for field, file in files.items():
        file.seek(0)
        text = base64.b64encode(file.read()).decode()
        if len(text) > room:
            too_large.append(file.name or "unnamed")
            continue
        room -= len(text)
        kept[field] = EmbeddedFile(file.name or "unnamed", file.size, text)
    return kept, too_large
