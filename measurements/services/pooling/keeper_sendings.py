"""Takes what groups send: all or nothing, once, under the group's key, and none older than the last."""

from __future__ import annotations

import base64
import hashlib
import json
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from measurements.disclosure.pooled_records import RANGES, unpack_curve
from measurements.errors import BenchnightError
from measurements.models import KeptDesign, KeptGroup, KeptOffset, KeptRecord, KeptRelease, KeptSet
from measurements.services.bundles.row_schema import RECIPE_FORM
from measurements.services.designs import designs, recipe_titles, recipes
from measurements.services.designs.recipe_cores import ListedCore
from measurements.services.designs.recipes import Catalogue
from measurements.services.operations import audit
from measurements.services.pooling import envelopes, keeper_groups, sending_schema, sendings

MOST_DEVICES = 10  # of one person on one design; no group may set more
BATCH = 500


@dataclass(frozen=True)
class _Taken:
    new: int
    withdrawn: int
    unchanged: int


def take_sending(sealed: bytes) -> bytes:
    """Take a sending; answers a signed reply with its counts and what concerns this group alone.

    Raises BenchnightError of `open_envelope` and `check_sending`, `pool.unknown_group`, `pool.older`,
    `pool.recipe`, `pool.record`.
    """
    given = envelopes.open_envelope(sealed, envelopes.SENDING, is_heard=_is_of_pool)
    keeper_groups.check_for_this_keeper(given.content)
    sending_schema.check_sending(given.content)
    digest = sendings.hash_content(given.content)
    with transaction.atomic():
        group = KeptGroup.objects.select_for_update().filter(key=given.key, left_at=None).first()
        if group is None:
            raise envelopes.build_stranger_error()
        taken = _apply(group, given.content, digest)
        group.refresh_from_db()
        standing = _build_standing(group)
    content = {
        "form": 1,
        "number": group.last_number,
        "content_sha256": group.last_sha256,
        "new": taken.new,
        "withdrawn": taken.withdrawn,
        "unchanged": taken.unchanged,
        "standing": standing,
    }
    return envelopes.seal(content, envelopes.REPLY)


def _is_of_pool(key: str) -> bool:
    return KeptGroup.objects.filter(key=key, left_at=None).exists()


def _apply(group: KeptGroup, content: dict[str, Any], digest: str) -> _Taken:
    if digest == group.last_sha256:
        return _Taken(0, 0, len(content["votes"]))
    if content["number"] <= group.last_number:
        raise BenchnightError(
            "pool.older", "A newer sending of this group was taken already.", kind="conflict"
        )
    _check_records(content)
    kept = _keep_designs(content)
    taken = _keep_records(group, content["votes"], kept)
    _keep_sets(group, content["sets"], kept)
    KeptGroup.objects.filter(pk=group.pk).update(
        last_number=content["number"], last_sha256=digest, last_taken_at=timezone.now()
    )
    audit.record_action(
        by=None, action="pool.take", subject=group.key[:16], new=taken.new, gone=taken.withdrawn
    )
    return taken


def _check_records(content: dict[str, Any]) -> None:
    """Refuse figures that no bench gives, curves of another length, and a person with too many devices."""
    devices: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    persons: dict[tuple[str, str], str] = {}
    seen: set[str] = set()
    for row in content["votes"]:
        low, high = RANGES[row["kind"]]
        if not all(low <= figure <= high for figure in row["bands"].values()):
            raise _build_record_error(row, "has a figure that no bench gives")
        try:
            unpack_curve(base64.b64decode(row["curve"], validate=True), row["kind"])
        except ValueError as error:
            raise _build_record_error(row, "has a curve of another length") from error
        design = (row["recipe_sha256"], row["kind"])
        devices[*design, row["person"]].add(row["device"])
        if len(devices[*design, row["person"]]) > MOST_DEVICES:
            raise _build_record_error(row, "is of a person with too many devices of one design")
        if persons.setdefault((row["recipe_sha256"], row["device"]), row["person"]) != row["person"]:
            raise _build_record_error(row, "is of a device that another person has in it")
        if row["vote"] in seen or sending_schema.NOBODY in (row["person"], row["device"], row["vote"]):
            raise _build_record_error(row, "names its vote twice, or nobody")
        seen.add(row["vote"])


def _build_record_error(row: dict[str, Any], fault: str) -> BenchnightError:
    return BenchnightError("pool.record", f"The record {row['vote'][:8]} {fault}. Nothing was taken.")


def _keep_designs(content: dict[str, Any]) -> dict[str, KeptDesign]:
    """Keep the designs of a sending, new ones with a title made here; by the hash of their recipe."""
    rows = content["rows"]
    own = designs.get_catalogue()
    catalogue = Catalogue(
        cores=(*own.cores, *(ListedCore(each["key"], *_list_sizes(each)) for each in rows["cores"])),
        mixes=(*own.mixes, *rows["mixes"]),
        conductors=(*own.conductors, *rows["conductors"]),
        aliases=(),
    )
    wanted = [row["recipe_sha256"] for row in content["designs"]]
    found: dict[str, KeptDesign] = {}
    for start in range(0, len(wanted), BATCH):
        some = KeptDesign.objects.filter(recipe_sha256__in=wanted[start : start + BATCH])
        found.update({each.recipe_sha256: each for each in some})
    for row in content["designs"]:
        if row["recipe_sha256"] not in found:
            found[row["recipe_sha256"]] = _add_design(row, catalogue, rows)
    missing = {row["recipe_sha256"] for row in [*content["votes"], *content["sets"]]} - set(found)
    if missing:
        raise BenchnightError("pool.recipe", "A vote is of a design whose recipe is missing.")
    return found


def _list_sizes(core: dict[str, Any]) -> list[Any]:
    return [core[name] for name in ("shape", "mix", "outer_mm", "inner_mm", "height_mm")]


def _add_design(row: dict[str, Any], catalogue: Catalogue, rows: dict[str, Any]) -> KeptDesign:
    if row["recipe_form"] != RECIPE_FORM:
        raise BenchnightError(
            "pool.recipe", f"A recipe is in form {row['recipe_form']}; this keeper reads form {RECIPE_FORM}."
        )
    if recipes.hash_recipe(row["recipe"]) != row["recipe_sha256"]:
        raise BenchnightError("pool.recipe", "A recipe does not have the hash that it names.")
    try:
        recipes.normalise_recipe(row["recipe"], catalogue)  # no free text, and every field there
    except BenchnightError as error:
        raise BenchnightError(
            "pool.recipe", f"A recipe cannot be read: {error.errors[0].detail[:160]}"
        ) from error
    named = {core["part"] for core in row["recipe"]["cores"] if "part" in core}
    return KeptDesign.objects.create(
        recipe_sha256=row["recipe_sha256"],
        recipe_form=row["recipe_form"],
        recipe=row["recipe"],
        rows={"cores": [each for each in rows["cores"] if each["key"] in named]},
        title=recipe_titles.build_title(row["recipe"], catalogue.sizes_mm),
    )


def _keep_records(group: KeptGroup, votes: list[dict[str, Any]], kept: dict[str, KeptDesign]) -> _Taken:
    known = {row.vote: row for row in KeptRecord.objects.filter(group=group)}
    fresh, changed, unchanged = [], [], 0
    for given in votes:
        row = known.get(given["vote"]) or KeptRecord(group=group, vote=given["vote"])
        values = {
            "design_id": kept[given["recipe_sha256"]].pk,
            "kind": given["kind"],
            "person": given["person"],
            "device": given["device"],
            "bands": given["bands"],
            "u_class": given["u"],
            "curve": base64.b64decode(given["curve"]),
            "quarter": given["quarter"],
            "withdrawn": False,
        }
        same = row.pk is not None and all(_as_kept(getattr(row, name)) == values[name] for name in values)
        for name, value in values.items():
            setattr(row, name, value)
        if row.pk is None:
            fresh.append(row)
        elif not same:
            changed.append(row)
        unchanged += same
    KeptRecord.objects.bulk_create(fresh, batch_size=BATCH)
    names = ["design", "kind", "person", "device", "bands", "u_class", "curve", "quarter", "withdrawn"]
    KeptRecord.objects.bulk_update(changed, names, batch_size=100)
    gone = keeper_groups.withdraw_records(group, frozenset(given["vote"] for given in votes))
    return _Taken(len(fresh) + len(changed), gone, unchanged)


def _as_kept(value: Any) -> Any:
    return bytes(value) if isinstance(value, memoryview) else value


def _keep_sets(group: KeptGroup, sets: list[dict[str, Any]], kept: dict[str, KeptDesign]) -> None:
    """Keep every set that the group ever said it published alone: what was published stays the past."""
    rows = [
        KeptSet(
            group=group,
            design=kept[each["recipe_sha256"]],
            kind=each["kind"],
            votes=sorted(each["votes"]),
            votes_sha256=hashlib.sha256(json.dumps(sorted(each["votes"])).encode()).hexdigest(),
        )
        for each in sets
    ]
    KeptSet.objects.bulk_create(rows, batch_size=BATCH, ignore_conflicts=True)


def _build_standing(group: KeptGroup) -> dict[str, Any]:
    """Build what the keeper tells this group alone: whether it is set aside, and how its benches compare."""
    newest = KeptRelease.objects.order_by("-number").values_list("number", flat=True).first()
    offsets = KeptOffset.objects.filter(group=group, release=newest).order_by("kind", "pk")
    columns = ("kind", "band", "offset", "low", "high", "certain")
    return {
        "release": newest,
        "set_aside": group.aside_at is not None,
        "offsets": list(offsets.values(*columns)),
    }
