"""What one may ask of a chart."""

from __future__ import annotations

from rest_framework import serializers

from api.serializers.designs import BenchmarkQuery
from api.strict import StrictSerializer
from measurements.charts.frequency_axis import SCALES


class ChartQuery(StrictSerializer):
    scale = serializers.ChoiceField(SCALES, default=SCALES[0], help_text="Of the frequency axis.")


class DesignChartQuery(ChartQuery, BenchmarkQuery):
    """Scale and benchmark."""
