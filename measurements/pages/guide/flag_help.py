"""The shape of what the guide says about a flag."""

from __future__ import annotations

from dataclasses import dataclass

ALL = ("common_mode", "load_match", "insertion_loss", "balance", "in_situ")
CM, LM, IL, BA, AT = ((kind,) for kind in ALL)
CM_IL = ("common_mode", "insertion_loss")


@dataclass(frozen=True)
class FlagHelp:
    """title: the flag in a few words. kinds: where it can appear. see: topic and anchor of its cure."""

    title: str
    words: str
    kinds: tuple[str, ...]
    see: tuple[str, str]
