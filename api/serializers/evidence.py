"""Evidence as it is shown: aggregates, the same columns to members and to the public."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    CountField,
    RowSerializer,
    TextField,
    VerbatimSerializer,
    moment_field,
    number_field,
    text_field,
)
from api.http.paging import PageQuery
from measurements.disclosure.evidence_records import RECIPE_COLUMNS
from measurements.verdict.decision_rule import VERDICTS
from measurements.verdict.judged_kinds import EVIDENCE_KINDS


class HistogramBin(VerbatimSerializer):
    """Devices with a figure from `from` on and below `to`; at least three people stand behind it."""

    def get_fields(self) -> dict[str, serializers.Field]:
        # `from` is a word of the language
        return {
            "from": number_field("Lower edge; null: open."),
            "to": number_field("Upper edge; null: open."),
            "devices": CountField(help_text="Devices in it."),
        }


class _WorstFigures(VerbatimSerializer):
    """What the figures of all kinds have in common. All but the median are null below ten people."""

    median = number_field("Median.")
    p10 = number_field("10th percentile.")
    p25 = number_field("25th percentile.")
    p75 = number_field("75th percentile.")
    p90 = number_field("90th percentile.")


def _histogram_field() -> serializers.ListField:
    return serializers.ListField(
        child=HistogramBin(), allow_null=True, help_text="Bins of at least three people each."
    )


class WorstRejection(_WorstFigures):
    """Worst-in-band rejection over the devices, in whole dB below ten people and steps of 0.5 dB from ten on.

    All but the median are null below ten people.
    """

    tolerance_low = number_field("One-sided normal tolerance bound (90 % of devices, 90 % sure).")
    histogram = _histogram_field()


class WorstLoss(_WorstFigures):
    """Worst-in-band loss over the devices, in steps of 0.1 dB below ten people and 0.05 dB from ten on.

    All but the median are null below ten people.
    """

    tolerance_low = number_field("Always null: what counts of a loss is the upper bound.")
    tolerance_high = number_field("One-sided normal upper tolerance bound (90 % of devices, 90 % sure).")
    histogram = _histogram_field()


class WorstSwr(WorstLoss):
    """Worst-in-band SWR over the devices, in steps of 0.05 below ten people and 0.02 from ten on.

    All but the median are null below ten people.
    """


class JointEvidence(VerbatimSerializer):
    """What the current release supports for a design on several bands together."""

    band = text_field("Null: several bands together.", nullable=True)
    kind = serializers.ChoiceField(EVIDENCE_KINDS, help_text="Of the tests behind it.")
    benchmark_db = number_field("The benchmark it was held against; null but for `common_mode`.")
    limit = number_field("The largest loss, dB, or SWR that it was held against; null for `common_mode`.")
    chance = number_field(
        "Chance that a device newly built by somebody else passes: in tenths below ten contributors and for "
        "the public, else in hundredths. Null below ten at another benchmark than the group's."
    )
    verdict = serializers.ChoiceField(
        VERDICTS,
        allow_null=True,
        help_text="By the chance: it meets from 0.8 on and falls short to 0.2. Null below ten people at "
        "another benchmark than the group's; `reason` says so.",
    )
    reason = text_field("Why there is no verdict; null where there is one.", nullable=True)
    devices = CountField(
        allow_null=True,
        help_text="Devices that vote: a number for members, `5-9` and the like for the public.",
    )
    contributors = CountField(allow_null=True, help_text="Distinct owners of them.")
    passing = CountField(
        allow_null=True,
        help_text="Devices that meet the benchmark in the whole band; from ten people on, members only.",
    )
    share = number_field("passing / devices, from ten people on; in tenths for the public.")
    share_low = number_field("Lower Wilson bound of it, one-sided 90 %.")
    share_high = number_field("Upper Wilson bound of it, one-sided 90 %.")
    rejection_db = WorstRejection(required=False, help_text="Of `common_mode`.")
    loss_db = WorstLoss(required=False, help_text="Of `insertion_loss`.")
    swr = WorstSwr(required=False, help_text="Of `load_match`.")


class BandEvidence(JointEvidence):
    """What the current release supports for a design on a band."""

    band = text_field("Its name, such as `40m`.")


class EvidenceRecordsQuery(PageQuery):
    design = TextField(required=False, max_length=32, help_text="Only this design.")
    kind = serializers.ChoiceField(EVIDENCE_KINDS, required=False, help_text="Only this kind of test.")
    pool = serializers.ChoiceField(
        ("1",), required=False, help_text="Of many groups: leads to `pool/evidence/`."
    )


class EvidenceRecord(BandEvidence):
    """A design on a band by one kind of test: its recipe, and what its reader may see of it.

    No row is of a single device. It has the metric of its kind; those of the other kinds are null.
    """

    is_exact = True

    rejection_db = WorstRejection(allow_null=True, help_text="Of `common_mode`.")
    loss_db = WorstLoss(allow_null=True, help_text="Of `insertion_loss`.")
    swr = WorstSwr(allow_null=True, help_text="Of `load_match`.")

    release = serializers.IntegerField(help_text="Number of the release.")
    quarter = text_field("Quarter of the release, `YYYY-Qn`.")
    design = text_field("Key of the design.")
    title = text_field("Its recipe in one line.")
    purpose = text_field("See the recipe.")
    principle = text_field("See the recipe.")
    ratio = text_field("Impedance ratio, such as `4:1`.")
    mix = text_field("Ferrite material; several are joined by `+`.")
    core_part = text_field("The maker's part number, else shape and size; several are joined by `+`.")
    cores = serializers.IntegerField(help_text="Cores or stacks beside each other.")
    stacked = serializers.IntegerField(help_text="Cores on top of each other.")
    turns = serializers.IntegerField(help_text="Passes through the core.")
    style = text_field("How it is wound.")
    conductor = text_field("A name from `conductors/`, or `other`.")

    def get_fields(self) -> dict[str, serializers.Field]:
        """Put the fields in the order of the columns of the release's files."""
        fields = super().get_fields()
        first = ("release", "quarter", "design", "title", *RECIPE_COLUMNS)
        return {name: fields[name] for name in (*first, *(each for each in fields if each not in first))}


# Numbered releases of the evidence.


class ReleaseFile(VerbatimSerializer):
    """A file that was made with the release, for members or for the public."""

    name = text_field("File name.")
    circle = text_field("Who may have it: `public` or `members`.")
    media_type = text_field("Its type.")
    size = serializers.IntegerField(help_text="Bytes.")
    sha256 = text_field("SHA-256 of its bytes, in hexadecimal.")
    address = text_field("Where to get it.")


class Release(RowSerializer):
    """A numbered, unchanging publication of the evidence."""

    number = serializers.IntegerField()
    made_at = moment_field()
    quarter = text_field("The quarter it was made in, `YYYY-Qn`.")
    engine_version = text_field("What computed its figures.")
    region = serializers.IntegerField(help_text="ITU region of its band plan.")
    thresholds = serializers.DictField(help_text="The disclosure thresholds it was made under.")
    counts = serializers.DictField(help_text="What it holds, in numbers.")
    content_sha256 = text_field("SHA-256 of its content, in hexadecimal.")
    files = ReleaseFile(many=True, help_text="Its files, as far as the reader may have them.")
