"""The switch of the frequency axis: two links that keep the rest of the address, so it needs no script."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest

from measurements.charts.frequency_axis import SCALES, Scale

WORDS: dict[Scale, str] = {"log": "logarithmic", "linear": "linear"}


@dataclass(frozen=True)
class Choice:
    """One of the two; `address` is relative to the page."""

    word: str
    address: str
    chosen: bool


def choices(request: HttpRequest, now: Scale) -> list[Choice]:
    """Both scales; the usual one leaves no word in the address."""
    found = []
    for scale in SCALES:
        asked = request.GET.copy()
        asked.pop("scale", None)
        if scale != SCALES[0]:
            asked["scale"] = scale
        found.append(Choice(WORDS[scale], f"?{asked.urlencode()}#charts", scale == now))
    return found


def word(now: Scale) -> str:
    """The end of a chart's address that asks for this scale."""
    return "" if now == SCALES[0] else f"&scale={now}"
