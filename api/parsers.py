"""Bodies: strict JSON, and multipart whose files are limited where they are read."""

from __future__ import annotations

import json
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser, MultiPartParser


class StrictJson(JSONParser):
    """UTF-8 JSON without NaN, infinities or repeated names.

    The framework reads the body through `request.body`, where the size limit stands, because this is
    a JSONParser.
    """

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: dict[str, Any] | None = None
    ) -> Any:
        try:
            return json.loads(
                stream.read().decode("utf-8"), parse_constant=_refuse, object_pairs_hook=_without_repeats
            )
        except (ValueError, RecursionError) as error:  # UnicodeDecodeError is a ValueError
            raise ParseError from error


class Multipart(MultiPartParser):
    """Multipart form data; see `uploads.read` for the limits of its files."""


def _refuse(_constant: str) -> Any:
    raise ValueError


def _without_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError
    return made
