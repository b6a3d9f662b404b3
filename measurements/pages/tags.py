"""Template filters, built in through the settings: numbers and sizes in words."""

from __future__ import annotations

from django import template

from measurements.pages import faults, figures, words, words_of_upkeep
from measurements.pages.forms import assignment
from measurements.pages.guide import addresses

register = template.Library()
register.filter("mhz", figures.mhz)
register.filter("mhz_predicted", figures.mhz_predicted)
register.filter("mhz_start", figures.mhz_start)
register.filter("kilobytes", figures.kilobytes)
register.filter("short_figure", figures.short)
register.filter("plain_figure", figures.plain)
register.filter("change_figure", figures.change)
register.filter("change_meaning", words_of_upkeep.change_meaning)
register.filter("reason_words", assignment.in_words)
register.filter("percent", figures.percent)
register.filter("picofarad", figures.picofarad)
register.filter("nanohenry", figures.nanohenry)
register.filter("fields_at_fault", faults.at_fault)


@register.filter
def kind_words(kind: str) -> str:
    """A kind of test in words."""
    return words.KINDS.get(kind, kind)


@register.simple_tag
def guide_section(kind: str, method: str | None) -> str:
    """Address of the section of the guide about a kind and method."""
    return addresses.section(kind, method)


@register.inclusion_tag("parts/drawing.html")
def drawing(kind: str, method: str | None, role: str) -> dict[str, object]:
    """The drawing of one file, leading to its section of the guide."""
    return {"picture": addresses.picture(kind, method, role, href=addresses.section(kind, method))}
