"""What changed since the last release of all that decisions rest on: noted by triggers, read here.

A release looks at everything where notes may not tell all: now and then in any case, and after a change of
version or region. `release_check` compares both looks.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.db import connection

from measurements.models import Release, group_settings
from measurements.rf.analysis import ENGINE_VERSION

WHOLE_EVERY = 10  # releases, of which one looks at everything
MANY = 2000  # designs, with more of which a look at everything costs no more
# as migration 0012 puts them on; where one is missing or off, nothing is known
TRIGGERS = (
    "evidence_contributor_changed",
    "evidence_device_changed",
    "evidence_device_gone",
    "evidence_device_moved",
    "evidence_result_added",
    "evidence_result_changed",
    "evidence_result_gone",
    "evidence_test_added",
    "evidence_test_changed",
    "evidence_test_gone",
    "evidence_test_moved",
    "evidence_vote_changed",
)
_TABLE = "measurements_evidencechange"
# a device's design as it is now: where it moves meanwhile, both designs have a note of that
_DESIGNS = (
    "SELECT DISTINCT COALESCE(noted.design_id, device.design_id), noted.test_key, "
    "noted.design_id IS NULL AND noted.device_id IS NULL AND noted.test_key = '' "
    "FROM {noted} AS noted LEFT JOIN measurements_device AS device ON device.id = noted.device_id"
)
_TAKEN = "WITH gone AS (DELETE FROM {table} RETURNING design_id, device_id, test_key) {read}"


@dataclass(frozen=True)
class EvidenceChanges:
    """designs: of which something changed. tests: keys of tests that may be gone.

    everything: what changed is not known; the other two say nothing then.
    """

    designs: frozenset[int] = frozenset()
    tests: frozenset[str] = frozenset()
    everything: bool = False


EVERYTHING = EvidenceChanges(everything=True)


def take_noted_changes(newest: Release | None) -> EvidenceChanges:
    """What was noted, which is then no more: call inside the release's transaction, before it reads tests.

    What is written while it runs has a note that is still there for the next one.
    """
    if connection.vendor == "postgresql":
        # in one statement: a note that it has not read is not removed
        found = _read_changes(_TAKEN.format(table=_TABLE, read=_DESIGNS.format(noted="gone")))
    else:
        found = _read_changes(_DESIGNS.format(noted=_TABLE))
        with connection.cursor() as cursor:
            cursor.execute(f"DELETE FROM {_TABLE}")  # noqa: S608 our own name
    return EVERYTHING if _needs_full_look(newest) else found


def get_noted_changes(newest: Release | None) -> EvidenceChanges:
    """The same, and it stays."""
    found = _read_changes(_DESIGNS.format(noted=_TABLE))
    return EVERYTHING if _needs_full_look(newest) else found


def _read_changes(query: str) -> EvidenceChanges:
    with connection.cursor() as cursor:
        cursor.execute(query)
        rows = cursor.fetchall()
    designs = frozenset(design for design, _, _ in rows if design is not None)
    if len(designs) > MANY or any(unknown for _, _, unknown in rows):
        return EVERYTHING
    return EvidenceChanges(designs, frozenset(test for _, test, _ in rows if test))


def _needs_full_look(newest: Release | None) -> bool:
    return (
        newest is None
        or newest.number % WHOLE_EVERY == 0
        or (newest.engine_version, newest.region) != (ENGINE_VERSION, group_settings.get_region())
        or not _triggers_are_on()
    )


def _triggers_are_on() -> bool:
    marks = ", ".join(["%s"] * len(TRIGGERS))
    there = (
        f"pg_trigger WHERE tgenabled IN ('O', 'A') AND tgname IN ({marks})"
        if connection.vendor == "postgresql"
        else f"sqlite_master WHERE type = 'trigger' AND name IN ({marks})"
    )
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT count(*) FROM {there}", TRIGGERS)  # noqa: S608 our own names
        return bool(cursor.fetchone()[0] == len(TRIGGERS))
