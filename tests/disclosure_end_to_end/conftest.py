"""The planted group, and what each reader gets to see of it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests import scenes
from tests.disclosure_end_to_end import planted_group, site_reader

Seen = Callable[[str], site_reader.Reading]


def build_group_without_readings() -> tuple[planted_group.Planted, dict[str, site_reader.Reading]]:
    """Build the group, with room for what its readers get to see."""
    return planted_group.build(), {}


planted_scene = scenes.share("planted_scene", build_group_without_readings)


@pytest.fixture
def planted(planted_scene, db, settings) -> planted_group.Planted:
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_TOKEN_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1_000_000
    return planted_scene[0]


@pytest.fixture
def seen(planted_scene, planted: planted_group.Planted) -> Seen:
    """What a reader gets to see of the group as it was built; read once a scene."""
    readings = planted_scene[1]

    def of(who: str) -> site_reader.Reading:
        if who not in readings:
            readings[who] = site_reader.everything(planted, who)
        return readings[who]

    return of
