"""Learns from the newest release, for each circle from its own share, and keeps what was learned with the
release.

A new release deletes the models of the older ones (`forget`), because they know what people withdrew since;
until it has been learned from, predictions rest on the tables alone.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from measurements.disclosure.circles import Circle
from measurements.errors import BenchnightError
from measurements.ingest import learned_from
from measurements.ingest.analysis import band_plan
from measurements.models import LearnedModel, Release, group
from measurements.rf import learned, learning, validating
from measurements.rf.engine import ENGINE_VERSION
from measurements.rf.validating import Validation

CIRCLES: tuple[Circle, ...] = ("members", "public")
AT_ONCE = 60  # designs up to which learning also validates: a minute of computing at most


@dataclass(frozen=True)
class Taught:
    """What one circle's model was made of."""

    circle: Circle
    release: int
    designs: int
    devices: int
    validation: Validation | None


def learn(*, on: date | None = None) -> tuple[Taught, ...]:
    """Learns for both circles and stores it; in a small group it also validates.

    Raises BenchnightError `release.none` before the first release.
    """
    release = _newest()
    return tuple(_learn(release, circle, on) for circle in CIRCLES)


def learn_if_missing() -> tuple[Taught, ...]:
    """Learns where the newest release has no model of this engine; nothing where there is no release."""
    release = Release.objects.order_by("-number").first()
    if release is None:
        return ()
    there = LearnedModel.objects.filter(release=release, engine_version=ENGINE_VERSION).count()
    return () if there == len(CIRCLES) else learn()


def validate(*, on: date | None = None) -> dict[Circle, Validation]:
    """Leaves out one design after another, for each circle, and keeps the figures beside its model."""
    release = _newest()
    found: dict[Circle, Validation] = {}
    for circle in CIRCLES:
        model = LearnedModel.objects.filter(
            release=release, circle=circle, engine_version=ENGINE_VERSION
        ).first()
        if model is None:
            raise BenchnightError(
                "learning.none", "Nothing was learned from the newest release yet: run `manage.py learn`."
            )
        bands = band_plan(group.region(), on or timezone.now().date())
        heard = learned_from.of_circle(circle, bands)
        found[circle] = validating.validate(heard.tables, heard.evidence, heard.worst, bands)
        model.validation = _as_json(found[circle])
        model.save(update_fields=["validation"])
    return found


def forget() -> None:
    """Deletes every model: a new release is being made, and older ones know what people withdrew since."""
    LearnedModel.objects.all().delete()


def _learn(release: Release, circle: Circle, on: date | None) -> Taught:
    bands = band_plan(group.region(), on or timezone.now().date())
    heard = learned_from.of_circle(circle, bands)
    model = learning.learn(heard.tables, heard.evidence)
    validation = None
    if len(heard.evidence) <= AT_ONCE:
        validation = validating.validate(heard.tables, heard.evidence, heard.worst, bands)
    own = {"release": release, "circle": circle, "engine_version": ENGINE_VERSION}
    with transaction.atomic():
        LearnedModel.objects.filter(**own).delete()  # a new row, so that no process takes it for the old one
        LearnedModel.objects.create(
            **own,
            figures=learned.as_json(model),
            validation={} if validation is None else _as_json(validation),
        )
    devices = sum(each.devices for each in heard.evidence)
    return Taught(circle, release.number, len(heard.evidence), devices, validation)


def _newest() -> Release:
    release = Release.objects.order_by("-number").first()
    if release is None:
        raise BenchnightError("release.none", "There is no release yet: run `manage.py release` first.")
    return release


def _as_json(validation: Validation) -> dict[str, Any]:
    """JSON with four digits after the point."""
    return dict(_rounded(asdict(validation)))


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(each) for key, each in value.items()}
    return round(value, 4) if isinstance(value, float) else value
