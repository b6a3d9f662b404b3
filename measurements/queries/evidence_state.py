"""What a table of the whole evidence is made of, so that it can be told unchanged without being read."""

from __future__ import annotations

import hashlib
from dataclasses import astuple

from measurements.disclosure.circles import Viewer, circle
from measurements.models import Design, Release, group
from measurements.queries import reference
from measurements.rf.engine import ENGINE_VERSION


def of(viewer: Viewer) -> tuple[str, ...]:
    """Texts that are equal as long as the viewer's circle would be shown the same rows.

    A release is known by its number and its salt: a restored database may hold another one of that number.
    They are secrets of the server: hash them under a key before they leave it.
    """
    number, salt = Release.objects.order_by("-number").values_list("number", "salt").first() or (0, b"")
    state = (
        circle(viewer),
        ENGINE_VERSION,
        str(number),
        bytes(salt).hex(),
    )  # cells change with releases only
    return state if circle(viewer) == "members" else (*state, *_of_the_public())


def _of_the_public() -> tuple[str, ...]:
    """Aggregates are judged anew: by today's thresholds, benchmark, band plan and list of designs."""
    designs = hashlib.sha256()
    for row in Design.objects.order_by("pk").values_list("key", "title", "merged_into").iterator():
        designs.update(repr(row).encode())
    bands = ",".join(band.band for band in reference.bands())
    thresholds = map(str, astuple(group.thresholds()))
    return (designs.hexdigest(), bands, str(reference.benchmark_db()), *thresholds)
