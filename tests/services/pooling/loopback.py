"""A keeper in the same process: the group's requests reach the keeper's services without a network."""

from __future__ import annotations

import json

from measurements.errors import BenchnightError
from measurements.selectors.pooling import kept_files
from measurements.services.pooling import keeper_groups, keeper_sendings

posted: list[tuple[str, bytes]] = []


def post(address: str, body: bytes) -> bytes:
    """Answer as the keeper does, and note what was posted."""
    posted.append((address, body))
    what = address.rstrip("/").rsplit("/", 1)[1]
    return {"groups": keeper_groups.answer_group, "sendings": keeper_sendings.take_sending}[what](body)


def get(address: str) -> bytes:
    """Give a file as the keeper does."""
    *_, number, name = address.rstrip("/").split("/")
    if name == kept_files.LATEST:
        return json.dumps({"release": kept_files.get_newest_number()}).encode()
    return kept_files.get_file(int(number), name).content


def lose(_address: str, _body: bytes = b"") -> bytes:
    """Reach nobody."""
    raise BenchnightError("pool.unreachable", "The keeper cannot be reached now.", kind="conflict")
