"""Evidence as it is shown: aggregates to the public, identity-free rows to members."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import CountField, RowSerializer, TextField, VerbatimSerializer, number_field, text_field
from api.http.paging import PageQuery
from measurements.verdict.decision_rule import VERDICTS


class WorstRejection(VerbatimSerializer):
    """Worst-in-band rejection over the devices; all null under too few devices."""

    median = number_field("Median.")
    p10 = number_field("10th percentile; members only.")
    p90 = number_field("90th percentile; members only.")
    tolerance_low = number_field(
        "One-sided normal tolerance bound (90 % of devices, 90 % sure), from five devices on."
    )


class JointEvidence(VerbatimSerializer):
    """What the current release supports for a design on several bands together."""

    band = text_field("Null: several bands together.", nullable=True)
    benchmark_db = number_field("The benchmark it was held against.", nullable=False)
    chance = number_field(
        "Chance that a device newly built by somebody else passes: in tenths below ten contributors and for "
        "the public, else in hundredths. Null below ten at another benchmark than the group's."
    )
    verdict = serializers.ChoiceField(
        VERDICTS, help_text="By the chance: it meets from 0.8 on and falls short to 0.2."
    )
    devices = CountField(
        allow_null=True,
        help_text="Devices that vote: a number for members, `5-9` and the like for the public.",
    )
    contributors = CountField(allow_null=True, help_text="Distinct owners of them.")
    passing = CountField(allow_null=True, help_text="Devices that meet the benchmark in the whole band.")
    share = number_field("passing / devices; members only.")
    share_low = number_field("Lower Wilson bound of it, one-sided 90 %; members only.")
    share_high = number_field("Upper Wilson bound of it, one-sided 90 %; members only.")
    rejection_db = WorstRejection()


class BandEvidence(JointEvidence):
    """What the current release supports for a design on a band."""

    band = text_field("Its name, such as `40m`.")


class EvidenceRowsQuery(PageQuery):
    design = TextField(required=False, max_length=32, help_text="Only this design.")


class EvidenceRow(RowSerializer):
    """One device's figures on one band. `id` and `sample` are random and new in every release."""

    id = serializers.CharField(help_text="Random, new in every release.")
    sample = serializers.CharField(help_text="The same for all rows of one device within a release.")
    design = serializers.CharField()
    month = serializers.CharField(help_text="Month of the measurement, `YYYY-MM`.")
    band = serializers.CharField()
    coverage = serializers.CharField(help_text="`full` or `interpolated`.")
    rejection_worst_db = number_field("Worst in the band.", nullable=False)
    rejection_centre_db = number_field("At the centre of the band.", nullable=False)
    rejection_best_db = number_field("Best in the band.", nullable=False)
    resistance_smallest_ohm = number_field("Smallest series resistance in the band.")
    impedance_smallest_ohm = number_field("Smallest series impedance in the band.")
    self_resonance_hz = number_field("Where the reactance passes through zero, over the whole sweep.")


class EvidenceAggregate(VerbatimSerializer):
    """What the public sees of a design: one rounded object per band, no rows."""

    design = serializers.CharField()
    title = serializers.CharField()
    bands = BandEvidence(many=True)


# Numbered releases of the evidence.


class ReleaseFile(VerbatimSerializer):
    """A file that was made with the release; members have rows, the public aggregates."""

    name = text_field("File name.")
    circle = text_field("Who may have it: `public` or `members`.")
    media_type = text_field("Its type.")
    size = serializers.IntegerField(help_text="Bytes.")
    sha256 = text_field("SHA-256 of its bytes, in hexadecimal.")
    address = text_field("Where to get it.")


class Release(RowSerializer):
    """A numbered, unchanging publication of the evidence."""

    number = serializers.IntegerField()
    made_at = serializers.DateTimeField()
    engine_version = text_field("What computed its figures.")
    region = serializers.IntegerField(help_text="ITU region of its band plan.")
    thresholds = serializers.DictField(help_text="The disclosure thresholds it was made under.")
    counts = serializers.DictField(help_text="What it holds, in numbers.")
    content_sha256 = text_field("SHA-256 of its content, in hexadecimal.")
    files = ReleaseFile(many=True, help_text="Its files, as far as the reader may have them.")
