"""Kinds and days as reasons say them."""

from __future__ import annotations

from datetime import date

KIND_WORDS = {
    "common_mode": "Common mode",
    "load_match": "Load match",
    "insertion_loss": "Insertion loss",
    "balance": "Balance",
    "in_situ": "At the antenna",
}


def day(value: date) -> str:
    """A date in words."""
    return f"{value.day} {value:%B %Y}"
