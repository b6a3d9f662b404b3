"""Numbers as a person reads them. What does not exist is a dash, never a zero."""

from __future__ import annotations

from typing import Any

NO_VALUE = "–"

MOST_SWR = 10.0  # house default: where axes end, and figures become "over 10"


def format_number(value: float | None, digits: int = 1) -> str:
    """Return a number with fixed decimals and thousands apart."""
    return NO_VALUE if value is None else f"{value:,.{digits}f}".replace("-", "−")


def format_swr(value: float | None) -> str:
    """Return an SWR with two decimals; beyond 10 no figure means anything, and none is shown."""
    return "over 10" if value is not None and value > MOST_SWR else format_number(value, 2)


def format_change(value: float | None) -> str:
    """Return a difference with its sign and one decimal; what rounds to nothing has none."""
    if value is None:
        return NO_VALUE
    text = f"{value:+.1f}".replace("-", "−")
    return text[1:] if text[1:] == "0.0" else text


def format_significant(value: float | None, significant: int = 3) -> str:
    """Return a number with that many significant digits and no superfluous zeros."""
    if value is None:
        return NO_VALUE
    rounded = float(f"{value:.{significant}g}")
    text = f"{rounded:,.0f}" if abs(rounded) >= 10 ** (significant - 1) else f"{rounded:g}"
    return text.replace("-", "−")


def format_mhz(freq_hz: float | None) -> str:
    """Return a frequency in MHz without its unit."""
    return NO_VALUE if freq_hz is None else f"{freq_hz / 1e6:.5g}"


def format_predicted_mhz(freq_hz: float | None) -> str:
    """Return a frequency that is only known to a few per cent, in MHz without its unit."""
    return NO_VALUE if freq_hz is None else format_significant(freq_hz / 1e6, 2)


def format_core_size(size_mm: tuple[float, float, float]) -> str:
    """Return outer and inner diameter and height in mm, without the unit: `61 × 35.55 × 12.7`."""
    return " × ".join(f"{each:g}" for each in size_mm)


def format_band_start_mhz(freq_hz: float) -> str:
    """Format the start of a band, short enough for a button."""
    return f"{freq_hz / 1e6:.3g}"


def format_ohm(value: float | None) -> str:
    """Return an impedance in ohm, three significant digits."""
    return format_significant(value)


def format_complex_ohm(value: dict[str, Any] | None) -> str:
    """Return R and X of a complex impedance, such as `1,500 + j2,500`."""
    if not value or value.get("re") is None or value.get("im") is None:
        return NO_VALUE
    sign = "−" if value["im"] < 0 else "+"
    return f"{format_significant(value['re'])} {sign} j{format_significant(abs(value['im']))}"


def format_microhenry(value: float | None) -> str:
    """Return an inductance, H, in microhenry."""
    return NO_VALUE if value is None else format_significant(value * 1e6)


def format_nanohenry(value: float | None) -> str:
    """Return an inductance, H, in nanohenry."""
    return NO_VALUE if value is None else format_significant(value * 1e9)


def format_picofarad(value: float | None, significant: int = 3) -> str:
    """Return a capacitance, F, in picofarad."""
    return NO_VALUE if value is None else format_significant(value * 1e12, significant)


def format_kilobytes(size: int) -> str:
    """Return a file's size in words."""
    return f"{size} bytes" if size < 1000 else f"{size / 1000:,.0f} kB"


def format_percent(share: float | None) -> str:
    """Return a share 0..1 as a percentage."""
    return NO_VALUE if share is None else f"{100 * share:.0f} %"
