"""Things to test with, made through services (the real path). Invented data."""

from __future__ import annotations

import itertools
import json
from datetime import date
from typing import Any

import numpy as np

from measurements.disclosure.viewers import Viewer
from measurements.fitness.checklist import CHECKLIST_ITEMS
from measurements.services.accounts import accounts
from measurements.services.designs import designs
from measurements.services.devices import devices
from measurements.services.tests import tests
from measurements.services.upkeep import inspections
from measurements.services.uploads.uploads import Upload, parse_settings

TEST_SEEDS = 1000
_noise_seeds = itertools.count(TEST_SEEDS)  # no two devices have the same noise, as on a bench

RECIPE: dict[str, Any] = {
    "purpose": "choke",
    "principle": "current",
    "ratio": "1:1",
    "cores": [{"shape": "toroid", "outer_mm": 61.0, "inner_mm": 35.55, "height_mm": 12.7, "mix": "31"}],
    "winding": {"turns": 12, "style": "coax", "split": False, "conductor": "other"},
}


def start_noise(first_seed: int) -> None:
    """Begin to count the seeds of noise, so that a test gets the same curves whatever ran before it."""
    global _noise_seeds
    _noise_seeds = itertools.count(first_seed)


def member(name: str, role: str = "member") -> Viewer:
    """An account and the viewer it is."""
    pk, _ = accounts.ensure_member(name=name, role=role)
    return Viewer(member_id=pk, name=name, role=role)


def recipe(**changes: Any) -> dict[str, Any]:
    """The usual recipe; `turns`, `mix`, `style`, ... replace single values."""
    made = {**RECIPE, "cores": [dict(RECIPE["cores"][0])], "winding": dict(RECIPE["winding"])}
    for name, value in changes.items():
        part = made if name in made else made["winding"] if name in made["winding"] else made["cores"][0]
        part[name] = value
    return made


def design(by: Viewer, **changes: Any) -> str:
    """The key of a design."""
    return designs.register_design(by=by, recipe_given=recipe(**changes)).key


def device(by: Viewer, design_key: str | None = None, tag: str = "C-1") -> str:
    """The key of a device of `by`."""
    return devices.register_device(by=by, design=design_key or design(by), tag=tag).key


def choke_s2p(
    peak_ohm: float = 3000.0, seed: int = 1, points: int = 401, one_direction: bool = False, comment: str = ""
) -> bytes:
    """A two-port sweep, 1 to 30 MHz, of a parallel R-L-C (10 MHz) between the ports, with noise 0.0001."""
    freq_hz = np.linspace(1e6, 30e6, points)
    omega = 2 * np.pi * freq_hz
    capacitance_f = 4e-12
    inductance_h = 1 / ((2 * np.pi * 10e6) ** 2 * capacitance_f)
    z_ohm = 1 / (1 / peak_ohm + 1 / (1j * omega * inductance_h) + 1j * omega * capacitance_f)
    s11, s21 = z_ohm / (z_ohm + 100), 100 / (z_ohm + 100)
    rng = np.random.default_rng(seed)
    noisy = [
        value + 0.0001 * (rng.normal(size=points) + 1j * rng.normal(size=points)) for value in (s11, s21)
    ]
    again = [
        value + 0.0001 * (rng.normal(size=points) + 1j * rng.normal(size=points)) for value in (s21, s11)
    ]
    zero = np.zeros(points, complex)
    columns = [noisy[0], noisy[1], *((zero, zero) if one_direction else again)]
    lines = [f"! invented {comment}".rstrip(), "# Hz S RI R 50"]
    for index in range(points):
        pairs = " ".join(f"{column[index].real:.8f} {column[index].imag:.8f}" for column in columns)
        lines.append(f"{freq_hz[index]:.1f} {pairs}")
    return ("\n".join(lines) + "\n").encode()


def through_s2p(loss_db: float = 0.0) -> bytes:
    """A plain connection between the ports, 1 to 30 MHz."""
    size = 10 ** (-loss_db / 20)
    rows = [f"{hz:.0f} 0 0 {size:.6f} 0 {size:.6f} 0 0 0" for hz in np.linspace(1e6, 30e6, 291)]
    return "\n".join(["# HZ S RI R 50", *rows, ""]).encode()


def wound_s2p(mix: str = "43", turns: int = 8, low_hz: float = 1e6, high_hz: float = 30e6) -> bytes:
    """A two-port sweep of turns on a 61 mm ring of the maker's published material, without noise."""
    from tests.rf.mix_tables import winding_ohm

    freq_hz = np.linspace(low_hz, high_hz, 201)
    z_ohm = winding_ohm(mix, turns, freq_hz, stray_f=2e-12)
    s11, s21 = z_ohm / (z_ohm + 100), 100 / (z_ohm + 100)
    columns = [s11, s21, s21, s11]
    lines = ["# Hz S RI R 50"]
    for index, frequency in enumerate(freq_hz):
        pairs = " ".join(f"{column[index].real:.9f} {column[index].imag:.9f}" for column in columns)
        lines.append(f"{frequency:.1f} {pairs}")
    return ("\n".join(lines) + "\n").encode()


def record(
    by: Viewer,
    device_key: str,
    data: bytes | None = None,
    *,
    measured_on: date = date(2026, 3, 14),
    name: str = "sweep.s2p",
    **settings: Any,
) -> str:
    """The key of a recorded common_mode test."""
    # the invented sweep is no winding of the usual recipe; its owner answers for it unless a test says
    # otherwise
    given = {"kind": "common_mode", "calibrated": "true", "recipe_confirmed": "true", **settings}
    return tests.record_test(
        by=by,
        device=device_key,
        uploads={"sweep": Upload(name, choke_s2p() if data is None else data)},
        settings=parse_settings(given),
        measured_on=measured_on,
    ).key


def readings(by: Viewer, device_key: str, *, measured_on: date = date(2026, 3, 14), **more: Any) -> str:
    """The key of an ohmmeter test of a 1:1 choke whose wires are whole and not shorted."""
    given = [("C", "A", 0.1), ("S", "B", 0.1), ("C", "S", None)]
    rows = [{"from": start, "to": end, "ohm": ohm} for start, end, ohm in given]
    return tests.record_test(
        by=by,
        device=device_key,
        uploads={},
        settings=parse_settings({"kind": "dc", "dc_readings": json.dumps(rows), **more}),
        measured_on=measured_on,
    ).key


def look(by: Viewer, device_key: str, on: date, *, note: str = "", **states: str) -> str:
    """The key of an inspection; of every item and all good where no item is named.

    note: what was done, as a good answer after a fault needs.
    """
    named = states or {item.code: "ok" for item in CHECKLIST_ITEMS}
    findings = {item: {"state": state, "note": note} for item, state in named.items()}
    return inspections.record_inspection(by=by, device=device_key, inspected_on=on, findings=findings).key


def evidence(
    people: int, *, peak_ohm: float = 3000.0, devices_each: int = 1, first: int = 0, **changes: Any
) -> str:
    """A design with devices of `people` contributors, each tested once; answers the design's key."""
    key = ""
    for person in range(first, first + people):
        by = member(f"person-{person}")
        key = design(by, **changes)
        for index in range(devices_each):
            made = device(by, key, tag=f"{key}-{index}")
            record(by, made, choke_s2p(peak_ohm * (1 + 0.02 * person), seed=next(_noise_seeds)))
    return key
