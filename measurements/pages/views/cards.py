"""What is printed: result cards, labels, and the QR codes on them."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import guests
from measurements.pages import cards, cautions, door, night_words, qr_codes
from measurements.pages.labels import Label, SheetForm, sheets
from measurements.pages.views.pictures import SVG_POLICY, chosen
from measurements.queries import devices, nights, tests
from measurements.queries.paging import MOST
from measurements.queries.rows_of_nights import NightDeviceRow, NightRow

LEADS_TO = {"page": qr_codes.device_page, "bench": qr_codes.bench}


def night_cards(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the cards of a night, or of one `device` of it. POST: the same with new claim codes for guests."""
    night = nights.one(viewer, key)
    shown = _asked_for(request, night)
    codes = _codes(viewer, night, shown) if request.method == "POST" else {}
    context = {
        "night": night,
        "title": night_words.title(night),
        "cards": [cards.of_night(row, codes.get(row.attendee or "", "")) for row in shown],
        "guests": len({row.attendee for row in shown if row.is_guest and row.attendee}),
        "voided": any(person.has_code for person in night.contributors),
        "coded": bool(codes),
        "only": shown[0].tag if len(shown) == 1 and len(night.devices) > 1 else "",
        "caution": cautions.POWER,
    }
    return door.render(request, "cards.html", context)


def _asked_for(request: HttpRequest, night: NightRow) -> list[NightDeviceRow]:
    wanted = request.GET.get("device")
    found = [row for row in night.devices if wanted in (None, "", row.key)]
    if wanted and not found:
        raise BenchnightError(
            "device.not_found", "That device is not on this night's list.", kind="not_found"
        )
    return found


def _codes(viewer: Viewer, night: NightRow, shown: list[NightDeviceRow]) -> dict[str, str]:
    """A new claim code for every guest with a device among these, by the guest's key on the list."""
    keys = {row.attendee for row in shown if row.is_guest and row.attendee}
    return {
        guest: guests.issue_claim_code(by=viewer, night=night.key, contributor_key=guest)
        for guest in sorted(keys)
    }


def device_card(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the card of one device, for whoever may see the device."""
    device = devices.one(viewer, key)
    made = tests.listing(viewer, device=key, limit=MOST).results
    context = {
        "cards": [cards.of_device(device, made)],
        "device": device,
        "caution": cautions.POWER,
    }
    return door.render(request, "cards.html", context)


def labels(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the night's labels, laid out by `columns`, `rows`, `paper` and `skip`."""
    night = nights.one(viewer, key)
    form = SheetForm(request.GET if request.GET else None, initial=SheetForm.DEFAULTS)
    layout = form.chosen if form.is_bound else dict(SheetForm.DEFAULTS)
    columns, rows = int(layout["columns"]), int(layout["rows"])
    context = {
        "night": night,
        "title": night_words.title(night),
        "form": form,
        "layout": layout,
        "sheets": sheets(
            [Label(row.key, row.tag, row.design_title) for row in night.devices],
            columns=columns,
            rows=rows,
            skip=int(layout["skip"]),
        ),
    }
    return door.render(request, "labels.html", context, status=400 if form.errors else 200)


def qr(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the code that leads to a device's page, or to the bench (`to=bench`), as SVG."""
    devices.one(viewer, key)
    leads_to = LEADS_TO[chosen(request, "to", tuple(LEADS_TO), "page")]
    response = HttpResponse(qr_codes.svg(leads_to(key)), content_type="image/svg+xml; charset=utf-8")
    response["Content-Security-Policy"] = SVG_POLICY
    return response
