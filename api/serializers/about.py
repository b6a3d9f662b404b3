"""The index, and the shape of every error."""

from __future__ import annotations

from rest_framework import serializers

from api.shown import Verbatim, words


class Index(Verbatim):
    """What is here, and where to go."""

    name = words("The product.")
    group_name = words("The group that runs this server.")
    engine_version = words("What computes figures here.")
    region = serializers.IntegerField(help_text="ITU region of the group.")
    release = serializers.IntegerField(
        allow_null=True, help_text="Newest release of the evidence; null: none yet."
    )
    addresses = serializers.DictField(child=serializers.CharField(), help_text="Where to go from here.")


class ProblemError(Verbatim):
    """One thing wrong with one input."""

    field = words("The input at fault; null: none in particular.", nullable=True)
    code = words("Stable, dotted, lower case.")
    detail = words("What is wrong and what to do.")
    line = serializers.IntegerField(required=False, help_text="The line of the file at fault.")


class Problem(Verbatim):
    """RFC 9457 problem details."""

    type = words("Always `about:blank`: `code` tells problems apart.")
    title = words("Name of the status.")
    status = serializers.IntegerField()
    detail = words("What is wrong and what to do.")
    code = words("Stable, dotted, lower case.")
    errors = ProblemError(many=True)
