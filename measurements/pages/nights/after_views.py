"""After a night: a page for each participant, by account or by the code on a card, and the group's sheet."""

from __future__ import annotations

import base64
from dataclasses import dataclass

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.charts import rendering as chart_rendering
from measurements.charts import test_chart
from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import cautions, form_handling, rendering, throttling, wording
from measurements.pages.layout.state_renewal import read_renewed
from measurements.pages.layout.wording import Badge
from measurements.pages.nights import presenters
from measurements.pages.nights.presenters import NightTestLine
from measurements.selectors.designs import designs
from measurements.selectors.nights import after_night, nights
from measurements.selectors.nights.after_night import EveningRow, OwnDeviceRow
from measurements.selectors.reference import reference
from measurements.selectors.upkeep import due_devices
from measurements.selectors.upkeep.device_filters import DueFilter
from measurements.services.nights import claim_codes

MOST_CURVES = 6  # drawn for one code; the others have their verdicts alone
MOST_BUILDS = 3  # of one band
LEAST_PERSONS = 3  # behind a count of what was found, which would else tell a person's result


class CodeForm(forms.Form):
    """The code on a guest's card."""

    code = forms.CharField(max_length=32, label="Code", help_text="On your card, such as abcd-efgh-jkmn.")


@dataclass(frozen=True)
class DeviceLine:
    """A device of a participant: what was found, its curve and what to do next."""

    row: OwnDeviceRow
    tests: tuple[NightTestLine, ...]
    picture: str
    steps: tuple[str, ...]


@dataclass(frozen=True)
class BandLine:
    """The best supported builds of one band among those on the bench, from the published evidence."""

    band: str
    builds: tuple[tuple[str, str, str], ...]


def show_own_evening(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the viewer's own devices of a night."""
    evening = after_night.get_own_evening(viewer, key)
    return _render_evenings(request, (evening,), by_code=False)


def show_evening_by_code(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: where the code is typed. POST: the devices of the guest whose card has it."""
    form = CodeForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        throttling.count_computation(request, viewer)  # codes are not for guessing
        try:
            found = after_night.list_guest_evenings(claim_codes.hash_code(form.cleaned_data["code"]))
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            if found:
                return _render_evenings(request, found, by_code=True)
            form.add_error("code", "This code is unknown, used for an account, or replaced by a newer card.")
    status = 422 if form.errors else 200
    return rendering.render_page(request, "nights/after_code.html", {"form": form}, status=status)


def _render_evenings(
    request: HttpRequest, evenings: tuple[EveningRow, ...], *, by_code: bool
) -> HttpResponse:
    shown, drawn = [], 0
    for evening in evenings:
        lines = []
        for row in evening.devices:
            line = _present_device(evening, row, by_code=by_code, draw=drawn < MOST_CURVES)
            drawn += bool(line.picture)
            lines.append(line)
        shown.append((evening, lines))
    context = {"evenings": shown, "by_code": by_code, "caution": cautions.POWER}
    return rendering.render_page(request, "nights/after.html", context)


def _present_device(evening: EveningRow, row: OwnDeviceRow, *, by_code: bool, draw: bool) -> DeviceLine:
    tests = tuple(presenters.present_night_test(test) for test in row.tests)
    picture = ""
    if tests and by_code and draw:
        picture = _draw_curve(evening, row)
    elif tests and not by_code:
        picture = reverse("pages:test_chart", kwargs={"key": row.tests[0].key, "form": "svg"})
    return DeviceLine(row, tests, picture, list_next_steps(row, tests))


def _draw_curve(evening: EveningRow, row: OwnDeviceRow) -> str:
    """Return the first panel of the curve as a picture inside the page; empty where there is none."""
    test = _DrawnTest(row.tests[0].kind, {"bands": list(row.tests[0].bands), "summary": row.tests[0].summary})
    panels = test_chart.list_panels(test.kind, row.traces)
    if not panels:
        return ""
    bands = reference.list_bands(None, evening.held_on)
    spec = test_chart.build_test_chart(test, row.traces, bands, view=panels[0].name, width_px=560)
    if spec is None:
        return ""
    svg = chart_rendering.render_svg(spec, kept=False)
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()


@dataclass(frozen=True)
class _DrawnTest:
    kind: str
    result: dict[str, object]


def list_next_steps(row: OwnDeviceRow, tests: tuple[NightTestLine, ...]) -> tuple[str, ...]:
    """Say what its owner does next, from what was measured and from nothing else."""
    if not tests:
        return ("It was not measured. Bring it to the next night.",)
    steps = [
        str(flag["message"])
        for test in tests
        for flag in test.row.flags
        if flag["severity"] != "note" and flag["band"] is None
    ][:2]
    looks = {test.said.look for test in tests}
    if "is-short" in looks:
        steps.append("Check core, mix and turns against the design, mend the winding, and measure it again.")
    elif "is-mixed" in looks or "is-close" in looks:
        steps.append("It is good for the bands that it meets. Use another one for the others, or rewind it.")
    kinds = {test.row.kind for test in tests}
    if kinds == {"common_mode"}:
        steps.append(
            "A common-mode test shows no broken or shorted wire. Have its match or its ohms measured before "
            "you use it."
        )
    if not steps:
        steps.append("Nothing more to do now. Measure it again within a year, and after a storm.")
    return tuple(dict.fromkeys(steps))


def show_night_summary(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the evening on one sheet, to print or post; names only of those ticked (`name`)."""
    night = nights.get_night(viewer, key)
    counts = after_night.count_night(viewer, key)
    ticked = set(request.GET.getlist("name"))
    people = [person for person in night.contributors if person.key in ticked]
    named = [
        (
            person,
            [
                line
                for line in presenters.present_night_devices(night.devices)
                if line.row.attendee == person.key
            ],
        )
        for person in people
    ]
    context = {
        "night": night,
        "title": presenters.get_night_title(night),
        "counts": counts,
        "kinds": [(wording.KINDS[kind], count) for kind, count in counts.kinds.items()],
        "outcomes": _count_outcomes(night.devices) if counts.persons >= LEAST_PERSONS else [],
        "bands": _list_best_builds(counts.designs),
        "kit": _count_kit(viewer),
        "named": named,
        "ticked": ticked,
    }
    return rendering.render_page(request, "nights/summary.html", context)


def _count_outcomes(devices: tuple[nights.NightDeviceRow, ...]) -> list[tuple[Badge, int]]:
    """Count the devices of each verdict of their first test."""
    found: dict[str, tuple[Badge, int]] = {}
    for line in presenters.present_night_devices(devices):
        if line.tests:
            said = line.tests[0].said
            found[said.word] = (said, found.get(said.word, (said, 0))[1] + 1)
    return sorted(found.values(), key=lambda each: -each[1])


def _list_best_builds(keys: tuple[str, ...]) -> list[BandLine]:
    """Return per band the builds of the bench that typically meet it, as anybody may read it.

    Published evidence alone: what one device of tonight did is its owner's.
    """
    builds: dict[str, list[tuple[float, str, str, str]]] = {}
    for row in designs.list_designs_by_key(ANONYMOUS, keys):
        for cell in row.evidence:
            if cell["verdict"] == "typically_meets" and cell["band"]:
                words = f"chance {cell['chance']:.1f}" if cell["chance"] is not None else ""
                builds.setdefault(cell["band"], []).append(
                    (-(cell["chance"] or 0), row.title, row.key, words)
                )
    return [
        BandLine(band, tuple((title, key, words) for _, title, key, words in sorted(found)[:MOST_BUILDS]))
        for band, found in builds.items()
    ]


def _count_kit(viewer: Viewer) -> list[tuple[str, int]] | None:
    """Count the group's kit by state; None for an operator who does not keep it."""
    if not (viewer.is_steward or viewer.keeps_kit):
        return None
    wanted = DueFilter(of_group=True)
    found = read_renewed(viewer, lambda: due_devices.list_devices_by_urgency(viewer, wanted, size=1))
    return [(state, count) for state, count in found.counts.items() if count]
