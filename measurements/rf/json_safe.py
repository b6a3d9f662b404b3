"""Numbers as a result may carry them: a finite float, or None.

NaN (undefined) and infinity (a limit that no measurement reaches) both leave as None; whoever
makes them None raises a flag that says why.
"""

from __future__ import annotations

import math
from typing import Any


def number(value: Any) -> float | None:
    """`value` as a finite Python float, else None; -0.0 becomes 0.0."""
    if value is None:
        return None
    plain = float(value)
    return plain + 0.0 if math.isfinite(plain) else None


def complex_number(value: Any) -> dict[str, float] | None:
    """`value` as {"re", "im"}, else None when either part is not finite."""
    if value is None:
        return None
    plain = complex(value)
    re, im = number(plain.real), number(plain.imag)
    return None if re is None or im is None else {"re": re, "im": im}
