"""Evidence as it is shown: aggregates to the public, identity-free rows to members."""

from __future__ import annotations

from rest_framework import serializers

from api.paging import PageQuery
from api.shown import Count, Shown, Verbatim, number, words
from api.strict import Text
from measurements.verdict.rule import VERDICTS


class WorstRejection(Verbatim):
    """Worst-in-band rejection over the devices; all null under too few devices."""

    median = number("Median.")
    p10 = number("10th percentile; members only.")
    p90 = number("90th percentile; members only.")
    tolerance_low = number(
        "One-sided normal tolerance bound (90 % of devices, 90 % sure), from five devices on."
    )


class JointEvidence(Verbatim):
    """What the current release supports for a design on several bands together."""

    band = words("Null: several bands together.", nullable=True)
    benchmark_db = number("The benchmark it was held against.", nullable=False)
    verdict = serializers.ChoiceField(VERDICTS)
    devices = Count(
        allow_null=True,
        help_text="Devices that vote: a number for members, `5-9` and the like for the public.",
    )
    contributors = Count(allow_null=True, help_text="Distinct owners of them.")
    passing = Count(allow_null=True, help_text="Devices that meet the benchmark in the whole band.")
    share = number("passing / devices; members only.")
    share_low = number("Lower Wilson bound of it, one-sided 90 %; members only.")
    share_high = number("Upper Wilson bound of it, one-sided 90 %; members only.")
    rejection_db = WorstRejection()


class BandEvidence(JointEvidence):
    """What the current release supports for a design on a band."""

    band = words("Its name, such as `40m`.")


class EvidenceRowsQuery(PageQuery):
    design = Text(required=False, max_length=32, help_text="Only this design.")


class EvidenceRow(Shown):
    """One device's figures on one band. `id` and `sample` are random and new in every release."""

    id = serializers.CharField(help_text="Random, new in every release.")
    sample = serializers.CharField(help_text="The same for all rows of one device within a release.")
    design = serializers.CharField()
    month = serializers.CharField(help_text="Month of the measurement, `YYYY-MM`.")
    band = serializers.CharField()
    coverage = serializers.CharField(help_text="`full` or `interpolated`.")
    rejection_worst_db = number("Worst in the band.", nullable=False)
    rejection_centre_db = number("At the centre of the band.", nullable=False)
    rejection_best_db = number("Best in the band.", nullable=False)
    resistance_smallest_ohm = number("Smallest series resistance in the band.")
    impedance_smallest_ohm = number("Smallest series impedance in the band.")
    self_resonance_hz = number("Where the reactance passes through zero, over the whole sweep.")


class EvidenceAggregate(Verbatim):
    """What the public sees of a design: one rounded object per band, no rows."""

    design = serializers.CharField()
    title = serializers.CharField()
    bands = BandEvidence(many=True)
