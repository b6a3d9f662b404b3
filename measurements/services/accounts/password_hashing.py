"""argon2id with the parameters of the OWASP password sheet, and a bound on the memory of all hashes at once.

Parameters: OWASP Password Storage Cheat Sheet (read 2025), argon2id with m=19456 (19 MiB), t=2, p=1; Django's
own take 100 MiB each, and two dozen wrong sign-ins at once a small server whole. A stored hash names its
parameters, so older ones go on working and are renewed when their owner signs in.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from django.conf import settings
from django.contrib.auth.hashers import Argon2PasswordHasher

MEMORY_KIB = 19_456
HASHES_AT_ONCE = 2  # of a whole server, whose processes share them


class MemoryRoom:
    """Lets hashes begin as long as their memory fits; the others wait. Safe for threads.

    most_kib: for all at once. A hash that is larger than that runs alone.
    """

    def __init__(self, most_kib: int) -> None:
        self._most_kib = most_kib
        self._held_kib = 0
        self._freed = threading.Condition()

    @contextmanager
    def hold(self, kib: int) -> Iterator[None]:
        """Hold so much memory while the block runs, after waiting for room."""
        with self._freed:
            self._freed.wait_for(lambda: not self._held_kib or self._held_kib + kib <= self._most_kib)
            self._held_kib += kib
        try:
            yield
        finally:
            with self._freed:
                self._held_kib -= kib
                self._freed.notify_all()


@cache
def get_memory_room() -> MemoryRoom:
    """Get the room of this process: its share of what the server may take."""
    return MemoryRoom(HASHES_AT_ONCE * MEMORY_KIB // settings.BENCHNIGHT_PROCESSES)


class BoundedArgon2PasswordHasher(Argon2PasswordHasher):
    """Django's hasher with smaller parameters, which waits for memory before it hashes."""

    time_cost = 2
    memory_cost = MEMORY_KIB
    parallelism = 1

    def encode(self, password: str, salt: str) -> str:
        with get_memory_room().hold(self.memory_cost):
            return str(super().encode(password, salt))

    def verify(self, password: str, encoded: str) -> bool:
        with get_memory_room().hold(self.decode(encoded)["memory_cost"]):
            return bool(super().verify(password, encoded))
