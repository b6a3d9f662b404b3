"""Judges devices that wait before a page lists them, as many as a reader may wait for."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Protocol, TypeVar

from measurements.disclosure.viewers import Viewer
from measurements.selectors.upkeep import kept_states
from measurements.services.upkeep import state_keeping

MOST_STEPS = (
    4  # of 100 devices each, or one of comparing repeats; the server judges the others within a minute
)


class Waits(Protocol):
    """A list that counts the devices in it which wait for being judged."""

    @property
    def waiting(self) -> int: ...


Listed = TypeVar("Listed", bound=Waits)


def read_renewed(viewer: Viewer, read: Callable[[], Listed]) -> Listed:
    """Return what `read` reads, after the viewer's waiting devices are judged, a bounded number of them."""
    found = read()
    if not found.waiting:
        return found
    judge = partial(kept_states.judge_waiting_devices, viewer)
    state_keeping.keep_waiting_states(judge, most_steps=MOST_STEPS)
    return read()
