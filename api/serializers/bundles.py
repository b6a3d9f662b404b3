"""Bundles between servers: what is sent, and how far an import has come."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import RowSerializer, StrictSerializer, key_field, text_field
from api.serializers.nights import INTAKE_STATES


class BundleForm(StrictSerializer):
    """A bundle of a server whose key this one trusts."""

    bundle = serializers.FileField(help_text="The zip as `nights/{id}/bundle/` or a command made it.")
    apply = serializers.ChoiceField(
        ("true", "false"), required=False, help_text="false: only show what would change."
    )


class BundleImport(RowSerializer):
    """A bundle that was sent, shown or applied as a whole."""

    id = key_field()
    made_at = serializers.DateTimeField()
    state = serializers.ChoiceField(INTAKE_STATES)
    applied = serializers.BooleanField(help_text="Whether it was applied, not only shown.")
    new = serializers.IntegerField(help_text="Rows that were not here.")
    changed = serializers.IntegerField(help_text="Rows that the other server edited.")
    unchanged = serializers.IntegerField(
        help_text="Rows that are neither new nor changed nor in conflict; they stay as they are here."
    )
    conflicts = serializers.IntegerField(
        help_text="Rows that both sides edited, or that could not be taken; this server's values stay."
    )
    lines = serializers.ListField(
        child=serializers.CharField(), help_text="A sentence for each row that is not as it was."
    )
    unlisted = serializers.IntegerField(help_text="How many more lines there are.")
    refused = text_field("Why nothing of it was taken.", nullable=True)
