"""Fills an empty PostgreSQL database with a seeded group: COPY, so that a million tests take minutes.

    python -m deploy.benchmarks.filling TESTS [--seed N] [--token]

It prints the key of a device to upload to, and with --token also one of its owner's.

Devices are invented: a winding with a lossy parallel resonance, spread around its design's. Figures are
the engine's own, computed once for some windings of each design and shared by its devices; sweeps are
stored for the first `WITH_SWEEPS` tests only, and no traces, because nothing measured here reads more.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Iterator
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

MEMBER = "Bench"
WINDINGS_PER_DESIGN = 8  # windings computed per design
TESTS_WITH_SWEEPS = 10_000
POINTS = 401
TESTS_PER_MEMBER = 20
_ALPHABET = np.frombuffer(b"23456789abcdefghjkmnpqrstvwxyz", dtype="S1")
_STYLES = ("bifilar", "twisted_pair", "coax", "trifilar", "parallel_wires")
_MIXES = ("31", "43", "52", "61")
_SIZES = ((61.0, 35.55, 12.7), (35.55, 23.0, 12.7), (50.8, 31.75, 19.05))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("tests", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--token", action="store_true")
    options = parser.parse_args()
    _start_django()
    fill_database(options.tests, np.random.default_rng(options.seed))
    sys.stdout.write(_own_device() + (f" {_own_token()}" if options.token else "") + "\n")
    return 0


def _own_device() -> str:
    """Return the key of a device of the account that made the designs: what is uploaded later goes there."""
    from measurements.models import Design
    from measurements.selectors.accounts import viewers
    from measurements.services.devices import devices

    by = viewers.find_viewer(MEMBER)
    if by is None:
        raise RuntimeError("The group has no steward.")
    design = Design.objects.order_by("id").values_list("key", flat=True)[0]
    return devices.register_device(by=by, design=design, tag="BENCH-1").key


def _own_token() -> str:
    """Create an API token of that account for two days."""
    from measurements.services.accounts import access_tokens

    return access_tokens.issue_token(name=MEMBER, days=2)


def count_designs(tests: int) -> int:
    """Return the number of designs of a group of so many tests: its square root, three times over."""
    return max(40, round(3 * math.sqrt(tests)))


def fill_database(tests: int, rng: np.random.Generator) -> None:
    """Members, designs, devices, tests, results and some sweeps, in that order."""
    from django.core.management import call_command
    from django.db import connection

    call_command("migrate", verbosity=0)
    call_command("load_reference", stdout=sys.stderr)
    designs = register_designs(count_designs(tests))
    contributors = _people(max(30, tests // TESTS_PER_MEMBER), rng)
    kinds = compute_windings(len(designs), rng)
    place = rng.integers(len(designs), size=tests)
    variant = rng.integers(WINDINGS_PER_DESIGN, size=tests)
    owner = rng.integers(len(contributors), size=tests)
    keys = make_keys(2 * tests, rng)
    device_rows = (
        (index + 1, keys[index], f"T{index}", contributors[owner[index]], designs[place[index]])
        for index in range(tests)
    )
    _copy("device", "id key tag contributor_id design_id", device_rows, _DEVICE)
    days = rng.integers(0, 1500, size=tests)
    test_rows = ((n + 1, keys[tests + n], n + 1, _day(days[n]), f"{n:064x}") for n in range(tests))
    _copy("test", "id key device_id measured_on content_sha256", test_rows, _TEST)
    result_rows = ((n + 1, n + 1, *kinds[place[n]][variant[n]][:3]) for n in range(tests))
    _copy("result", "id test_id figures evidence_curve published", result_rows, _RESULT)
    sweep_rows = (
        (n + 1, f"{n:064x}", *kinds[place[n]][variant[n]][3]) for n in range(min(tests, TESTS_WITH_SWEEPS))
    )
    _copy("sweepfile", "test_id raw_sha256 freq_hz s", sweep_rows, _SWEEP)
    with connection.cursor() as cursor:
        for table in ("device", "test", "result"):
            cursor.execute(f"SELECT setval('measurements_{table}_id_seq', %s)", [tests])
        cursor.execute("ANALYZE")


# what every row of a table has in common
_DEVICE = {
    "origin": "homebrew",
    "notes": "",
    "registered_at": "2026-01-01 00:00+00",
    "place": "",
    "version": 1,
}
SETTINGS: dict[str, Any] = {
    "kind": "common_mode",
    "method": None,
    "ratio": "1:1",
    "load_ohm": None,
    "series_ohm": None,
    "calibrated": True,
    "benchmark_db": None,
    "region": None,
    "readings": [],
    "partner": None,
}
_TEST = {
    "kind": "common_mode",
    "settings": json.dumps(SETTINGS),
    "recorded_at": "2026-01-01 00:00+00",
    "excluded_reason": "",
}
_RESULT = {
    "engine_version": "",  # set below: the engine is imported late
    "computed_at": "2026-01-01 00:00+00",
    "current": True,
    "trace_names": "[]",
    "traces": b"",
    "counts_as_evidence": True,
}
_SWEEP = {
    "role": "sweep",
    "name": "a.s2p",
    "raw": b"",
    "ports": 2,
    "points": POINTS,
    "z0_ohm": "[50.0, 50.0]",
    "measured": "[true, true, true, true]",
    "magnitude_only": False,
    "source": "touchstone",
    "notes": "[]",
}


def _copy(table: str, columns: str, rows: Iterator[tuple[Any, ...]], same: dict[str, Any]) -> None:
    """COPY into one of our tables; `same` are the columns in which all rows agree."""
    from django.db import connection

    names = [*columns.split(), *same]
    constant = tuple(same.values())
    listed = ", ".join(f'"{name}"' for name in names)
    with (
        connection.cursor() as cursor,
        cursor.copy(f"COPY measurements_{table} ({listed}) FROM STDIN") as copy,
    ):
        for row in rows:
            copy.write_row((*row, *constant))


def register_designs(count: int, first: int = 0) -> list[int]:
    """Register `count` invented designs through the real path; list the row numbers of all designs.

    first: how many of the series are there already.
    """
    from measurements.disclosure.viewers import Viewer
    from measurements.models import Design
    from measurements.services.accounts import accounts
    from measurements.services.designs import designs

    member_id, _ = accounts.ensure_member(name=MEMBER, role="steward")
    by = Viewer(member_id=member_id, name=MEMBER, role="steward")
    for index in range(first, first + count):
        outer, inner, height = _SIZES[index % 3]
        core = {
            "shape": "toroid",
            "outer_mm": outer + 3 * (index // 720),
            "inner_mm": inner,
            "height_mm": height,
            "mix": _MIXES[index // 3 % 4],
            "stacked": 1 + index // 12 % 2,
        }
        winding = {
            "turns": 6 + index // 24 % 6,
            "style": _STYLES[index // 144 % 5],
            "split": False,
            "conductor": "other",
        }
        recipe = {"purpose": "choke", "principle": "current", "ratio": "1:1"}
        designs.register_design(by=by, recipe_given={**recipe, "cores": [core], "winding": winding})
    return list(Design.objects.order_by("id").values_list("id", flat=True))


def _people(count: int, rng: np.random.Generator) -> list[int]:
    from measurements.models import Contributor, Member

    Member.objects.bulk_create(
        # nobody signs in to these
        (Member(name=f"bench-{index}", role="member", password="!") for index in range(count)),  # noqa: S106
        batch_size=5000,
    )
    members = Member.objects.filter(name__startswith="bench-").values_list("id", flat=True)
    Contributor.objects.bulk_create((Contributor(member_id=pk) for pk in members), batch_size=5000)
    return list(Contributor.objects.order_by("id").values_list("id", flat=True))


def compute_windings(
    designs: int, rng: np.random.Generator
) -> list[list[tuple[str, bytes, str, tuple[bytes, bytes]]]]:
    """Return for each design, `SPREAD` windings: (figures and evidence curve, what is published of
    them, (frequencies, S) as stored)."""
    from measurements.disclosure import published_figures
    from measurements.models import group_facts
    from measurements.rf.analysis import ENGINE_VERSION, Request, analyse
    from measurements.rf.request import Limits
    from measurements.rf.sweeps.sweep import Sweep
    from measurements.services.reference import band_plan
    from measurements.services.tests import results

    _RESULT["engine_version"] = ENGINE_VERSION
    bands = band_plan.get_band_plan(group_facts.get_region(), date(2026, 1, 1))
    freq_hz = np.linspace(1e6, 54e6, POINTS)
    found = []
    for _ in range(designs):
        centre = np.array([rng.uniform(15e-6, 80e-6), rng.uniform(2e3, 8e3), rng.uniform(1e-12, 5e-12)])
        own = []
        for _ in range(WINDINGS_PER_DESIGN):
            s = _series(freq_hz, *(centre * rng.lognormal(0, 0.15, 3)))
            sweep = Sweep(freq_hz, s, np.full(2, 50.0), np.ones((2, 2), bool), "touchstone", ())
            request = Request(
                kind="common_mode",
                method=None,
                ratio=Fraction(1),
                sweeps={"sweep": sweep},
                readings=None,
                load_ohm=None,
                series_ohm=None,
                calibrated=True,
                limits=Limits(),
                bands=bands,
            )
            got = analyse(request)
            if got.evidence is None:
                raise RuntimeError("An invented winding has no curve.")
            stored = (
                freq_hz.astype(results.FLOAT_DTYPE).tobytes(),
                s.astype(results.COMPLEX_DTYPE).tobytes(),
            )
            published = json.dumps(published_figures.extract_published_figures(got.result))
            own.append((json.dumps(got.result), results.pack_curve(got.evidence.z_ohm), published, stored))
        found.append(own)
    return found


def _series(freq_hz: NDArray[np.float64], henry: float, ohm: float, farad: float) -> NDArray[np.complex128]:
    """Return S (F, 2, 2) of L, R and C in parallel, in series between two 50-ohm ports."""
    omega = 2 * np.pi * freq_hz
    z_ohm = 1 / (1 / (1j * omega * henry) + 1 / ohm + 1j * omega * farad)
    through = 100 / (100 + z_ohm)
    s = np.empty((freq_hz.size, 2, 2), complex)
    s[:, 0, 0] = s[:, 1, 1] = 1 - through
    s[:, 0, 1] = s[:, 1, 0] = through
    return s


def make_keys(count: int, rng: np.random.Generator) -> list[str]:
    """Return distinct random keys of 12 characters."""
    letters = _ALPHABET[rng.integers(len(_ALPHABET), size=(count, 12))]
    return [bytes(row).decode("ascii") for row in np.ascontiguousarray(letters).view("S12").ravel()]


def _day(days: int) -> date:
    return date(2022, 1, 1) + timedelta(days=int(days))


def _start_django() -> None:
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    django.setup()


if __name__ == "__main__":
    sys.exit(main())
