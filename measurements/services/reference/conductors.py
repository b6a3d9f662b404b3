"""Stewards add conductors to the list that recipes choose from."""

from __future__ import annotations

import re

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, ErrorCollector
from measurements.models import Conductor
from measurements.services.designs.recipes import OTHER_CONDUCTOR, squeeze_conductor_name
from measurements.services.operations import audit
from measurements.services.reference.band_plan import BY_GROUP

# names are published with recipes, so they are names of things: no sentence and no address fits in here
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 .,/()+-]{0,62}[A-Za-z0-9)]")
MOST_MM = 30.0


def add_conductor(*, by: Viewer, name: str, outer_mm: float | None, source: str, note: str = "") -> None:
    """Add a conductor. outer_mm: over all insulation; None where no source gives it.

    Raises BenchnightError `conductor.invalid` with every fault, `conductor.known` where a name on the list
    differs in case, spaces or dashes only: a recipe would not tell them apart.
    """
    policy.check_steward(by)
    plain_name, plain_source = _check_fields(name, outer_mm, source)
    try:
        with transaction.atomic():
            known = [*Conductor.objects.values_list("name", flat=True), OTHER_CONDUCTOR]
            like = next(
                (
                    each
                    for each in known
                    if squeeze_conductor_name(each) == squeeze_conductor_name(plain_name)
                ),
                None,
            )
            if like is not None:
                raise _build_known_error(like)
            Conductor.objects.create(
                name=plain_name,
                outer_mm=outer_mm,
                source=plain_source,
                basis=BY_GROUP,
                as_of=timezone.localdate(),
                note=" ".join(note.split()),
            )
            audit.record_action(by=by, action="conductor.add", subject=plain_name)
    except IntegrityError:
        raise _build_known_error(plain_name) from None


def _build_known_error(name: str) -> BenchnightError:
    return BenchnightError(
        "conductor.known", f"The list has {name} already; recipes find it.", kind="conflict", field="name"
    )


def _check_fields(name: str, outer_mm: float | None, source: str) -> tuple[str, str]:
    faults = ErrorCollector("conductor.invalid", "Some fields of the conductor need mending; see the list.")
    plain_name, plain_source = " ".join(name.split()), ""
    if not NAME.fullmatch(plain_name):
        faults.add(
            "name",
            "conductor.name",
            "Give its name in 2 to 64 letters, digits and . , / ( ) + - as the trade writes it.",
        )
    if outer_mm is not None and not 0.05 <= outer_mm <= MOST_MM:
        faults.add(
            "outer_mm", "conductor.outer_mm", f"Give a diameter from 0.05 to {MOST_MM:g} mm, or nothing."
        )
    try:
        plain_source = audit.parse_justification(
            source, "source", "conductor.source", "Say where the figures are from."
        )
    except BenchnightError as error:
        faults.take(error)
    faults.raise_any()
    return plain_name, plain_source
