"""Invented groups that talk to a keeper as its description says: envelopes, keys and records made here."""

from __future__ import annotations

import base64
import gzip
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from measurements.services.bundles import signing
from measurements.services.designs import designs
from measurements.services.pooling import keeper_groups, keeper_sendings
from tests import factories

BANDS = ("80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m")
ADDRESS = "https://keeper.example"


def build_design(turns: int = 12) -> dict[str, Any]:
    """The entry of a design in a sending."""
    normal = designs.preview_design(factories.recipe(turns=turns))
    return {"recipe_sha256": normal.sha256, "recipe_form": 1, "recipe": normal.as_json}


def seal(key: Ed25519PrivateKey, content: dict[str, Any], purpose: str) -> bytes:
    """An envelope as groups send them, signed for `purpose`."""
    packed = gzip.compress(json.dumps(content, ensure_ascii=False).encode())
    signature = key.sign(f"benchnight pool {purpose} 1\n".encode() + packed)
    return json.dumps(
        {
            "key": key.public_key().public_bytes_raw().hex(),
            "content": base64.b64encode(packed).decode(),
            "signature": signature.hex(),
        }
    ).encode()


def read_reply(sealed: bytes) -> dict[str, Any]:
    """What the keeper replied, its signature checked here."""
    given = json.loads(sealed)
    packed = base64.b64decode(given["content"])
    keeper = Ed25519PublicKey.from_public_bytes(bytes.fromhex(signing.get_public_key()))
    keeper.verify(bytes.fromhex(given["signature"]), b"benchnight pool reply 1\n" + packed)
    return json.loads(gzip.decompress(packed))


@dataclass
class InventedGroup:
    """A group with its key and the records that stand."""

    name: str
    rng: np.random.Generator
    key: Ed25519PrivateKey = field(default_factory=Ed25519PrivateKey.generate)
    number: int = 0
    votes: list[dict[str, Any]] = field(default_factory=list)
    designs: dict[str, dict[str, Any]] = field(default_factory=dict)
    sets: list[dict[str, Any]] = field(default_factory=list)

    def join(self) -> None:
        """Join by an invitation."""
        made = keeper_groups.invite_group(by=None, address=ADDRESS, name=self.name)
        content = {"form": 1, "keeper": made.key, "code": made.code, "name": self.name}
        read_reply(keeper_groups.answer_group(seal(self.key, content, "join")))

    def leave(self) -> None:
        """Leave the pool."""
        content = {"form": 1, "keeper": signing.get_public_key(), "leave": True, "after": self.number}
        read_reply(keeper_groups.answer_group(seal(self.key, content, "join")))

    def build(
        self, design: dict[str, Any], worst_db: float | dict[str, float], person: str = "", **more: Any
    ) -> dict[str, Any]:
        """A device of a person (a new one unless named) and its record."""
        self.designs[design["recipe_sha256"]] = design
        bands = worst_db if isinstance(worst_db, dict) else dict.fromkeys(BANDS, worst_db)
        record = {
            "recipe_sha256": design["recipe_sha256"],
            "kind": "common_mode",
            "person": person or self.invent(),
            "device": self.invent(),
            "vote": self.invent(),
            "bands": {band: round(figure, 1) for band, figure in bands.items()},
            "u": "quarter",
            "curve": base64.b64encode(np.full(97, 250, "<i2").tobytes()).decode(),
            "quarter": "2026-Q4",
            **more,
        }
        self.votes.append(record)
        return record

    def invent(self) -> str:
        """A random pseudonym."""
        return self.rng.bytes(16).hex()

    def publish_alone(self, records: Iterable[dict[str, Any]]) -> None:
        """Say that these records were published alone as one set."""
        rows = list(records)
        names = sorted([each["person"], each["device"], each["vote"]] for each in rows)
        self.sets.append({"recipe_sha256": rows[0]["recipe_sha256"], "kind": rows[0]["kind"], "votes": names})

    def build_content(self, **changes: Any) -> dict[str, Any]:
        """What the next sending says."""
        cores = [core for each in self.designs.values() for core in each["recipe"]["cores"]]
        return {
            "form": 1,
            "keeper": signing.get_public_key(),
            "number": self.number + 1,
            "release": 1,
            "rows": {"cores": [], "mixes": sorted({core["mix"] for core in cores}), "conductors": []},
            "designs": list(self.designs.values()),
            "votes": sorted(self.votes, key=lambda each: each["vote"]),
            "sets": self.sets,
            **changes,
        }

    def send(self, **changes: Any) -> dict[str, Any]:
        """Send all that stands; what the keeper replied."""
        content = self.build_content(**changes)
        reply = read_reply(keeper_sendings.take_sending(seal(self.key, content, "sending")))
        self.number = reply["number"]
        return reply


def invent_groups(count: int, seed: int = 1) -> list[InventedGroup]:
    """Groups that have joined the pool of this server."""
    groups = [InventedGroup(f"Club {n}", np.random.default_rng([seed, n])) for n in range(count)]
    for group in groups:
        group.join()
    return groups
