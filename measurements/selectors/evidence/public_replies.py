"""Replies that everybody who is not signed in gets alike, in Django's cache until the catalogue changes.

What the public is shown of designs follows from the release, the list of designs, the reference data and the
group's settings. Every write of those adds a row to the log in its own transaction. The state of the log is
part of each key, so an older reply is never found again; the cache drops it when it needs the room.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from django.core.cache import cache

from measurements.models import group_facts, group_settings, read_once
from measurements.models.read_once import CatalogueState

# with MAX_ENTRIES of the settings, this bounds what a process keeps
MOST_BYTES = 160 * 1024


def get_catalogue_state() -> CatalogueState:
    """Read what is equal for as long as nothing changes of what the public is shown, in one query."""
    return (
        *read_once.get_catalogue_state(),
        group_settings.get_thresholds(),
        group_facts.get_region(),
        *group_facts.get_data_terms(),
        group_facts.has_demo(),
    )


@dataclass(frozen=True)
class PublicReply:
    """The content of a reply and the headers that go with it."""

    content: bytes
    headers: tuple[tuple[str, str], ...]


def build_key(*question: object) -> str:
    """Build the key of the reply to a question, in the state of the catalogue as it is now.

    question: all that the reply depends on. Nothing of whoever asks may be needed. Build the key before the
    reply is made: what changes meanwhile is then noticed by the next question.
    """
    return hashlib.sha256(repr((get_catalogue_state(), question)).encode()).hexdigest()


def find_reply(key: str) -> PublicReply | None:
    """Find the reply under a key of `build_key`."""
    found: PublicReply | None = cache.get(key)
    return found


def keep_reply(key: str, reply: PublicReply) -> None:
    """Keep a reply, unless it takes more than its share of room."""
    if len(reply.content) <= MOST_BYTES:
        cache.set(key, reply)
