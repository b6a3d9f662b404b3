"""Touchstone bytes -> Sweep: the strict gate first, then scikit-rf reads the numbers.

`skrf.io.Touchstone` never sees the file as it came. The gate hands it a clean version 2 file instead,
without comments and noise, with every keyword stated. That corrects scikit-rf 2.2 where it is wrong or
silent: comments cannot overrule port impedances, a two-port given as a Lower matrix is stated in an order
that it fills wholly, no row is dropped as noise because its frequency falls, and Z, Y, G and H come back as
written, to be scaled by the document. Frequencies and values that it takes without a word are refused.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Sequence

import numpy as np
import skrf

from measurements.rf.sweeps.file_limits import (
    MAX_MAGNITUDE,
    build_refusal,
    check_frequencies,
    check_values,
)
from measurements.rf.sweeps.parameter_conversion import convert_to_scattering, scale_to_units
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep
from measurements.rf.sweeps.text_lines import decode_lines
from measurements.rf.sweeps.touchstone_gate import CheckedBody, read_checked_body
from measurements.rf.sweeps.touchstone_rows import check_rows_by_line
from measurements.rf.sweeps.unmeasured_columns import find_measured_columns

_UNIT_NAMES = {"hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz"}

_FORMAT_NAMES = {"ri": "real and imaginary", "ma": "magnitude and angle", "db": "decibels and angle"}


def read_touchstone(data: bytes, name: str) -> Sweep:
    """Read one Touchstone file. name: its file name, which gives the ports of a version 1 file.

    Raises BenchnightError (code "sweep.<what>", field "sweep", the line) for everything that is not
    one clean sweep of 1 to 4 ports.
    """
    return build_touchstone_sweep(read_checked_body(decode_lines(data), name))


def build_touchstone_sweep(gated: CheckedBody) -> Sweep:
    """Build the sweep of a body that passed the gate."""
    read = _read_numbers(gated)
    freq_hz, matrix = np.asarray(read.f, np.float64), np.asarray(read.s, np.complex128)
    z0_ohm = np.array(gated.references_ohm)
    check_frequencies(freq_hz, gated.rows.line_of)
    _refuse_negative_magnitudes(gated)
    if gated.option.parameter == "s":
        check_values(matrix, gated.rows.line_of)
    else:
        _check_finite(matrix, gated)
    s = _convert_to_s(matrix, gated, z0_ohm)
    measured, found = find_measured_columns(s)
    return Sweep(
        freq_hz=freq_hz,
        s=s,
        z0_ohm=z0_ohm,
        measured=measured,
        source="touchstone",
        notes=(_describe_file(gated), *gated.notes, *_noise_note(gated), *found),
    )


def _read_numbers(gated: CheckedBody) -> skrf.io.Touchstone:
    """Let scikit-rf read the rows; `.f` (F,) in Hz, `.s` (F, P, P) as written, of whatever parameter."""
    stream = io.StringIO(_format_clean_file(gated))
    stream.name = "sweep.ts"
    # an absurd frequency or decibel value overflows to infinity here and is refused, with its line, after
    with np.errstate(over="ignore", invalid="ignore"):
        try:
            return skrf.io.Touchstone(stream)
        except ValueError:
            # a word such as "1e" among the plain rows: name it
            width = 1 + 2 * gated.pairs
            check_rows_by_line(gated.rows.rows, width, one_line=False, noise=False)
            raise


def _format_clean_file(gated: CheckedBody) -> str:
    """Write the rows as a version 2 file in which nothing is left to scikit-rf's own guess.

    A Lower or Upper matrix is stated as 12_21: it is symmetric, and of the other order scikit-rf 2.2 leaves
    half of a two-port unset. The parameter is stated as S, so that the values come back as they are.
    """
    option = gated.option
    order = gated.order if gated.matrix == "full" else "12_21"
    return "\n".join(
        (
            "[Version] 2.0",
            f"# {option.unit} S {option.form} R 50",
            f"[Number of Ports] {gated.ports}",
            *([f"[Two-Port Data Order] {order}"] if gated.ports == 2 else []),
            f"[Number of Frequencies] {gated.rows.points}",
            f"[Reference] {' '.join(map(repr, gated.references_ohm))}",
            f"[Matrix Format] {gated.matrix}",
            "[Network Data]",
            gated.rows.text,
            "[End]",
        )
    )


def _refuse_negative_magnitudes(gated: CheckedBody) -> None:
    """Refuse negative numbers where magnitudes belong: decibels or real parts under the wrong option.

    scikit-rf takes the sign for a turn by 180 degrees, so -20 dB would become a magnitude of 20.
    """
    text = gated.rows.text
    if gated.option.form != "ma" or "-" not in text:
        return
    numbers = np.array(text.split(), dtype=np.float64).reshape(gated.rows.points, -1)
    negative = (numbers[:, 1::2] < 0).any(axis=1)
    if negative.any():
        line = gated.rows.line_of(int(np.argmax(negative)))
        raise build_refusal(
            "negative_magnitude",
            f"A magnitude in line {line} is negative. The option line says MA (magnitude and angle): are "
            "these decibels (DB) or real and imaginary parts (RI)? Mend the option line or export again.",
            line,
        )


def _check_finite(matrix: Complexes, gated: CheckedBody) -> None:
    finite = np.isfinite(matrix).all(axis=(1, 2))
    if not finite.all():
        line = gated.rows.line_of(int(np.argmin(finite)))
        raise build_refusal("not_finite", f"A value in line {line} is not a finite number.", line)


def _convert_to_s(matrix: Complexes, gated: CheckedBody, z0_ohm: Floats) -> Complexes:
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
            parameter, scale_to_units(parameter, matrix, z0_ohm) if gated.normalised else matrix, z0_ohm
        )
        sound = (np.abs(s) <= MAX_MAGNITUDE).all(axis=(1, 2))
    if not sound.all():
        line = gated.rows.line_of(int(np.argmin(sound)))
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
    """Return the text of a .s1p to .s4p file.

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
    """Return one line for one and two ports (S11 S21 S12 S22), one for each matrix row above."""
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
