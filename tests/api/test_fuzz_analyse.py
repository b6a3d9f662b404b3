"""POST analyse/ with every kind, port count and missing column: an answer or a refusal, never a 5xx."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile

from tests.api import reply_validation

KINDS = ("common_mode", "load_match", "insertion_loss", "balance", "in_situ")
METHODS = (
    *(
        None,
        "direct",
        "renormalised",
        "series_resistor",
        "one_port",
        "back_to_back",
        "known_partner",
        "pairs",
    ),
)
ROLES = (
    *("sweep", "sweep_reversed", "jig_through", "jig_open", "jig_short", "far_open", "far_short", "far_load"),
    *("pair_ab", "pair_ac", "pair_bc", "sweep_12", "sweep_13", "sweep_23", "sweep_bypassed"),
)
FREQ_HZ = np.linspace(1e6, 30e6, 21)


def write_touchstone(ports: int, missing: tuple[int, ...], form: str, rng: np.random.Generator) -> bytes:
    """A version 1 file; columns whose place is in `missing` are zeros, as analysers write them."""
    rows = []
    for freq_hz in FREQ_HZ:
        numbers = 0.4 * rng.normal(size=(ports**2, 2))
        numbers = np.abs(numbers) if form == "MA" else numbers
        numbers[[place for place in missing if place < ports**2]] = -300.0 if form == "DB" else 0.0
        rows.append(f"{freq_hz:.0f} " + " ".join(f"{value:.6f}" for value in numbers.ravel()))
    return "\n".join([f"# Hz S {form} R 50", *rows, ""]).encode()


def ask(scene, kind, method, files):
    cache.clear()  # the throttle's counts
    form = {"kind": kind, "calibrated": "true", "ratio": "4:1", "load_ohm": "200"}
    if method and kind == "insertion_loss":
        form["method"] = method
    reply = scene.ask("anonymous", "POST", "analyse/", form={**form, **files})
    assert reply.status_code < 500, (kind, method, sorted(files), reply.content[:300])
    if reply.status_code != 200:
        problem = reply_validation.problem(reply)
        assert problem["detail"]
    return reply


def named(ports: int, data: bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile(f"sweep.s{ports}p", data)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("ports", [1, 2, 3, 4])
def test_the_usual_roles_with_columns_missing(scene, kind, ports):
    rng = np.random.default_rng(ports)
    places = [(), *((place,) for place in range(min(ports**2, 4))), (1, 3), (0, 2)]
    for missing, form in itertools.product(places, ("RI", "DB")):
        for roles in (("sweep",), ("sweep", "sweep_bypassed"), ("sweep_12", "sweep_13"), ROLES):
            files = {role: named(ports, write_touchstone(ports, missing, form, rng)) for role in roles}
            ask(scene, kind, None, files)


def test_any_roles_methods_and_ports(scene):
    choose = random.Random(15)
    for _ in range(150):
        rng = np.random.default_rng(choose.randrange(2**32))
        files = {}
        for role in choose.sample(ROLES, choose.randint(1, 5)):
            ports = choose.choice([1, 2, 2, 3, 4])
            missing = tuple(choose.sample(range(4), choose.randint(0, 3)))
            files[role] = named(
                ports, write_touchstone(ports, missing, choose.choice(["RI", "MA", "DB"]), rng)
            )
        ask(scene, choose.choice(KINDS), choose.choice(METHODS), files)
