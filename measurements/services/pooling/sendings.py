"""Sends this group's votes to its pool, at its own release: always all that is valid then.

The keeper takes a sending once; the same again changes nothing, and a vote that a sending does not hold is
withdrawn. Its reply, under its key, tells this group alone how its benches compare.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.models import Conductor, Core, Design, PoolSeat, Release, SentVote
from measurements.services.bundles.row_schema import RECIPE_FORM
from measurements.services.operations import audit
from measurements.services.pooling import envelopes, sending_schema, sent_votes, transport
from measurements.services.pooling.sent_votes import ChosenVotes
from measurements.services.releases import published_ledger

MOST_PROBLEM = 300


@dataclass(frozen=True)
class SendingCounts:
    """What the keeper said of a sending: records that were new, withdrawn, and there already."""

    number: int
    new: int
    withdrawn: int
    unchanged: int


def get_open_seat() -> PoolSeat | None:
    """Get this group's seat in a pool; None where it is in none."""
    return PoolSeat.objects.filter(is_open=True).first()


def send_votes(*, post: transport.Post | None = None) -> SendingCounts:
    """Send all that stands to the keeper and store its reply.

    Raises BenchnightError `pool.no_seat`, and what `seal_sending`, the way there and the reply can raise.
    """
    seat = get_open_seat()
    if seat is None:
        raise BenchnightError("pool.no_seat", "This group is in no pool.", kind="conflict")
    sealed = seal_sending(seat)
    return take_reply(
        seat, (post or transport.post)(transport.build_address(seat.keeper_address, "sendings"), sealed)
    )


def try_to_send(*, post: transport.Post | None = None) -> SendingCounts | None:
    """Send, and note on the seat why it did not work; None where there is no pool or it did not work.

    A release of this group never fails because the pool cannot be reached: the next one sends again.
    """
    seat = get_open_seat()
    if seat is None:
        return None
    try:
        made = send_votes(post=post)
    except BenchnightError as error:
        PoolSeat.objects.filter(pk=seat.pk).update(last_problem=error.detail[:MOST_PROBLEM])
        return None
    PoolSeat.objects.filter(pk=seat.pk).update(last_problem="")
    return made


def seal_sending(seat: PoolSeat) -> bytes:
    """Build and sign what this group sends. A sending that differs from the last one has the next number."""
    with transaction.atomic():
        content = _build_content(seat)
        digest = _hash_content(content)
        number = seat.last_number + (digest != seat.last_sha256)
    return envelopes.seal({**content, "number": number}, envelopes.SENDING)


def take_reply(seat: PoolSeat, sealed: bytes) -> SendingCounts:
    """Store what the keeper replied to a sending. Raises BenchnightError `pool.signature`, `pool.reply`."""
    reply = envelopes.open_envelope(sealed, envelopes.REPLY, key=seat.keeper_key).content
    try:
        counts = SendingCounts(*(int(reply[name]) for name in ("number", "new", "withdrawn", "unchanged")))
        standing, digest = dict(reply["standing"]), str(reply["content_sha256"])[:64]
    except (KeyError, TypeError, ValueError) as error:
        raise BenchnightError("pool.reply", "The keeper's reply is not as described.") from error
    with transaction.atomic():
        PoolSeat.objects.filter(pk=seat.pk).update(
            last_number=counts.number, last_sha256=digest, last_sent_at=timezone.now(), standing=standing
        )
        audit.record_action(
            by=None, action="pool.send", subject=str(counts.number), new=counts.new, gone=counts.withdrawn
        )
    return counts


def _build_content(seat: PoolSeat) -> dict[str, Any]:
    newest = Release.objects.order_by("-number").values_list("number", flat=True).first() or 0
    ledger = published_ledger.read_ledger(newest)
    # a seat that is open sends; one that was left sends nothing, which withdraws everything
    chosen = sent_votes.choose_all(ledger) if seat.is_open else []
    names = sent_votes.name_votes(chosen)
    records = sent_votes.build_records([each for each in chosen if each.votes], names)
    sets = _list_own_sets(chosen)
    hashes = {row["recipe_sha256"] for row in [*records, *sets]}
    designs = list(Design.objects.filter(recipe_sha256__in=hashes).order_by("recipe_sha256"))
    return {
        "form": sending_schema.FORM,
        "keeper": seat.keeper_key,
        "release": newest,
        "rows": _build_rows(designs),
        "designs": [
            {"recipe_sha256": each.recipe_sha256, "recipe_form": RECIPE_FORM, "recipe": each.recipe}
            for each in designs
        ],
        "votes": records,
        "sets": sets,
    }


def hash_content(content: dict[str, Any]) -> str:
    """Hash what a sending says, whatever its number."""
    return _hash_content({name: value for name, value in content.items() if name != "number"})


def _hash_content(content: dict[str, Any]) -> str:
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _list_own_sets(chosen: list[ChosenVotes]) -> list[dict[str, Any]]:
    """List the sets that this group published alone of designs that it ever sent a vote of.

    Whoever in a set was never sent has no pseudonym: all of them together are `NOBODY`.
    """
    sent: dict[tuple[int, str], dict[str, list[str]]] = {}
    hashes: dict[int, str] = {}
    for row in SentVote.objects.select_related("design").order_by("vote").iterator():
        names = [row.person, row.device, row.vote]
        sent.setdefault((row.design_id, row.kind), {})[row.test_key] = names
        hashes[row.design_id] = row.design.recipe_sha256
    nobody = [sending_schema.NOBODY] * 3
    found = []
    for each in chosen:
        known = sent.get((each.design, each.kind))
        for votes in each.alone if known else ():
            named = {tuple((known or {}).get(vote.test, nobody)) for vote in votes}
            found.append(
                {"recipe_sha256": hashes[each.design], "kind": each.kind, "votes": sorted(map(list, named))}
            )
    return found


def _build_rows(designs: list[Design]) -> dict[str, Any]:
    """Build the rows of cores, mixes and conductors that these recipes name: the keeper may not list them."""
    parts, mixes, wires = set(), set(), set()
    for design in designs:
        cores = design.recipe["cores"]
        parts |= {core["part"] for core in cores if "part" in core}
        mixes |= {core["mix"] for core in cores}
        wires.add(design.recipe["winding"]["conductor"])
    sizes = ("shape", "mix", "outer_mm", "inner_mm", "height_mm")
    cores_listed = Core.objects.filter(part__in=parts).order_by("part")
    return {
        "cores": [
            {"key": core.part, **{name: getattr(core, name) for name in sizes}} for core in cores_listed
        ],
        "mixes": sorted(mixes),
        "conductors": list(
            Conductor.objects.filter(name__in=wires).order_by("name").values_list("name", flat=True)
        ),
    }
