"""Collects several faults of one input, so that a person mends them all in one go."""

from __future__ import annotations

from measurements.errors import BenchnightError, FieldError


class Faults:
    """Gathers field errors; `raise_any` raises one BenchnightError that carries them all."""

    def __init__(self, code: str, detail: str) -> None:
        self._code = code
        self._detail = detail
        self._found: list[FieldError] = []

    def add(self, field: str, code: str, detail: str) -> None:
        """Notes one fault of `field`."""
        self._found.append(FieldError(code, detail, field))

    def take(self, error: BenchnightError) -> None:
        """Notes the faults that another check raised."""
        self._found.extend(error.errors)

    @property
    def any(self) -> bool:
        """Whether anything was noted."""
        return bool(self._found)

    def raise_any(self) -> None:
        """Raises BenchnightError when anything was noted; the first fault names the main field."""
        if self._found:
            first = self._found[0]
            detail = first.detail if len(self._found) == 1 else self._detail
            raise BenchnightError(
                first.code if len(self._found) == 1 else self._code,
                detail,
                field=first.field,
                errors=tuple(self._found),
            )
