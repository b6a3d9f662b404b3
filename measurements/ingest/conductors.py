"""Stewards add conductors to the list that recipes choose from."""

from __future__ import annotations

import re

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import audit, written
from measurements.ingest.band_plan import BY_GROUP
from measurements.ingest.problems import Faults
from measurements.ingest.recipe import OTHER_CONDUCTOR, squeezed
from measurements.models import Conductor

# names are published with recipes, so they are names of things: no sentence and no address fits in here
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 .,/()+-]{0,62}[A-Za-z0-9)]")
MOST_MM = 30.0


def add(*, by: Viewer, name: str, outer_mm: float | None, source: str, note: str = "") -> None:
    """Adds a conductor. outer_mm: over all insulation; None where no source gives it.

    Raises BenchnightError `conductor.invalid` with every fault, `conductor.known` where a name on the list
    differs in case, spaces or dashes only: a recipe would not tell them apart.
    """
    policy.check_steward(by)
    plain_name, plain_source = _checked(name, outer_mm, source)
    try:
        with transaction.atomic():
            known = [*Conductor.objects.values_list("name", flat=True), OTHER_CONDUCTOR]
            like = next((each for each in known if squeezed(each) == squeezed(plain_name)), None)
            if like is not None:
                raise _known(like)
            Conductor.objects.create(
                name=plain_name,
                outer_mm=outer_mm,
                source=plain_source,
                basis=BY_GROUP,
                as_of=timezone.now().date(),
                note=" ".join(note.split()),
            )
            audit.note(by=by, action="conductor.add", subject=plain_name)
    except IntegrityError:
        raise _known(plain_name) from None


def _known(name: str) -> BenchnightError:
    return BenchnightError(
        "conductor.known", f"The list has {name} already; recipes find it.", kind="conflict", field="name"
    )


def _checked(name: str, outer_mm: float | None, source: str) -> tuple[str, str]:
    faults = Faults("conductor.invalid", "Some fields of the conductor need mending; see the list.")
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
        plain_source = written.text(source, "source", "conductor.source", "Say where the figures are from.")
    except BenchnightError as error:
        faults.take(error)
    faults.raise_any()
    return plain_name, plain_source
