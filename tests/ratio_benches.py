"""Invented transformers as a bench sees them, and groups of people who tested them.

A textbook circuit written here and not taken from the code under test: magnetising inductance with a core
loss resistor across the unbalanced side, leakage and copper in series, an ideal step of turns.
"""

from __future__ import annotations

import itertools
from datetime import date
from typing import Any

import numpy as np

from measurements.disclosure.viewers import Viewer
from measurements.services.tests import tests
from measurements.services.uploads.uploads import Upload, parse_settings
from tests import factories

FREQ_HZ = np.linspace(1.0e6, 31.0e6, 151)
Z0_OHM = 50.0
_seeds = itertools.count(9000)

UNUN: dict[str, Any] = {"purpose": "unun", "principle": "voltage", "ratio": "49:1", "turns": 14, "mix": "43"}


def reflect(z_ohm: np.ndarray) -> np.ndarray:
    return (z_ohm - Z0_OHM) / (z_ohm + Z0_OHM)


def input_ohm(far_ohm: complex | float, ratio: float, loss_ohm: float, leakage_h: float) -> np.ndarray:
    """The impedance at the unbalanced side with `far_ohm` at the other one; loss_ohm: across the core."""
    omega = 2 * np.pi * FREQ_HZ
    across = 1 / (1 / loss_ohm + 1 / (1j * omega * 20e-6))
    inner = 0.1 + 1j * omega * leakage_h + far_ohm / ratio
    return 1 / (1 / across + 1 / inner)


def s1p(gamma: np.ndarray, seed: int) -> bytes:
    rng = np.random.default_rng(seed)
    noisy = gamma + 2e-4 * (rng.normal(size=gamma.size) + 1j * rng.normal(size=gamma.size))
    rows = [f"{hz:.1f} {value.real:.8f} {value.imag:.8f}" for hz, value in zip(FREQ_HZ, noisy, strict=True)]
    return ("\n".join(["# Hz S RI R 50", *rows]) + "\n").encode()


def record(
    by: Viewer, device: str, roles: dict[str, bytes], on: date = date(2026, 3, 14), **given: Any
) -> str:
    settings = {"calibrated": "true", **given}
    uploads = {role: Upload(f"{role}.s1p", data) for role, data in roles.items()}
    return tests.record_test(
        by=by, device=device, uploads=uploads, settings=parse_settings(settings), measured_on=on
    ).key


def record_loss(
    by: Viewer,
    device: str,
    *,
    ratio: str = "49:1",
    loss_ohm: float = 700.0,
    leakage_h: float = 30e-9,
    **more: Any,
) -> str:
    """A one-port test of loss. loss_ohm: 700 ohm across the core costs 0.3 dB."""
    times = float(ratio.split(":")[0])
    load_ohm = times * Z0_OHM
    far = {"far_open": 1e9, "far_short": 0.0, "far_load": load_ohm}
    files = {
        role: s1p(reflect(input_ohm(ohm, times, loss_ohm, leakage_h)), next(_seeds))
        for role, ohm in far.items()
    }
    given = {"kind": "insertion_loss", "method": "one_port", "ratio": ratio, "load_ohm": f"{load_ohm + 1:g}"}
    return record(by, device, files, **{**given, **more})


def record_match(
    by: Viewer,
    device: str,
    *,
    ratio: str = "49:1",
    loss_ohm: float = 700.0,
    leakage_h: float = 30e-9,
    **more: Any,
) -> str:
    """A match test in the nominal load."""
    times = float(ratio.split(":")[0])
    sweep = s1p(reflect(input_ohm(times * Z0_OHM, times, loss_ohm, leakage_h)), next(_seeds))
    given = {"kind": "load_match", "ratio": ratio, "load_ohm": f"{times * Z0_OHM + 1:g}"}
    return record(by, device, {"sweep": sweep}, **{**given, **more})


def evidence(
    people: int, *, first: int = 0, loss_ohm: float = 700.0, match: bool = True, **changes: Any
) -> str:
    """A design whose devices `people` contributors each tested for loss, and match; answers its key."""
    key = ""
    for person in range(first, first + people):
        by = factories.member(f"winder-{person}")
        key = factories.design(by, **{**UNUN, **changes})
        made = factories.device(by, key, tag=f"{key}-0")
        ratio = changes.get("ratio", UNUN["ratio"])
        own_ohm = loss_ohm * (1 + 0.03 * person)
        record_loss(by, made, ratio=ratio, loss_ohm=own_ohm)
        if match:
            record_match(by, made, ratio=ratio, loss_ohm=own_ohm)
    return key
