"""One way to assert a refusal: stable code, field, line, and a sentence that says what to do."""

from __future__ import annotations

import pytest

from measurements.errors import BenchnightError
from measurements.rf.sweeps.reading import read_sweep


def refused(
    text: str | bytes, name: str, code: str, line: int | None = None, role: str = "sweep"
) -> BenchnightError:
    """Read and return the refusal; asserts its code, line and shape."""
    data = text.encode() if isinstance(text, str) else text
    with pytest.raises(BenchnightError) as caught:
        read_sweep(data, name, role=role)
    error = caught.value
    assert (error.code, error.line) == (f"sweep.{code}", line), error.detail
    assert error.field == role
    assert error.detail[-1] in ".?)" and len(error.detail) > 20
    return error
