"""What stewards send and read when they say who of a night's list is a person."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import StrictSerializer, TextField, VerbatimSerializer
from measurements.services.nights.guests import MOST_ATTENDEES

KEY_LENGTH = 12


class ConfirmInput(StrictSerializer):
    """Which guests came."""

    contributors = serializers.ListField(
        child=TextField(max_length=KEY_LENGTH),
        required=False,
        allow_empty=False,
        max_length=MOST_ATTENDEES,
        help_text="`id` of each, as `contributors` of the night has it; the whole list where it is left out.",
    )


class AttendeesConfirmed(VerbatimSerializer):
    """How many were confirmed now."""

    confirmed = serializers.IntegerField(help_text="Guests whom nobody had confirmed before.")


class JoinInput(StrictSerializer):
    """Two of a night's list who are one person."""

    first = TextField(max_length=KEY_LENGTH, help_text="`id` on the night's list.")
    second = TextField(max_length=KEY_LENGTH, help_text="`id` on the night's list.")
