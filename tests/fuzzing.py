"""How many cases a fuzz test tries: a sample in every run, all of them in `deploy/check --long`."""

from __future__ import annotations

import os

from hypothesis import settings

LONG = os.environ.get("BENCHNIGHT_LONG") == "1"
SAMPLE = 20  # every twentieth case in a usual run
FEWEST = 50


def try_cases(count: int) -> settings:
    """Build the settings of a fuzz test that tries `count` cases when there is time for all of them."""
    return settings(max_examples=count if LONG else max(count // SAMPLE, FEWEST), deadline=None)
