"""Numbered releases of the evidence."""

from __future__ import annotations

from rest_framework import serializers

from api.shown import Shown, Verbatim, words


class ReleaseFile(Verbatim):
    """A file that was made with the release; members have rows, the public aggregates."""

    name = words("File name.")
    circle = words("Who may have it: `public` or `members`.")
    media_type = words("Its type.")
    size = serializers.IntegerField(help_text="Bytes.")
    sha256 = words("SHA-256 of its bytes, in hexadecimal.")
    address = words("Where to get it.")


class Release(Shown):
    """A numbered, unchanging publication of the evidence."""

    number = serializers.IntegerField()
    made_at = serializers.DateTimeField()
    engine_version = words("What computed its figures.")
    region = serializers.IntegerField(help_text="ITU region of its band plan.")
    thresholds = serializers.DictField(help_text="The disclosure thresholds it was made under.")
    counts = serializers.DictField(help_text="What it holds, in numbers.")
    content_sha256 = words("SHA-256 of its content, in hexadecimal.")
    files = ReleaseFile(many=True, help_text="Its files, as far as the reader may have them.")
