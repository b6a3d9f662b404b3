"""Template filters, built in through the settings: numbers and sizes in words."""

from __future__ import annotations

from django import template

from measurements.pages import figures, words

register = template.Library()
register.filter("mhz", figures.mhz)
register.filter("mhz_start", figures.mhz_start)
register.filter("kilobytes", figures.kilobytes)
register.filter("short_figure", figures.short)
register.filter("plain_figure", figures.plain)


@register.filter
def kind_words(kind: str) -> str:
    """A kind of test in words."""
    return words.KINDS.get(kind, kind)
