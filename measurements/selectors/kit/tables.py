"""Kit as a table: own devices and the group's, filtered, counted, by page, and with all columns as CSV."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import Device, KitChange, Loan
from measurements.selectors.devices import devices, owners

PAGE_SIZE = 50
MOST_KEYS = 2000
COLUMNS = (
    "id",
    "owner",
    "tag",
    "design",
    "kind",
    "ratio",
    "make",
    "origin",
    "built_on",
    "place",
    "retired_on",
    "notes",
    "lent_to",
    "lent_on",
)


@dataclass(frozen=True)
class KitFilter:
    """Filters. owner: "mine", "group" or empty for both. place: exactly this one; None for all."""

    text: str = ""
    owner: str = ""
    place: str | None = None
    retired: bool = False


@dataclass(frozen=True)
class KitPage:
    """rows: column -> value. total: of all pages. places: place -> how many, before the filter by place."""

    rows: tuple[dict[str, Any], ...]
    total: int
    pages: int
    places: tuple[tuple[str, int], ...]


def list_kit(viewer: Viewer, wanted: KitFilter, *, page: int = 1) -> KitPage:
    """Return a page of the table, by place and tag; pages count from 1."""
    policy.check_signed_in(viewer)
    found = _filter_kit(viewer, wanted)
    total = found.count()
    first = (max(1, page) - 1) * PAGE_SIZE
    every = _filter_kit(viewer, KitFilter(wanted.text, wanted.owner, None, wanted.retired))
    places = every.order_by("place").values_list("place").annotate(n=Count("pk"))
    return KitPage(
        tuple(_build_row(device) for device in found[first : first + PAGE_SIZE]),
        total,
        max(1, -(-total // PAGE_SIZE)),
        tuple(places),
    )


def list_kit_keys(viewer: Viewer, wanted: KitFilter) -> tuple[str, ...]:
    """Return the devices that fit, for a step over all of them; at most 2000."""
    policy.check_signed_in(viewer)
    return tuple(_filter_kit(viewer, wanted).values_list("key", flat=True)[:MOST_KEYS])


def iterate_kit(viewer: Viewer, wanted: KitFilter) -> Iterator[dict[str, Any]]:
    """Yield every row, column by column, as `services.kit.kit_csv` reads it back."""
    policy.check_signed_in(viewer)
    return (_build_row(device) for device in _filter_kit(viewer, wanted).iterator(chunk_size=500))


def get_last_change(viewer: Viewer) -> tuple[str, int] | None:
    """Return key and number of devices of the viewer's last step, while it can be undone."""
    policy.check_signed_in(viewer)
    last = (
        KitChange.objects.filter(made_by=viewer.member_id).annotate(n=Count("rows")).order_by("-pk").first()
    )
    return None if last is None or last.undone_at is not None or not last.n else (last.key, last.n)


def _filter_kit(viewer: Viewer, wanted: KitFilter) -> QuerySet[Device]:
    loan = Loan.objects.filter(device=OuterRef("pk"), returned_on=None)
    rows = Device.objects.filter(owners.build_owner_filter(viewer)).annotate(
        lent_to=Subquery(loan.values("borrower")[:1]), lent_on=Subquery(loan.values("lent_on")[:1])
    )
    if wanted.owner:
        rows = rows.filter(contributor__is_group=wanted.owner == "group")
    if not wanted.retired:
        rows = rows.filter(retired_on=None)
    if wanted.place is not None:
        rows = rows.filter(place=wanted.place)
    if wanted.text:
        texts = ("tag", "place", "kind", "make", "design__title", "lent_to")
        matches = (Q(**{f"{name}__icontains": wanted.text}) for name in texts)
        rows = rows.filter(*[_join(matches)])
    return rows.select_related("design", "contributor__member").order_by("place", "tag", "pk")


def _join(matches: Iterator[Q]) -> Q:
    found = Q()
    for match in matches:
        found |= match
    return found


def _build_row(device: Device) -> dict[str, Any]:
    row = {name: getattr(device, name) for name in COLUMNS if name not in ("id", "owner", "design")}
    return {
        "id": device.key,
        "owner": devices.format_owner_name(device.contributor),
        **row,
        "design": None if device.design is None else device.design.key,
        "design_title": owners.format_build(device),
    }
