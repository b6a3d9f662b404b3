"""What a jig is good for: its floor, its losses, and up to which rejection a reading can be believed.

The open jig is the floor; within 10 dB of it a reading can be 3 dB wrong (`jig.FLOOR_MARGIN_DB`), so a
jig is good for readings up to its floor less that margin. It is good enough for a band where that is at
least the benchmark.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import Band, BandGrid, BandView, build_band_grid, cut_sweep, resample_sweep
from measurements.rf.flags import format_megahertz
from measurements.rf.instruments import jig
from measurements.rf.networks import series_through
from measurements.rf.preparation import convert_to_nominal
from measurements.rf.sweeps.result_values import to_json_number
from measurements.rf.sweeps.sweep import Floats, Sweep

# house defaults: what no open jig, and no closed one, shows over its whole sweep
_CLOSED_DB = 6.0
_OPEN_DB = 20.0


def assess_jig(sweeps: Mapping[str, Sweep], bands: Sequence[Band], benchmark_db: float) -> dict[str, Any]:
    """Return figures of a jig's own sweeps, by role (`jig.ROLES`, at least one), JSON-safe.

    "bands": per band that a sweep reaches {"band", "start_hz", "stop_hz", "floor_db", "floor_hz",
    "good_up_to_db", "good_enough", "through_loss_db", "open_impedance_ohm", "short_impedance_ohm"}; the
    same names without a band are the worst over those bands (over the sweep where it reaches none).
    A figure whose sweep is missing is None. "sentence" says it in words, "advice" what to do.
    Raises BenchnightError `jig.mixed_up` where an open sweep is of a closed jig, or the reverse.
    """
    plain = {
        role: convert_to_nominal(sweep, role)[0] for role, sweep in sweeps.items() if role in jig.JIG_ROLES
    }
    _refuse_mixed_up(plain)
    curves = _curves(plain)
    rows = [_row(band, curves, benchmark_db) for band in bands]
    reached = [row for row in rows if row is not None]
    whole = reached or [_overall(curves, benchmark_db)]
    figures = {"swept": [role for role in jig.JIG_ROLES if role in plain], "benchmark_db": benchmark_db}
    figures |= _worst(whole)
    figures |= {"open_capacitance_f": _capacitance(plain), "bands": reached}
    return figures | {"sentence": _sentence(figures), "advice": _advice(figures)}


_Curve = tuple[Floats, Floats]  # frequencies (F,) and values (F,)


def _curves(sweeps: Mapping[str, Sweep]) -> dict[str, _Curve]:
    """Return each figure over frequency, by name; absent where its sweep is."""
    found: dict[str, _Curve] = {}
    through, opened, shorted = (sweeps.get(role) for role in jig.JIG_ROLES)
    if through is not None:
        loss_db = series_through.rejection_db(through.column(1, 0, field="jig_through"))
        found["through_loss_db"] = through.freq_hz, loss_db
    if opened is not None:
        plain = _relative(opened, through)
        found["floor_db"] = plain.freq_hz, jig.jig_floor_db(plain)
        found["open_impedance_ohm"] = plain.freq_hz, _size_ohm(plain, "jig_open")
    if shorted is not None:
        plain = _relative(shorted, through)
        found["short_impedance_ohm"] = plain.freq_hz, _size_ohm(plain, "jig_short")
    return found


def _relative(sweep: Sweep, through: Sweep | None) -> Sweep:
    """Return `sweep` divided by the through where both reach; as it is without one."""
    if through is None:
        return sweep
    low = max(float(sweep.freq_hz[0]), float(through.freq_hz[0]))
    high = min(float(sweep.freq_hz[-1]), float(through.freq_hz[-1]))
    if low >= high:
        return sweep
    inner = cut_sweep(sweep, low, high)
    return jig.normalise_by_through(inner, resample_sweep(through, inner.freq_hz))[0]


def _size_ohm(sweep: Sweep, field: str) -> Floats:
    z_ohm = series_through.z_from_s21(
        sweep.column(1, 0, field=field), float(sweep.z0_ohm[0]), float(sweep.z0_ohm[1])
    )
    # nothing gets through at all: no finite impedance, and larger than any
    return np.where(np.isnan(z_ohm), np.inf, np.abs(z_ohm))


# name of a figure -> whether its smallest value is the bad one
_SMALLEST_IS_BAD = {
    "floor_db": True,
    "through_loss_db": False,
    "open_impedance_ohm": True,
    "short_impedance_ohm": False,
}


def _row(band: Band, curves: Mapping[str, _Curve], benchmark_db: float) -> dict[str, Any] | None:
    views = {name: _view(freq_hz, band) for name, (freq_hz, _) in curves.items()}
    if not any(view is not None for view in views.values()):
        return None
    found: dict[str, Any] = {"band": band.name, "start_hz": band.start_hz, "stop_hz": band.stop_hz}
    inside: dict[str, _Curve] = {}
    for name, view in views.items():
        if view is None:
            continue
        grid, one = view
        freq_hz, values = curves[name]
        on_grid = np.interp(grid.freq_hz, freq_hz, values)
        inside[name] = grid.freq_hz[one.inside], on_grid[one.inside]
    return found | _overall(inside, benchmark_db)


def _view(freq_hz: Floats, band: Band) -> tuple[BandGrid, BandView] | None:
    """Locate a band on a sweep; None where the sweep does not span it all."""
    grid = build_band_grid(freq_hz, (band,))
    return (grid, grid.views[0]) if grid.views[0].judged else None


def _overall(curves: Mapping[str, _Curve], benchmark_db: float) -> dict[str, Any]:
    """Return the worst of each curve over all that it holds."""
    found: dict[str, Any] = {"floor_hz": None}
    for name, smallest in _SMALLEST_IS_BAD.items():
        found[name] = None
        if name in curves:
            freq_hz, values = curves[name]
            at = int(np.argmin(values) if smallest else np.argmax(values))
            found[name] = to_json_number(values[at])
            if name == "floor_db":
                found["floor_hz"] = float(freq_hz[at])
    silent = "floor_db" in curves and found["floor_db"] is None  # nothing gets through: no floor at all
    floor = found["floor_db"]
    found["good_up_to_db"] = None if floor is None else floor - jig.FLOOR_MARGIN_DB
    found["good_enough"] = silent or (None if floor is None else floor - jig.FLOOR_MARGIN_DB >= benchmark_db)
    return found


def _worst(rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return over all rows; unknown where no row knows it."""
    found: dict[str, Any] = {}
    for name, smallest in _SMALLEST_IS_BAD.items():
        known = [row[name] for row in rows if row[name] is not None]
        found[name] = (min(known) if smallest else max(known)) if known else None
    worst = [row for row in rows if row["floor_db"] is not None and row["floor_db"] == found["floor_db"]]
    found["floor_hz"] = worst[0]["floor_hz"] if worst else None
    found["good_up_to_db"] = worst[0]["good_up_to_db"] if worst else None
    judged = [row["good_enough"] for row in rows if row["good_enough"] is not None]
    found["good_enough"] = all(judged) if judged else None
    return found


def _capacitance(sweeps: Mapping[str, Sweep]) -> float | None:
    """Return across the clips, from the open jig: the median of the susceptance over frequency."""
    opened = sweeps.get("jig_open")
    if opened is None:
        return None
    plain = _relative(opened, sweeps.get("jig_through"))
    if plain.magnitude_only:
        return None
    y = series_through.y_from_s21(
        plain.column(1, 0, field="jig_open"), float(plain.z0_ohm[0]), float(plain.z0_ohm[1])
    )
    capacitance_f = float(np.median(y.imag / (2 * np.pi * plain.freq_hz)))
    return to_json_number(capacitance_f) if capacitance_f > 0 else None


def _refuse_mixed_up(sweeps: Mapping[str, Sweep]) -> None:
    for role, sweep in sweeps.items():
        loss_db = series_through.rejection_db(sweep.column(1, 0, field=role))
        if role == "jig_open" and (loss_db < _CLOSED_DB).all():
            was, should = "closed", "with nothing attached"
        elif role != "jig_open" and (loss_db > _OPEN_DB).all():
            was, should = "open", "closed on itself" if role == "jig_through" else "linked"
        else:
            continue
        raise BenchnightError(
            "jig.mixed_up",
            f"This is a sweep of a jig that was {was}. Give here the one of the jig {should}.",
            field=role,
        )


def _sentence(figures: Mapping[str, Any]) -> str:
    if "jig_open" not in figures["swept"]:
        return "How much rejection this jig can show is unknown: it was not swept with nothing attached."
    if figures["floor_db"] is None:
        return "Open, the jig lets nothing through that the analyser could see: it limits no reading."
    good, floor = figures["good_up_to_db"], figures["floor_db"]
    if good <= 0:
        return f"Open, the jig lets through so much ({floor:.1f} dB) that it can show no rejection at all."
    return (
        f"Good for readings up to {good:.1f} dB: open, the jig lets through {floor:.1f} dB at worst "
        f"({format_megahertz(figures['floor_hz'])}), and within {jig.FLOOR_MARGIN_DB:g} dB of that a "
        f"reading can be "
        "3 dB wrong, up or down. A band that reads more is marked jig-limited and judged by what is certain."
    )


def _advice(figures: Mapping[str, Any]) -> list[str]:
    advice = []
    short_of = [row["band"] for row in figures["bands"] if row["good_enough"] is False]
    if figures["good_enough"] is False:
        where = f" on {', '.join(short_of)}" if short_of else ""
        advice.append(
            f"It cannot show the benchmark of {figures['benchmark_db']:g} dB{where}. Shorten the leads, keep "
            "the clips apart, screen between them, and sweep it open again."
        )
    lacking = [role for role in jig.JIG_ROLES if role not in figures["swept"]]
    if "jig_open" in lacking:
        advice.append("Sweep it with nothing attached and send that as jig_open.")
    if "jig_short" in lacking and "jig_open" not in lacking:
        advice.append("With a sweep of the jig linked (jig_short) readings are compensated for its leads.")
    loss_db = figures["through_loss_db"]
    if loss_db is not None and loss_db > jig.POOR_THROUGH_DB:
        advice.append(
            f"Closed on itself it loses up to {loss_db:.1f} dB: look for a broken lead or a poor contact."
        )
    return advice
