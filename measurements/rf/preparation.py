"""Before any figure: turned sweeps merged, other references converted to 50 ohm.

Benchmarks and limits are meant in a 50-ohm system. A sweep that refers to something else is converted
where that is exact: a one-port (or a sweep of S11 alone), or a sweep with every S-parameter.

An S-parameter 300 dB down is nothing at all: every formula knows what to do with 0, while the square of a
1e-300 would overflow in its reciprocal.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.flags import Flag, build_flag
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.networks import two_port
from measurements.rf.request import Request
from measurements.rf.sweeps.sweep import Sweep
from measurements.rf.sweeps.turned_sweeps import merge_turned_sweeps

_TWO_PORT_KINDS = ("common_mode", "insertion_loss")
_NOTHING = 1e-15  # 300 dB down, below the rounding of a sum with 1


def prepare_request(request: Request) -> tuple[Request, tuple[Flag, ...]]:
    """Return the request as the kinds take it, and flags on what was done to it.

    Raises BenchnightError `sweep.missing` for a reversed sweep without its forward one, `sweep.ports`.
    """
    sweeps = dict(request.sweeps)
    _refuse_many_ports(request.kind, sweeps)
    turned = sweeps.pop("sweep_reversed", None)
    if turned is not None:
        forward = sweeps.get("sweep")
        if forward is None:
            raise BenchnightError(
                "sweep.missing",
                "sweep_reversed is the second half of a two-port: send the first half as sweep.",
                field="sweep",
            )
        sweeps["sweep"] = merge_turned_sweeps(forward, turned)
    flags: list[Flag] = []
    for role, sweep in sweeps.items():
        sweeps[role], found = convert_to_nominal(_without_vanishing(sweep), role)
        flags += found
    return replace(request, sweeps=sweeps), tuple(flags)


def _refuse_many_ports(kind: str, sweeps: Mapping[str, Sweep]) -> None:
    """Refuse files of three and more ports where a device lies between two; the others end somewhere."""
    for role, sweep in sweeps.items():
        if kind in _TWO_PORT_KINDS and sweep.ports > 2:
            raise BenchnightError(
                "sweep.ports",
                f"{role} has {sweep.ports} ports where one or two belong. Export S11 and S21 of the two "
                "ports that the device lay between, or file the sweep as balance.",
                field=role,
            )


def _without_vanishing(sweep: Sweep) -> Sweep:
    vanishing = (np.abs(sweep.s) < _NOTHING) & (sweep.s != 0)
    return replace(sweep, s=np.where(vanishing, 0, sweep.s)) if vanishing.any() else sweep


def convert_to_nominal(sweep: Sweep, role: str) -> tuple[Sweep, tuple[Flag, ...]]:
    """Return `sweep` referred to 50 ohm at every port, where that is exact; as it is, with a flag,
    otherwise.
    """
    if (sweep.z0_ohm == NOMINAL_OHM).all():
        return sweep, ()
    stated = " and ".join(f"{z0:g}" for z0 in sorted(set(sweep.z0_ohm.tolist())))
    converted = None if sweep.magnitude_only else _converted(sweep)
    if converted is None:
        return sweep, (build_flag("reference_not_50", role=role, reference_ohm=stated),)
    return converted, (build_flag("reference_converted", role=role, reference_ohm=stated),)


def _converted(sweep: Sweep) -> Sweep | None:
    nominal = np.full(sweep.ports, NOMINAL_OHM)
    if sweep.measured.all():
        s = two_port.renormalise_s(sweep.s, sweep.z0_ohm.tolist(), nominal.tolist())
    elif sweep.measured[0, 0] and sweep.measured.sum() == 1:
        s = sweep.s.copy()
        near = two_port.renormalise_s(sweep.s[:, :1, :1], sweep.z0_ohm[:1].tolist(), [NOMINAL_OHM])
        s[:, 0, 0] = near[:, 0, 0]
    else:
        return None
    return replace(sweep, s=s, z0_ohm=nominal)
