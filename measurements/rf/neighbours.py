"""Which designs are most like a winding: thousands of them in one look."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .sweep import Floats
from .winding_terms import law_row
from .wound import Wound

OTHER_MIX, OTHER_KIND = 5.0, 2.0  # farther than any number of turns on the same mix; beads are no winding


class Neighbours:
    """Windings by key. A distance of 1 is about two turns of twelve on the same core (house choice)."""

    def __init__(self, wounds: Mapping[str, Wound]) -> None:
        self.keys = list(wounds)
        given = list(wounds.values())
        self._log_h: Floats = np.array([_log_h(each) for each in given])
        self._lie: Floats = np.array([law_row(each) for each in given])
        self._mix = np.array([each.mix for each in given])
        self._beads = np.array([each.beads for each in given], dtype=np.bool_)

    def nearest(self, wound: Wound, most: int = 1) -> list[tuple[str, float]]:
        """Keys and distances of the nearest, the likest first: inductance, then what the law sees."""
        if not self.keys:
            return []
        far = 2 * np.abs(self._log_h - _log_h(wound)) + np.abs(self._lie - law_row(wound)).sum(axis=1) / 4
        far = far + OTHER_MIX * (self._mix != wound.mix) + OTHER_KIND * (self._beads != wound.beads)
        order = np.argsort(far, kind="stable")[:most]
        return [(self.keys[index], float(far[index])) for index in order]


def _log_h(wound: Wound) -> float:
    return float(np.log(wound.l0_h / wound.lines))
