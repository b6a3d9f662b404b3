"""A test's sweep merged or compensated, from the bytes that are stored, for whoever may see the test."""

from __future__ import annotations

from measurements.disclosure.circles import Viewer
from measurements.models import SweepFile
from measurements.queries import reference, tests
from measurements.rf import corrected, reading
from measurements.rf.bands import Band
from measurements.rf.corrected import Corrected
from measurements.rf.request import Request

FORMS = {"merged": corrected.merged, "compensated": corrected.compensated}


def of_test(viewer: Viewer, key: str, form: str) -> Corrected:
    """form: `merged` or `compensated`.

    Raises BenchnightError `test.not_found`, `corrected.not_turned`, `corrected.no_jig`, `corrected.no_phase`.
    """
    test = tests.one(viewer, key)
    files = SweepFile.objects.filter(test__key=key).values_list("role", "raw", "name")
    sweeps = {role: reading.read(bytes(raw), name, role=role) for role, raw, name in files}
    plan = reference.bands(test.settings.get("region"), test.measured_on)
    return FORMS[form](
        Request(
            kind=test.kind,
            method=test.settings.get("method"),
            sweeps=sweeps,
            bands=tuple(Band(band.band, band.start_hz, band.stop_hz) for band in plan),
        )
    )
