"""The pool of groups: what this server is in one, envelopes between servers, and pooled evidence."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    RowSerializer,
    StrictSerializer,
    TextField,
    VerbatimSerializer,
    moment_field,
    number_field,
    text_field,
)
from api.http.paging import PageQuery
from measurements.verdict.decision_rule import VERDICTS


class PoolMessageForm(StrictSerializer):
    """An envelope of a group."""

    message = serializers.FileField(help_text="JSON: `key`, `content` (gzip, base64) and `signature`.")


class PoolMessage(VerbatimSerializer):
    """The keeper's signed reply."""

    key = text_field("The keeper's public key (Ed25519, RFC 8032), hexadecimal.")
    content = text_field("The reply: JSON, packed by gzip, in base64.")
    signature = text_field("Its signature, hexadecimal.")


class PoolCopy(RowSerializer):
    """The pooled release that this group shows."""

    number = serializers.IntegerField(help_text="Number of the pooled release.")
    made_at = moment_field()
    fetched_at = moment_field()
    groups = serializers.IntegerField(help_text="Groups in it.")
    designs = serializers.IntegerField(help_text="Designs in it.")


class PoolKept(RowSerializer):
    """The pool that this server keeps."""

    groups = serializers.IntegerField(help_text="Groups of the pool.")
    release = serializers.IntegerField(allow_null=True, help_text="Its newest pooled release.")


class Pool(RowSerializer):
    """What this server is in a pool of groups."""

    in_pool = serializers.BooleanField(help_text="Whether the group is in a pool.")
    release = PoolCopy(
        source="copy", allow_null=True, help_text="The pooled release that this group shows; null: none."
    )
    keeps = PoolKept(allow_null=True, help_text="The pool that this server keeps; null: none.")


class PooledEvidenceQuery(PageQuery):
    design = TextField(required=False, max_length=32, help_text="Only this design.")


class PooledFigures(VerbatimSerializer):
    """What the pool supports for a design on a band: everybody reads the same."""

    design = text_field("Key of the design here; null where this group does not list it.", nullable=True)
    recipe_sha256 = text_field("SHA-256 of the recipe's normal form.")
    title = text_field("Its recipe in one line.")
    kind = text_field("The kind of test.")
    band = text_field("Its name, such as `40m`.")
    limit = number_field("Benchmark, dB, or the limit of loss, dB, or of SWR.")
    chance = number_field("Chance that a device newly built by somebody else passes, in tenths.")
    verdict = serializers.ChoiceField(VERDICTS, help_text="By the chance, as in a group.")
    groups = serializers.IntegerField(help_text="Groups behind it; none counts for more than a third.")
    contributors = text_field("Persons, as a band of counts.")
    devices = text_field("Devices, as a band of counts.")
    median = number_field("Weighted median of the worst figure in the band.")
    p10 = number_field("10 % point, from ten people on.")
    p25 = number_field("25 % point, from ten people on.")
    p75 = number_field("75 % point, from ten people on.")
    p90 = number_field("90 % point, from ten people on.")
