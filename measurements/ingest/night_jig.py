"""The jig of a night: swept once, used by every common-mode test of the night; what it is good for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from measurements.errors import BenchnightError
from measurements.ingest import analysis, limits, sweep_reading
from measurements.ingest.uploads import Upload
from measurements.models import Night, group
from measurements.rf import jig, jig_check


def figures_of(night: Night, uploads: Mapping[str, Upload]) -> dict[str, Any]:
    """What a jig is good for on the bands of the night's day, from its sweeps (`rf.jig_check.of_jig`).

    Raises BenchnightError `jig.nothing`, `jig.role`, `jig.mixed_up`, a faulty file with its line.
    """
    if not uploads:
        raise BenchnightError(
            "jig.nothing", f"Send at least one of: {', '.join(jig.ROLES)}.", field="jig_open"
        )
    for role in uploads:
        if role not in jig.ROLES:
            raise BenchnightError("jig.role", f"A jig has these sweeps: {', '.join(jig.ROLES)}.", field=role)
    sweeps = sweep_reading.by_role(uploads)
    bands = analysis.band_plan(group.region(), night.held_on)
    return jig_check.of_jig(sweeps, bands, limits.current().benchmark_db)
