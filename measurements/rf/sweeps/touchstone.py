"""Touchstone bytes -> Sweep.

Decision: the numbers are parsed here, behind the strict gate, and not by `skrf.Network`. The gate
has to look at every token anyway; parsing them a second time would double the cost, and scikit-rf
2.2 would still have to be kept from its own readings of a file (port impedances in comments
overrule the option line, options must stand in one order, version 1 Y, G and H are scaled the wrong
way, a Lower matrix of two ports leaves memory unset). scikit-rf is the yardstick in the tests
instead: the same numbers to 1e-12 wherever it follows the document.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from measurements.rf.sweeps.file_limits import MAX_MAGNITUDE, build_refusal, check_values
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep
from measurements.rf.sweeps.text_lines import decode_lines
from measurements.rf.sweeps.touchstone_gate import CheckedBody, read_checked_body
from measurements.rf.sweeps.unmeasured_columns import find_measured_columns

# Z, Y, G and H matrices -> S, for real references.
#
# Closed forms on normalised values, so that no matrix has to exist that need not: a series impedance
# has no Z matrix, an ideal transformer neither Z nor Y, and scikit-rf goes through Z for G and H.
# Where the detour exists the numbers are those of scikit-rf `z2s`, `y2s`, `g2s`, `h2s`.
#
# With voltages divided by sqrt(z0) and currents multiplied by it (S = b/a, a = (v+i)/2, b = (v-i)/2):
# S = (z-1)(z+1)^-1 = (1+y)^-1 (1-y); for h, with D = (h11+1)(h22+1) - h12 h21:
# S11 = ((h11-1)(h22+1) - h12 h21)/D, S12 = 2 h12/D, S21 = -2 h21/D, S22 = ((1+h11)(1-h22) + h12 h21)/D.
# G is the H of the device turned round. scikit-rf multiplies the normalised data of a version 1 file
# by R for every parameter; by the document Y and the last entry of H (first of G) are divided by it.


def normalise_parameters(parameter: str, matrix: Complexes, z0_ohm: Floats) -> Complexes:
    """Divide the reference out of a Z, Y, G or H matrix.

    matrix: (F, P, P) in ohm, siemens or ratios as the parameter has it; z0_ohm: (P,) positive.
    """
    root = np.sqrt(z0_ohm)
    if parameter == "z":
        scale = 1.0 / np.outer(root, root)
    elif parameter == "y":
        scale = np.outer(root, root)
    elif parameter == "h":
        scale = np.array([[1 / z0_ohm[0], root[1] / root[0]], [root[1] / root[0], z0_ohm[1]]])
    else:
        scale = np.array([[z0_ohm[0], root[0] / root[1]], [root[0] / root[1], 1 / z0_ohm[1]]])
    scaled: Complexes = matrix * scale
    return scaled


def convert_to_scattering(parameter: str, matrix: Complexes) -> Complexes:
    """S of a normalised Z, Y (F, P, P) or G, H (F, 2, 2) matrix.

    A singular case (an active device) gives infinite or NaN entries: the caller checks.
    """
    if parameter == "h":
        return _from_h(matrix)
    if parameter == "g":
        return _from_h(matrix[:, ::-1, ::-1])[:, ::-1, ::-1]
    one = np.eye(matrix.shape[-1])
    numerator = matrix - one if parameter == "z" else one - matrix
    try:
        # both factors are functions of one matrix and commute, so the order does not matter
        return np.asarray(np.linalg.solve(matrix + one, numerator), dtype=np.complex128)
    except np.linalg.LinAlgError:
        return np.full_like(matrix, np.nan)


def _from_h(h: Complexes) -> Complexes:
    h11, h12, h21, h22 = h[:, 0, 0], h[:, 0, 1], h[:, 1, 0], h[:, 1, 1]
    product = h12 * h21
    divisor = (h11 + 1) * (h22 + 1) - product
    s = np.empty_like(h)
    s[:, 0, 0] = (h11 - 1) * (h22 + 1) - product
    s[:, 0, 1] = 2 * h12
    s[:, 1, 0] = -2 * h21
    s[:, 1, 1] = (1 + h11) * (1 - h22) + product
    with np.errstate(divide="ignore", invalid="ignore"):
        return s / divisor[:, None, None]


_UNIT_NAMES = {"hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz"}

_FORMAT_NAMES = {"ri": "real and imaginary", "ma": "magnitude and angle", "db": "decibels and angle"}


def read_touchstone(data: bytes, name: str) -> Sweep:
    """Read one Touchstone file. name: its file name, which gives the ports of a version 1 file.

    Raises BenchnightError (code "sweep.<what>", field "sweep", the line) for everything that is not
    one clean sweep of 1 to 4 ports.
    """
    return build_touchstone_sweep(read_checked_body(decode_lines(data), name))


def build_touchstone_sweep(gated: CheckedBody) -> Sweep:
    """The sweep in a body that passed the gate."""
    numbers = gated.table.numbers
    z0_ohm = np.array(gated.references_ohm)
    matrix = _matrix(_pairs(numbers[:, 1:], gated.option.form), gated)
    check_values(matrix, gated.table.line_of) if gated.option.parameter == "s" else _check_finite(
        matrix, gated
    )
    s = _scattering(matrix, gated, z0_ohm)
    measured, found = find_measured_columns(s)
    return Sweep(
        freq_hz=gated.freq_hz,
        s=s,
        z0_ohm=z0_ohm,
        measured=measured,
        source="touchstone",
        notes=(_describe_file(gated), *gated.notes, *_noise_note(gated), *found),
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


def _matrix(flat: Complexes, gated: CheckedBody) -> Complexes:
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


def _check_finite(matrix: Complexes, gated: CheckedBody) -> None:
    finite = np.isfinite(matrix).all(axis=(1, 2))
    if not finite.all():
        line = gated.table.line_of(int(np.argmin(finite)))
        raise build_refusal("not_finite", f"A value in line {line} is not a finite number.", line)


def _scattering(matrix: Complexes, gated: CheckedBody, z0_ohm: Floats) -> Complexes:
    parameter = gated.option.parameter
    if parameter == "s":
        return np.ascontiguousarray(matrix)
    if parameter in "gh" and gated.ports != 2:
        raise build_refusal(
            "option_line",
            f"Line {gated.option.line}: {parameter.upper()} parameters are for two ports. Export as S.",
            gated.option.line,
        )
    with np.errstate(over="ignore", invalid="ignore"):
        s = convert_to_scattering(
            parameter, matrix if gated.normalised else normalise_parameters(parameter, matrix, z0_ohm)
        )
        sound = (np.abs(s) <= MAX_MAGNITUDE).all(axis=(1, 2))
    if not sound.all():
        line = gated.table.line_of(int(np.argmin(sound)))
        raise build_refusal(
            "no_s_parameters",
            f"The {parameter.upper()} values in line {line} have no S-parameters. Export S-parameters.",
            line,
        )
    return s


def _describe_file(gated: CheckedBody) -> str:
    option = gated.option
    references = " and ".join(f"{ohm:g}" for ohm in dict.fromkeys(gated.references_ohm))
    parameter = "S" if option.parameter == "s" else f"{option.parameter.upper()} (converted to S)"
    return (
        f"Touchstone {gated.version}, {gated.ports} port{'s' * (gated.ports > 1)}, {parameter} as "
        f"{_FORMAT_NAMES[option.form]}, frequency in {_UNIT_NAMES[option.unit]}, reference {references} ohm."
    )


def _noise_note(gated: CheckedBody) -> tuple[str, ...]:
    if gated.noise_line is None:
        return ()
    return (f"The noise data from line {gated.noise_line} on are not used.",)


# Sweep -> Touchstone text of version 1 (Hz, S, RI), which reads back to the same numbers.
#
# Decisions: columns that were not measured are written as zeros, the way analysers do, with a comment
# that names them (the reader finds them again); a sweep of sizes without phase is refused, because
# the format has no way to say so. References that differ from port to port use the option line of
# version 1.1. Numbers have 17 significant digits, so they read back bit for bit.

_WIDTH = 100

MAX_COMMENT_CHARACTERS = 4_000


def format_touchstone(sweep: Sweep, *, comments: Sequence[str] = ()) -> str:
    """The text of a .s1p to .s4p file.

    comments: sentences for the head; made plain ASCII without line ends, folded at 100 characters
    and led by a dash, so that no reader takes one for an instruction.

    Raises BenchnightError `sweep.magnitude_only`.
    """
    if sweep.magnitude_only:
        raise build_refusal("magnitude_only", "This sweep has no phase and cannot be written as Touchstone.")
    said = [*comments, *_describe_unmeasured(sweep)]
    head = [f"! - {line}" for comment in said for line in _fold_comment(comment)]
    references = sweep.z0_ohm[:1] if len(set(sweep.z0_ohm.tolist())) == 1 else sweep.z0_ohm
    option = "# Hz S RI R " + " ".join(repr(float(ohm)) for ohm in references)
    return "\n".join([*head, option, *_format_rows(sweep)]) + "\n"


def _describe_unmeasured(sweep: Sweep) -> list[str]:
    if sweep.measured.all():
        return []
    names = [f"S{i + 1}{j + 1}" for i, j in zip(*np.nonzero(~sweep.measured), strict=True)]
    return [f"Not measured, written as zeros: {', '.join(names)}."]


def _fold_comment(comment: str) -> list[str]:
    plain = comment[:MAX_COMMENT_CHARACTERS].encode("ascii", "replace").decode("ascii")
    plain = "".join(mark if mark.isprintable() else " " for mark in plain)
    return textwrap.wrap(plain, _WIDTH)


def _format_rows(sweep: Sweep) -> list[str]:
    """One line for one and two ports (S11 S21 S12 S22), one for each matrix row above."""
    ports = sweep.ports
    s = np.where(sweep.measured, sweep.s, 0)
    if ports == 2:
        s = s.transpose(0, 2, 1)
    flat = np.ascontiguousarray(s.reshape(sweep.points, ports**2)).view(np.float64)
    per_line = 2 * ports if ports > 2 else 2 * ports**2
    lines = []
    for freq_hz, values in zip(sweep.freq_hz.tolist(), flat.tolist(), strict=True):
        words = [repr(value) for value in values]
        chunks = [" ".join(words[at : at + per_line]) for at in range(0, len(words), per_line)]
        lines.append(f"{freq_hz!r} {chunks[0]}")
        lines.extend(f"  {chunk}" for chunk in chunks[1:])
    return lines
