"""Reaches the sample sweeps for the tests of this folder: their bytes, and the script that makes them."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import skrf

FOLDER = Path(__file__).parents[2] / "fixtures" / "sweeps"


def script() -> ModuleType:
    """make_samples.py as a module: it is a script in a data folder, so it is loaded by its path."""
    spec = importlib.util.spec_from_file_location("make_samples", FOLDER / "make_samples.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up while it runs
    spec.loader.exec_module(module)
    return module


def names() -> list[str]:
    """Every sample file, without the script and the two texts about them."""
    kinds = {".s1p", ".s2p", ".csv"}
    return sorted(path.name for path in FOLDER.iterdir() if path.suffix in kinds)


def network(name: str) -> skrf.Network:
    """A Touchstone sample as scikit-rf reads it."""
    return skrf.Network(str(FOLDER / name))
