"""The group that the tests of the API ask about; limits are out of the way."""

from __future__ import annotations

import pytest

from tests import scenes
from tests.api import scene as scene_module

api_scene = scenes.share("api_scene", scene_module.build)


@pytest.fixture
def scene(api_scene, db, settings) -> scene_module.Scene:
    """The group; what a test writes is undone after it. Limits are out of the way."""
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_TOKEN_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 1_000_000
    settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1_000_000
    return api_scene
