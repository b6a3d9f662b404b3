"""Check standards: their charts, offsets of benches, and the tests that they hold back."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.http.fields import RowSerializer, StrictSerializer, key_field, moment_field, number_field, text_field
from measurements.selectors.check_standards.check_standards import STATES
from measurements.services.uploads.uploads import KINDS

ENDED_HOW = ("", "in_control", "swept_again", "decision")
FIGURES = ("rejection_db", "swr", "loss_db")


class CheckStandardInput(StrictSerializer):
    """A device that becomes the group's check standard."""

    device = serializers.CharField(max_length=32, help_text="Key of an own device; a steward's of any.")
    counts_from = serializers.DateField(
        required=False, allow_null=True, help_text="Its sweeps count from that day on; all of them without."
    )


class CheckDecision(StrictSerializer):
    """Why tests count although the check standard was out of control."""

    reason = serializers.CharField(help_text="Operators and stewards of the group read it.")


class CheckPoint(RowSerializer):
    """A sweep on one band, in the unit of the chart's figure."""

    on = serializers.DateField(help_text="The day of the measurement.")
    value = number_field("At the centre of the band.")
    low = number_field("What it was held against: at least; null before there were limits.")
    high = number_field("At most.")
    outside = serializers.BooleanField(help_text="Whether it left the limits.")


class CheckBand(RowSerializer):
    """A band of a chart, in the unit of the chart's figure."""

    band = text_field("Its name.")
    sessions = serializers.IntegerField(help_text="How many sessions the limits rest on.")
    mean = number_field("Of those sessions; null before there are enough.")
    three_s = number_field("Three standard deviations, with the usual spread joined in.")
    low = number_field("Limit for the next sweep.")
    high = number_field("Limit for the next sweep.")
    points = CheckPoint(many=True, help_text="Every sweep in its order.")


class CheckChart(RowSerializer):
    """The chart of one kind and method at one bench: an analyser with a jig."""

    kind = serializers.ChoiceField(KINDS)
    method = text_field("The method used.")
    figure = serializers.ChoiceField(FIGURES, help_text="What is charted; its name carries the unit.")
    analyser = text_field("As the nights name it; may be empty.")
    jig = text_field("As the nights name it; may be empty.")
    account = text_field("Whose own bench, outside nights; else empty.")
    state = serializers.ChoiceField(STATES, help_text="Of the last sweep.")
    sessions = serializers.IntegerField(help_text="Nights or days with a sweep that is believed.")
    least_sessions = serializers.IntegerField(help_text="How many it takes before a sweep is judged.")
    bands = CheckBand(many=True)


class OffsetBand(serializers.Serializer):
    """What one bench reads above another on a band."""

    band = text_field("Its name.")
    difference = number_field("In the unit of the figure.", nullable=False)
    u = number_field("Expanded uncertainty (95 %).", nullable=False)

    def to_representation(self, instance: Any) -> Any:
        return dict(zip(("band", "difference", "u"), instance, strict=True))


class BenchOffset(RowSerializer):
    """What a bench reads above the reference bench, from the same device carried between them."""

    kind = serializers.ChoiceField(KINDS)
    method = text_field("The method used.")
    figure = serializers.ChoiceField(FIGURES)
    bench = text_field("In words.")
    reference = text_field("In words.")
    sessions = serializers.IntegerField()
    reference_sessions = serializers.IntegerField()
    bands = OffsetBand(many=True)


class BandOutside(RowSerializer):
    """A band that left its limits."""

    band = text_field("Its name.")
    value = number_field("What was read.", nullable=False)
    mean = number_field("What is usual.", nullable=False)
    low = number_field("At least.", nullable=False)
    high = number_field("At most.", nullable=False)


class CheckHold(RowSerializer):
    """A sweep of a check standard that was out of control; tests of its session wait while it is open."""

    id = key_field()
    check_standard = serializers.CharField(source="standard", allow_null=True, help_text="Its key.")
    kind = serializers.ChoiceField(KINDS)
    method = text_field("The method used.")
    night = text_field("Key of the night; null outside nights.", nullable=True)
    measured_on = serializers.DateField()
    bands = BandOutside(many=True)
    sentence = text_field("The same in words.")
    advice = text_field("What to look at.")
    tests = serializers.IntegerField(help_text="Tests of that night or day.")
    open = serializers.BooleanField(help_text="Whether they wait.")
    ended_at = moment_field(nullable=True)
    ended_how = serializers.ChoiceField(ENDED_HOW, help_text="Empty while they wait.")
    ended_by = text_field("Who decided; empty where nobody did.")
    reason = text_field("Of a decision; may be empty.")


class CheckStandardListed(RowSerializer):
    """A check standard in a list."""

    id = key_field()
    device = text_field("Key of the device.")
    tag = text_field("What is written on it.")
    design_title = text_field("Readable form of its recipe.")
    marked_at = moment_field()
    counts_from = serializers.DateField(allow_null=True)
    ended_at = moment_field(nullable=True)
    state = serializers.ChoiceField(STATES, help_text="Of its last sweep.")


class CheckStandard(CheckStandardListed):
    """A check standard with its charts, the offsets of its benches and what it held back."""

    charts = CheckChart(many=True)
    offsets = BenchOffset(many=True)
    holds = CheckHold(many=True)
