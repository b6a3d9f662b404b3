"""Analysers that a member describes: what is sent, what is shown to their owner."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    RowSerializer,
    StrictSerializer,
    TextField,
    VerbatimSerializer,
    key_field,
    number_field,
    text_field,
)
from measurements.services.analysers.analysers import CHECK_ROLES, MOST_CALIBRATION, MOST_NAME

_STATED = {
    "reflection_residual": "Radius of residual directivity, source match and tracking, linear.",
    "port2_match_db": "Return loss of port 2 as a device sees it.",
    "drift_db": "Largest change since the calibration.",
    "noise": "Rms of one S-parameter, linear.",
    "resistor_percent": "Tolerance of the resistors used.",
}


class AnalyserInput(StrictSerializer):
    """An analyser as its owner describes it; null and what is left out keep the cautious default."""

    name = TextField(max_length=MOST_NAME, help_text="Your own name of it; nobody else reads it.")
    calibration = TextField(
        required=False, allow_blank=True, max_length=MOST_CALIBRATION, help_text="How, with what standards."
    )
    paths = serializers.ChoiceField(
        (1, 2), required=False, allow_null=True, help_text="1 drives port 1 alone, 2 drives both."
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        """Add the numbers of a description."""
        numbers = {
            name: serializers.FloatField(required=False, allow_null=True, help_text=text)
            for name, text in _STATED.items()
        }
        return {**super().get_fields(), **numbers}


class AnalyserDescription(VerbatimSerializer):
    """What a budget takes of an analyser; a field that nobody stated or measured is absent."""

    paths = serializers.IntegerField(required=False, help_text="1 or 2.")
    reflection_residual = number_field(_STATED["reflection_residual"], optional=True)
    port2_match_db = number_field(_STATED["port2_match_db"], optional=True)
    drift_db = number_field(_STATED["drift_db"], optional=True)
    noise = number_field(_STATED["noise"], optional=True)
    resistor_percent = number_field(_STATED["resistor_percent"], optional=True)


class AnalyserMeasured(VerbatimSerializer):
    """Bounds (95 %) that check sweeps showed, linear; null where they could not show a term."""

    directivity = number_field("Of port 1.", optional=True)
    source_match = number_field("Of port 1.", optional=True)
    reflection_tracking = number_field("Of port 1.", optional=True)
    reflection_sum = number_field(
        "Tracking and source match together, of an end without a line.", optional=True
    )
    port2_match = number_field("Of port 2, by S11 of the through.", optional=True)
    transmission_tracking = number_field("By S21 of the through.", optional=True)
    noise = number_field("Rms of one S-parameter.", optional=True)
    notes = serializers.ListField(
        child=serializers.CharField(),
        required=False,
        help_text="What the sweeps could not show, such as `load_by_construction`: a standard of the "
        "calibration reads perfect by construction.",
    )
    roles = serializers.ListField(child=serializers.CharField(), required=False, help_text="What was swept.")


class Analyser(RowSerializer):
    """A described analyser; its owner alone sees it."""

    id = key_field()
    name = text_field("Your own name of it.")
    calibration = text_field("May be empty.")
    stated = AnalyserDescription(help_text="As described.")
    measured = AnalyserMeasured(help_text="Empty before any check sweep.")
    description = AnalyserDescription(help_text="What budgets take: stated, with what was measured.")
    checked_on = serializers.DateField(allow_null=True)


class AnalyserChecks(StrictSerializer):
    """Up to three sweeps made right after a calibration; at least one."""

    line_end = serializers.ChoiceField(
        ("open", "short"), required=False, help_text="What ended `check_line`."
    )
    load_ohm = serializers.FloatField(
        required=False, min_value=25, max_value=100, help_text="The load of `check_load` by a meter."
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        """Add a file for each role."""
        files = {role: serializers.FileField(required=False) for role in CHECK_ROLES}
        return {**super().get_fields(), **files}
