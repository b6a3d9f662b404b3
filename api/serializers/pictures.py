"""Pictures of devices, codes of guests' cards, and the stewards' queue: what is sent, what is shown."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    RowSerializer,
    StrictSerializer,
    TextField,
    VerbatimSerializer,
    key_field,
    moment_field,
    text_field,
)
from api.http.paging import PageQuery
from api.serializers.results import ResultFlag
from measurements.selectors.tests.review import REVIEW_STATES
from measurements.services.uploads.uploads import KINDS

DECISIONS = ("reviewed", "excluded", "included")
MOST_CODE, MOST_REASON = 64, 500


class PictureForm(StrictSerializer):
    """A picture of a device."""

    picture = serializers.FileField(help_text="JPEG, PNG or WebP; the server keeps only its pixels.")
    caption = serializers.CharField(required=False, help_text="What it shows.")


class Picture(RowSerializer):
    """A picture of a device; its bytes are at its own address."""

    id = key_field()
    device = text_field("Key of the device.")
    caption = text_field("May be empty.")
    width_px = serializers.IntegerField(help_text="Pixels across.")
    height_px = serializers.IntegerField(help_text="Pixels down.")
    added_at = moment_field()


class PictureQuery(StrictSerializer):
    """Which of the two stored sizes."""

    size = serializers.ChoiceField(
        ("full", "small"), required=False, default="full", help_text="Full size, or small for a list."
    )


class WatchedDesign(RowSerializer):
    """A design whose changes of verdict go into the private feed."""

    id = key_field()
    title = text_field("Readable form of its recipe.")
    watched_at = moment_field()


class ClaimInput(StrictSerializer):
    """The code of a guest's card."""

    code = TextField(max_length=MOST_CODE, help_text="As printed on the card of the night.")


class Claim(VerbatimSerializer):
    """What a code brought."""

    devices = serializers.IntegerField(help_text="Devices that are yours now.")


class ReviewQuery(PageQuery):
    """Which part of the queue."""

    state = serializers.ChoiceField(
        REVIEW_STATES,
        required=False,
        default="open",
        help_text="open: flagged and not looked at; excluded; reviewed: looked at and left as it is.",
    )


class Review(RowSerializer):
    """A test in the stewards' queue."""

    id = key_field()
    device = text_field("Key of the device.")
    device_tag = text_field("What is written on it.")
    design = text_field("Key of its design; null while its build is not known.", nullable=True)
    design_title = text_field("Readable form of its recipe.")
    owner = text_field("Name of the owner.")
    kind = serializers.ChoiceField(KINDS, help_text="Kind of the test.")
    method = text_field("The method used.", nullable=True)
    measured_on = serializers.DateField(help_text="Day of the measurement.")
    recorded_at = moment_field()
    flags = ResultFlag(many=True, help_text="Those that ask for a look.")
    counts = serializers.BooleanField(help_text="Whether it is evidence as it is now.")
    shares_bytes = serializers.BooleanField(help_text="Whether another contributor stored this file before.")
    excluded_reason = text_field("Why it is left out of evidence; may be empty.")
    excluded_at = moment_field(nullable=True)
    reviewed_at = moment_field(nullable=True)


class ReviewInput(StrictSerializer):
    """A steward's decision about a test."""

    decision = serializers.ChoiceField(
        DECISIONS, help_text="reviewed: left as it is; excluded: out of evidence; included: back in."
    )
    reason = TextField(
        required=False,
        allow_blank=True,
        default="",
        max_length=MOST_REASON,
        help_text="Of excluded: its owner reads it.",
    )
