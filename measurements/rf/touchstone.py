"""Touchstone bytes -> Sweep.

Decision: the numbers are parsed here, behind the strict gate, and not by `skrf.Network`. The gate
has to look at every token anyway; parsing them a second time would double the cost, and scikit-rf
2.2 would still have to be kept from its own readings of a file (port impedances in comments
overrule the option line, options must stand in one order, version 1 Y, G and H are scaled the wrong
way, a Lower matrix of two ports leaves memory unset). scikit-rf is the yardstick in the tests
instead: the same numbers to 1e-12 wherever it follows the document.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.bounds import MAX_MAGNITUDE, check_values, refusal
from measurements.rf.network_parameters import normalised, scattering
from measurements.rf.sweep import Complexes, Floats, Sweep
from measurements.rf.text_lines import lines_of
from measurements.rf.touchstone_gate import Gated, gate
from measurements.rf.unmeasured import measured_columns

_UNIT_NAMES = {"hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz"}
_FORMAT_NAMES = {"ri": "real and imaginary", "ma": "magnitude and angle", "db": "decibels and angle"}


def read_touchstone(data: bytes, name: str) -> Sweep:
    """Read one Touchstone file. name: its file name, which gives the ports of a version 1 file.

    Raises BenchnightError (code "sweep.<what>", field "sweep", the line) for everything that is not
    one clean sweep of 1 to 4 ports.
    """
    return sweep_of(gate(lines_of(data), name))


def sweep_of(gated: Gated) -> Sweep:
    """The sweep in a body that passed the gate."""
    numbers = gated.table.numbers
    z0_ohm = np.array(gated.references_ohm)
    matrix = _matrix(_pairs(numbers[:, 1:], gated.option.form), gated)
    check_values(matrix, gated.table.line_of) if gated.option.parameter == "s" else _check_finite(
        matrix, gated
    )
    s = _scattering(matrix, gated, z0_ohm)
    measured, found = measured_columns(s)
    return Sweep(
        freq_hz=gated.freq_hz,
        s=s,
        z0_ohm=z0_ohm,
        measured=measured,
        source="touchstone",
        notes=(_described(gated), *gated.notes, *_noise_note(gated), *found),
    )


def _pairs(numbers: Floats, form: str) -> Complexes:
    """(F, 2N) pairs as written -> (F, N) complex."""
    first, second = numbers[:, 0::2], numbers[:, 1::2]
    if form == "ri":
        complexes = np.empty(first.shape, dtype=np.complex128)
        complexes.real, complexes.imag = first, second
        return complexes
    # an absurd decibel value overflows to infinity here and is refused, with its line, after
    with np.errstate(over="ignore", invalid="ignore"):
        magnitude = 10 ** (first / 20.0) if form == "db" else first
        polar: Complexes = magnitude * np.exp(1j * second * np.pi / 180)
    return polar


def _matrix(flat: Complexes, gated: Gated) -> Complexes:
    """(F, N) in file order -> (F, P, P); a Lower or Upper file is symmetric by its own statement."""
    points, ports = len(flat), gated.ports
    if gated.matrix == "full":
        matrix = flat.reshape(points, ports, ports)
        return matrix.transpose(0, 2, 1) if gated.order == "21_12" else matrix
    rows, columns = np.tril_indices(ports) if gated.matrix == "lower" else np.triu_indices(ports)
    matrix = np.empty((points, ports, ports), dtype=np.complex128)
    matrix[:, rows, columns] = flat
    matrix[:, columns, rows] = flat
    return matrix


def _check_finite(matrix: Complexes, gated: Gated) -> None:
    finite = np.isfinite(matrix).all(axis=(1, 2))
    if not finite.all():
        line = gated.table.line_of(int(np.argmin(finite)))
        raise refusal("not_finite", f"A value in line {line} is not a finite number.", line)


def _scattering(matrix: Complexes, gated: Gated, z0_ohm: Floats) -> Complexes:
    parameter = gated.option.parameter
    if parameter == "s":
        return np.ascontiguousarray(matrix)
    if parameter in "gh" and gated.ports != 2:
        raise refusal(
            "option_line",
            f"Line {gated.option.line}: {parameter.upper()} parameters are for two ports. Export as S.",
            gated.option.line,
        )
    with np.errstate(over="ignore", invalid="ignore"):
        s = scattering(parameter, matrix if gated.normalised else normalised(parameter, matrix, z0_ohm))
        sound = (np.abs(s) <= MAX_MAGNITUDE).all(axis=(1, 2))
    if not sound.all():
        line = gated.table.line_of(int(np.argmin(sound)))
        raise refusal(
            "no_s_parameters",
            f"The {parameter.upper()} values in line {line} have no S-parameters. Export S-parameters.",
            line,
        )
    return s


def _described(gated: Gated) -> str:
    option = gated.option
    references = " and ".join(f"{ohm:g}" for ohm in dict.fromkeys(gated.references_ohm))
    parameter = "S" if option.parameter == "s" else f"{option.parameter.upper()} (converted to S)"
    return (
        f"Touchstone {gated.version}, {gated.ports} port{'s' * (gated.ports > 1)}, {parameter} as "
        f"{_FORMAT_NAMES[option.form]}, frequency in {_UNIT_NAMES[option.unit]}, reference {references} ohm."
    )


def _noise_note(gated: Gated) -> tuple[str, ...]:
    if gated.noise_line is None:
        return ()
    return (f"The noise data from line {gated.noise_line} on are not used.",)
