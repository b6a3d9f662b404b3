"""2,000 generated lists of readings: checked arrays or a documented refusal, nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.sweeps.typed_readings import parse_readings
from tests.fuzzing import try_cases

scalars = st.one_of(
    st.floats(), st.integers(), st.floats(1, 1e9), st.booleans(), st.none(), st.text(max_size=5)
)
items = st.one_of(
    st.fixed_dictionaries({"frequency_hz": st.integers(1, 60), "value": st.floats(0, 60)}),
    st.fixed_dictionaries({"frequency_hz": scalars, "value": scalars}),
    st.dictionaries(st.sampled_from(["frequency_hz", "value", "x"]), scalars, max_size=3),
    scalars,
)
good = st.fixed_dictionaries({"frequency_hz": st.integers(1, 60), "value": st.floats(0, 60)})


def checked(read: object, given_items: object) -> None:
    try:
        readings = read(given_items)
    except BenchnightError as error:
        assert error.code.startswith("readings.") and error.field == "readings"
        return
    assert len(readings.freq_hz) == len(readings.value) >= 1
    assert np.isfinite(readings.value).all() and (readings.value >= 0).all()
    assert (readings.freq_hz > 0).all() and (np.diff(readings.freq_hz) > 0).all()


@pytest.mark.fuzz
@try_cases(2_000)
@given(st.one_of(st.lists(items, max_size=6), st.lists(good, max_size=6)))
def test_generated_readings(given_items: list[object]) -> None:
    checked(parse_readings, given_items)
