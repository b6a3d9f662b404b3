"""A balun as a three-port: port 1 the unbalanced side, ports 2 and 3 one balanced terminal each against
shield.

Either one .s3p, or two-port sweeps 1-2, 1-3 and perhaps 2-3, each with the third terminal ended in the
reference impedance: then the entries of the two-ports are entries of the three-port as they stand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import skrf

from measurements.errors import BenchnightError
from measurements.rf.flags import Flag, build_flag, format_megahertz
from measurements.rf.networks import two_port
from measurements.rf.request import Request, get_matching_sweeps
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats, Sweep

TWO_PORT_ROLES = {"sweep_12": (0, 1), "sweep_13": (0, 2), "sweep_23": (1, 2)}
AGREE_WITHIN = (
    0.05  # house default: entries measured twice differ by more only if the third terminal was not ended
)


@dataclass(frozen=True)
class ThreePort:
    """s: (F, 3, 3), z0_ohm at every port; measured: (3, 3), False marks entries that must not be used."""

    freq_hz: Floats
    s: Complexes
    measured: Bools
    z0_ohm: float
    magnitude_only: bool
    method: str
    main: Sweep
    flags: tuple[Flag, ...] = ()


def assemble_three_port(request: Request) -> ThreePort:
    """Return the three-port of `sweep` (.s3p), or of `sweep_12`, `sweep_13` and perhaps `sweep_23`.

    Raises BenchnightError `balance.ports`, `balance.two_terminals`, and those of `method_inputs.together`.
    """
    roles = list_three_port_roles(request)
    if roles == ["sweep"]:
        return _take_whole(request.sweep())
    for role in ("sweep_12", "sweep_13"):
        if role not in roles:
            raise BenchnightError(
                "balance.two_terminals",
                "Balance needs both halves: an .s3p as sweep, or two-port sweeps sweep_12 and sweep_13 with "
                f"the third terminal ended in 50 ohm. {role} is missing.",
                field=role,
            )
    return _join_sweeps(dict(zip(roles, get_matching_sweeps(request, roles), strict=True)))


def list_three_port_roles(request: Request) -> list[str]:
    """Return the roles that make the three-port: an .s3p before two-ports."""
    return (
        ["sweep"]
        if "sweep" in request.sweeps
        else [role for role in TWO_PORT_ROLES if role in request.sweeps]
    )


def _take_whole(sweep: Sweep) -> ThreePort:
    if sweep.ports != 3:
        raise BenchnightError(
            "balance.ports",
            f"sweep has {sweep.ports} ports where balance needs three. Send an .s3p, or two-port sweeps as "
            f"sweep_12 and sweep_13.",
            field="sweep",
        )
    if not np.allclose(sweep.z0_ohm, sweep.z0_ohm[0]):
        raise BenchnightError(
            "sweep.reference_differs",
            "The three ports do not refer to one impedance. Export the sweep with 50 ohm at every port.",
            field="sweep",
        )
    z0_ohm = float(sweep.z0_ohm[0])
    return ThreePort(
        sweep.freq_hz, sweep.s, sweep.measured, z0_ohm, sweep.magnitude_only, "three_port", sweep
    )


def _join_sweeps(sweeps: dict[str, Sweep]) -> ThreePort:
    """Build the three-port from its two-ports by `skrf.network.n_twoports_2_nport`.

    scikit-rf knows nothing of columns that were not measured, and of a reflection that two sweeps hold
    it keeps the last. Both are mended here: the mean of what was measured.
    """
    for role, sweep in sweeps.items():
        if sweep.ports != 2:
            raise BenchnightError(
                "balance.ports", f"{role} has {sweep.ports} ports where two belong.", field=role
            )
    first = next(iter(sweeps.values()))
    frequency = skrf.Frequency.from_f(first.freq_hz, unit="hz")
    two_ports = [
        skrf.Network(frequency=frequency, s=sweep.s, z0=first.z0_ohm[0], s_def=two_port.WAVES, name=role)
        for role, sweep in sweeps.items()
    ]
    joined = skrf.network.n_twoports_2_nport(two_ports, nports=3, s_def=two_port.WAVES)
    s, measured = _average_reflections(sweeps, joined.s)
    return ThreePort(
        freq_hz=first.freq_hz,
        s=s,
        measured=measured,
        z0_ohm=float(first.z0_ohm[0]),
        magnitude_only=any(sweep.magnitude_only for sweep in sweeps.values()),
        method="three_sweeps" if len(sweeps) == 3 else "two_sweeps",
        main=first,
        flags=_disagreements(sweeps),
    )


def _average_reflections(sweeps: dict[str, Sweep], joined: Complexes) -> tuple[Complexes, Bools]:
    """Average every reflection that was measured twice: S (F, 3, 3), and which entries were measured."""
    s = joined.copy()
    count = np.zeros((3, 3), int)
    total = np.zeros((len(s), 3), np.complex128)
    for role, sweep in sweeps.items():
        ports = TWO_PORT_ROLES[role]
        count[np.ix_(ports, ports)] += sweep.measured
        seen = np.diagonal(sweep.measured)
        total[:, ports] += np.where(seen, np.diagonal(sweep.s, axis1=1, axis2=2), 0)
    at = np.arange(3)
    s[:, at, at] = total / np.maximum(np.diagonal(count), 1)
    measured: Bools = count > 0
    return np.where(measured, s, 0), measured


def _disagreements(sweeps: dict[str, Sweep]) -> tuple[Flag, ...]:
    """Return a flag for every reflection that two sweeps measured and do not agree on."""
    found = []
    for port in range(3):
        seen = [(role, TWO_PORT_ROLES[role].index(port)) for role in sweeps if port in TWO_PORT_ROLES[role]]
        seen = [(role, i) for role, i in seen if sweeps[role].measured[i, i]]
        if len(seen) < 2:
            continue
        (first, i), (second, j) = seen
        apart = np.abs(sweeps[first].s[:, i, i] - sweeps[second].s[:, j, j])
        if apart.max() > AGREE_WITHIN:
            worst = f"{apart.max():.2f} at {format_megahertz(float(sweeps[first].freq_hz[apart.argmax()]))}"
            parameter = f"S{port + 1}{port + 1}"
            found.append(
                build_flag(
                    "balance_sweeps_disagree",
                    parameter=parameter,
                    difference=worst,
                    first=first,
                    second=second,
                )
            )
    return tuple(found)


def name_parameter(i: int, j: int) -> str:
    """Return S(i+1)(j+1) as it is written."""
    return f"S{i + 1}{j + 1}"


def fill_reciprocal_entries(device: ThreePort) -> tuple[Complexes, list[str], list[str]]:
    """Return all nine entries: s, names taken from their reverse, names that are missing altogether."""
    s, filled, missing = device.s.copy(), [], []
    for i in range(3):
        for j in range(3):
            if device.measured[i, j]:
                continue
            if i != j and device.measured[j, i]:
                s[:, i, j] = device.s[:, j, i]
                filled.append(name_parameter(i, j))
            else:
                missing.append(name_parameter(i, j))
    return s, filled, missing
