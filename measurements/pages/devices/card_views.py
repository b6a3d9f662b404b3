"""What is printed: result cards, labels, and the QR codes on them."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.devices import card_presenters
from measurements.pages.devices.card_presenters import Label, LabelSheetForm, lay_out_labels
from measurements.pages.layout import cautions, rendering
from measurements.pages.layout.chart_replies import SVG_POLICY, get_choice
from measurements.pages.nights import presenters
from measurements.selectors.devices import devices
from measurements.selectors.nights import nights
from measurements.selectors.nights.rows import NightDeviceRow, NightRow
from measurements.selectors.paging import MAX_LIMIT
from measurements.selectors.tests import tests
from measurements.services.nights import guests

QR_TARGETS = {"page": card_presenters.get_device_url, "bench": card_presenters.get_bench_url}


def show_night_cards(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the cards of a night, or of one `device` of it. POST: the same with new claim codes for guests."""
    night = nights.get_night(viewer, key)
    shown = _select_devices(request, night)
    codes = _issue_claim_codes(viewer, night, shown) if request.method == "POST" else {}
    context = {
        "night": night,
        "title": presenters.get_night_title(night),
        "cards": [card_presenters.build_night_card(row, codes.get(row.attendee or "", "")) for row in shown],
        "guests": len({row.attendee for row in shown if row.is_guest and row.attendee}),
        "voided": any(person.has_code for person in night.contributors),
        "coded": bool(codes),
        "only": shown[0].tag if len(shown) == 1 and len(night.devices) > 1 else "",
        "caution": cautions.POWER,
    }
    return rendering.render_page(request, "devices/cards.html", context)


def _select_devices(request: HttpRequest, night: NightRow) -> list[NightDeviceRow]:
    wanted = request.GET.get("device")
    found = [row for row in night.devices if wanted in (None, "", row.key)]
    if wanted and not found:
        raise BenchnightError(
            "device.not_found", "That device is not on this night's list.", kind="not_found"
        )
    return found


def _issue_claim_codes(viewer: Viewer, night: NightRow, shown: list[NightDeviceRow]) -> dict[str, str]:
    """Return a new claim code for every guest with a device among these, by the guest's key on the list."""
    keys = {row.attendee for row in shown if row.is_guest and row.attendee}
    return {
        guest: guests.issue_claim_code(by=viewer, night=night.key, contributor_key=guest)
        for guest in sorted(keys)
    }


def show_device_card(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the card of one device, for whoever may see the device."""
    device = devices.get_device(viewer, key)
    made = tests.list_tests(viewer, device=key, limit=MAX_LIMIT).results
    context = {
        "cards": [card_presenters.build_device_card(device, made)],
        "device": device,
        "caution": cautions.POWER,
    }
    return rendering.render_page(request, "devices/cards.html", context)


def show_labels(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the night's labels, laid out by `columns`, `rows`, `paper` and `skip`."""
    night = nights.get_night(viewer, key)
    form = LabelSheetForm(request.GET if request.GET else None, initial=LabelSheetForm.DEFAULTS)
    layout = form.chosen if form.is_bound else dict(LabelSheetForm.DEFAULTS)
    columns, rows = int(layout["columns"]), int(layout["rows"])
    context = {
        "night": night,
        "title": presenters.get_night_title(night),
        "form": form,
        "layout": layout,
        "sheets": lay_out_labels(
            [Label(row.key, row.tag, row.design_title) for row in night.devices],
            columns=columns,
            rows=rows,
            skip=int(layout["skip"]),
        ),
    }
    return rendering.render_page(request, "devices/labels.html", context, status=400 if form.errors else 200)


def draw_qr_code(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the code that leads to a device's page, or to the bench (`to=bench`), as SVG."""
    devices.get_device_on_bench(viewer, key)
    leads_to = QR_TARGETS[get_choice(request, "to", tuple(QR_TARGETS), "page")]
    response = HttpResponse(
        card_presenters.draw_qr_svg(leads_to(key)), content_type="image/svg+xml; charset=utf-8"
    )
    response["Content-Security-Policy"] = SVG_POLICY
    return response
