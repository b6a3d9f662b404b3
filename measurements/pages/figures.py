"""Numbers as a person reads them. What does not exist is a dash, never a zero."""

from __future__ import annotations

from typing import Any

NONE = "–"


def plain(value: float | None, digits: int = 1) -> str:
    """A number with fixed decimals and thousands apart."""
    return NONE if value is None else f"{value:,.{digits}f}".replace("-", "−")


def change(value: float | None) -> str:
    """A difference with its sign and one decimal; what rounds to nothing has none."""
    if value is None:
        return NONE
    text = f"{value:+.1f}".replace("-", "−")
    return text[1:] if text[1:] == "0.0" else text


def short(value: float | None, significant: int = 3) -> str:
    """A number with that many significant digits and no superfluous zeros."""
    if value is None:
        return NONE
    rounded = float(f"{value:.{significant}g}")
    text = f"{rounded:,.0f}" if abs(rounded) >= 10 ** (significant - 1) else f"{rounded:g}"
    return text.replace("-", "−")


def mhz(freq_hz: float | None) -> str:
    """A frequency in MHz without its unit."""
    return NONE if freq_hz is None else f"{freq_hz / 1e6:.5g}"


def mhz_predicted(freq_hz: float | None) -> str:
    """A frequency that is only known to a few per cent, in MHz without its unit."""
    return NONE if freq_hz is None else short(freq_hz / 1e6, 2)


def core_size(size_mm: tuple[float, float, float]) -> str:
    """Outer and inner diameter and height in mm, without the unit: `61 × 35.55 × 12.7`."""
    return " × ".join(f"{each:g}" for each in size_mm)


def mhz_start(freq_hz: float) -> str:
    """Where a band begins, short enough for a button."""
    return f"{freq_hz / 1e6:.3g}"


def ohm(value: float | None) -> str:
    """An impedance in ohm, three significant digits."""
    return short(value)


def complex_ohm(value: dict[str, Any] | None) -> str:
    """R and X of a complex impedance, such as `1,500 + j2,500`."""
    if not value or value.get("re") is None or value.get("im") is None:
        return NONE
    sign = "−" if value["im"] < 0 else "+"
    return f"{short(value['re'])} {sign} j{short(abs(value['im']))}"


def microhenry(value: float | None) -> str:
    """An inductance, H, in microhenry."""
    return NONE if value is None else short(value * 1e6)


def nanohenry(value: float | None) -> str:
    """An inductance, H, in nanohenry."""
    return NONE if value is None else short(value * 1e9)


def picofarad(value: float | None, significant: int = 3) -> str:
    """A capacitance, F, in picofarad."""
    return NONE if value is None else short(value * 1e12, significant)


def kilobytes(size: int) -> str:
    """A file's size in words."""
    return f"{size} bytes" if size < 1000 else f"{size / 1000:,.0f} kB"


def percent(share: float | None) -> str:
    """A share 0..1 as a percentage."""
    return NONE if share is None else f"{100 * share:.0f} %"
