"""The one error that every room raises and every door translates.

Doors (REST, pages, commands) turn a `BenchnightError` into their own shape; nothing below them
knows about HTTP. `code` is stable and documented, `detail` is a sentence for a person that says
what to do, `field` names the input at fault and `line` the line of a file.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

MOST_ERRORS = 20  # of one reply: more help nobody, and a small request must not make a large reply

Kind = Literal["invalid", "forbidden", "not_found", "conflict", "too_large", "too_long", "too_many"]


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
    errors: several faults found at once, only the first 20 stay; by default the one given here.
    found: how many faults there were, where the finder did not keep them all.
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
        found: int | None = None,
        wait_s: int | None = None,
    ) -> None:
        super().__init__(detail)
        self.code = code
        self.found = found or len(errors) or 1
        self.detail = detail + describe_unlisted(self.found)
        self.kind: Kind = kind
        self.field = field
        self.line = line
        self.wait_s = wait_s
        self.errors = errors[:MOST_ERRORS] or (FieldError(code, detail, field, line),)


def describe_unlisted(found: int) -> str:
    """Say how many faults were found where not all are listed; answer an empty text otherwise."""
    return f" The first {MOST_ERRORS} of {found} faults are listed." if found > MOST_ERRORS else ""


def check_name_count(given: Collection[object], known: Collection[object], field: str | None = None) -> None:
    """Refuse an object of far more names than are known, before anything looks at one of them.

    Raises BenchnightError `field.too_many`.
    """
    if len(given) > len(known) + MOST_ERRORS:
        raise BenchnightError(
            "field.too_many",
            f"This has {len(given)} fields; at most {len(known)} are known: {', '.join(map(str, known))}.",
            field=field,
        )


# Collects several faults of one input, so that a person mends them all in one go.


class ErrorCollector:
    """Gathers field errors; `raise_any` raises one BenchnightError that lists the first 20 and counts all."""

    def __init__(self, code: str, detail: str) -> None:
        self._code = code
        self._detail = detail
        self._found: list[FieldError] = []
        self._count = 0

    def add(self, field: str, code: str, detail: str) -> None:
        """Note one fault of `field`."""
        self._keep((FieldError(code, detail, field),), 1)

    def take(self, error: BenchnightError) -> None:
        """Note the faults that another check raised."""
        self._keep(error.errors, error.found)

    def _keep(self, errors: tuple[FieldError, ...], count: int) -> None:
        self._count += count
        self._found.extend(errors[: MOST_ERRORS - len(self._found)])

    @property
    def any(self) -> bool:
        """Tell whether anything was noted."""
        return bool(self._found)

    def raise_any(self) -> None:
        """Raise BenchnightError when anything was noted; the first fault names the main field."""
        if self._found:
            first = self._found[0]
            detail = first.detail if len(self._found) == 1 else self._detail
            raise BenchnightError(
                first.code if len(self._found) == 1 else self._code,
                detail,
                field=first.field,
                errors=tuple(self._found),
                found=self._count,
            )
