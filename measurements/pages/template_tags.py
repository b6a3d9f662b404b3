"""Template filters, built in through the settings: numbers and sizes in words."""

from __future__ import annotations

from django import template

from measurements.pages.guide import contents
from measurements.pages.intakes import forms
from measurements.pages.layout import diagnosis_words, figures, form_handling, upkeep_wording, wording

register = template.Library()
register.filter("mhz", figures.format_mhz)
register.filter("mhz_predicted", figures.format_predicted_mhz)
register.filter("mhz_start", figures.format_band_start_mhz)
register.filter("kilobytes", figures.format_kilobytes)
register.filter("short_figure", figures.format_significant)
register.filter("plain_figure", figures.format_number)
register.filter("change_figure", figures.format_change)
register.filter("change_meaning", upkeep_wording.describe_change)
register.filter("reason_words", forms.translate_columns)
register.filter("percent", figures.format_percent)
register.filter("likelihood", diagnosis_words.format_likelihood)
register.filter("picofarad", figures.format_picofarad)
register.filter("nanohenry", figures.format_nanohenry)
register.filter("fields_at_fault", form_handling.list_invalid_fields)


@register.filter
def kind_words(kind: str) -> str:
    """Return a kind of test in words."""
    return wording.KINDS.get(kind, kind)


@register.simple_tag
def guide_section(kind: str, method: str | None) -> str:
    """Return address of the section of the guide about a kind and method."""
    return contents.get_section_url(kind, method)


@register.inclusion_tag("guide/parts/drawing.html")
def drawing(kind: str, method: str | None, role: str) -> dict[str, object]:
    """Return the drawing of one file, leading to its section of the guide."""
    return {
        "picture": contents.build_picture(kind, method, role, href=contents.get_section_url(kind, method))
    }
