"""Text and borders of the stylesheet stand out from their ground in both looks (WCAG 2.2)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from measurements.pages.layout import rendering
from tests.charts.test_specifications import contrast

CSS = (Path(rendering.__file__).parents[1] / "static/benchnight.css").read_text(encoding="utf-8")
BLOCKS = re.findall(r"(:root[^{]*)\{([^{}]*)\}", CSS)


def colours(body: str) -> dict[str, str]:
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", body))


LIGHT = colours(next(body for selector, body in BLOCKS if selector.strip() == ":root"))
DARK = {**LIGHT, **colours(next(body for selector, body in BLOCKS if '"dark"' in selector))}

# 1.4.3: text needs 4.5; 1.4.11: edges and focus need 3
PAIRS = [
    *((text, ground, 4.5) for text in ("ink", "faint", "link") for ground in ("ground", "card")),
    *((said, f"{said}-ground", 4.5) for said in ("meets", "mixed", "short", "few")),
    *((said, "card", 4.5) for said in ("meets", "mixed", "short", "few")),
    *(("ink", f"{said}-ground", 4.5) for said in ("meets", "mixed", "short", "few")),
    ("night-ink", "night", 4.5),
    ("night-faint", "night", 4.5),
    ("lamp-ink", "lamp", 4.5),
    ("tip-ink", "tip", 4.5),
    ("edge", "card", 3),
    ("edge", "ground", 3),
    ("focus", "ground", 3),
    ("focus", "card", 3),
]


@pytest.mark.parametrize("tone", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(("front", "back", "least"), PAIRS, ids=lambda value: str(value))
def test_contrast(tone: dict[str, str], front: str, back: str, least: float):
    assert contrast(tone[front], tone[back]) >= least


def test_the_dark_look_is_the_same_chosen_or_given_by_the_system():
    given, chosen = (
        found for selector, body in BLOCKS if "data-look" in selector and (found := colours(body))
    )
    assert given == chosen
