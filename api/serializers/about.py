"""The index, and the shape of every error."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import VerbatimSerializer, text_field


class Index(VerbatimSerializer):
    """What is here, and where to go."""

    name = text_field("The product.")
    group_name = text_field("The group that runs this server.")
    engine_version = text_field("What computes figures here.")
    region = serializers.IntegerField(help_text="ITU region of the group.")
    demo = serializers.BooleanField(
        help_text="Whether invented people, devices and sweeps of the demo are here."
    )
    release = serializers.IntegerField(
        allow_null=True, help_text="Newest release of the evidence; null: none yet."
    )
    addresses = serializers.DictField(child=serializers.CharField(), help_text="Where to go from here.")


class ProblemError(VerbatimSerializer):
    """One thing wrong with one input."""

    field = text_field("The input at fault; null: none in particular.", nullable=True)
    code = text_field("Stable, dotted, lower case.")
    detail = text_field("What is wrong and what to do.")
    line = serializers.IntegerField(required=False, help_text="The line of the file at fault.")


class Problem(VerbatimSerializer):
    """RFC 9457 problem details."""

    type = text_field("Always `about:blank`: `code` tells problems apart.")
    title = text_field("Name of the status.")
    status = serializers.IntegerField()
    detail = text_field("What is wrong and what to do.")
    code = text_field("Stable, dotted, lower case.")
    errors = ProblemError(many=True)
