"""The one error that every room raises and every door translates.

Doors (REST, pages, commands) turn a `BenchnightError` into their own shape; nothing below them
knows about HTTP. `code` is stable and documented, `detail` is a sentence for a person that says
what to do, `field` names the input at fault and `line` the line of a file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["invalid", "forbidden", "not_found", "conflict", "too_large", "too_many"]


@dataclass(frozen=True)
class FieldError:
    """One thing wrong with one input: `field` and `line` are None where they do not apply."""

    code: str
    detail: str
    field: str | None = None
    line: int | None = None


class BenchnightError(Exception):
    """Something a person can mend.

    code: stable, dotted, lower case (`sweep.missing_option_line`).
    detail: what is wrong and what to do, in plain words.
    kind: which family of answer a door gives.
    field, line: the input and the line of the file at fault.
    errors: several faults found at once; by default the one given here.
    wait_s: seconds after which a limit that is used up has room again, where waiting helps.
    """

    def __init__(
        self,
        code: str,
        detail: str,
        *,
        kind: Kind = "invalid",
        field: str | None = None,
        line: int | None = None,
        errors: tuple[FieldError, ...] = (),
        wait_s: int | None = None,
    ) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.kind: Kind = kind
        self.field = field
        self.line = line
        self.wait_s = wait_s
        self.errors = errors or (FieldError(code, detail, field, line),)


# Collects several faults of one input, so that a person mends them all in one go.


class ErrorCollector:
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
