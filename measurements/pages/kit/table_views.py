"""Kit as a table: filter, change many at once, undo; CSV out, and back in with a shown difference."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, StreamingHttpResponse
from django.urls import reverse
from django.utils import timezone

from measurements.disclosure import table_text
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.kit.forms import StepForm, TableForm
from measurements.pages.layout import form_handling, rendering, upkeep_wording
from measurements.selectors.kit import tables
from measurements.selectors.kit.tables import KitFilter
from measurements.selectors.upkeep import due_devices
from measurements.selectors.upkeep.device_filters import DueFilter
from measurements.services.kit import kit_changes, kit_csv, kit_tables

MOST_CSV_BYTES = 2_000_000


def show_kit(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the table. POST: do one step over the chosen devices, or over all that fit; or undo a step."""
    wanted = _read_filter(request)
    if request.POST.get("do") == "undo":
        return _undo(request, viewer)
    form = StepForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        try:
            count = _take_step(request, viewer, wanted, form)
        except BenchnightError as error:
            if error.kind == "not_found":
                raise
            form_handling.add_error_to_form(form, error, {"place": "text", "due_reason": "text"})
        else:
            messages.success(request, f"{count} device{'' if count == 1 else 's'} changed.")
            return HttpResponseRedirect(_make_address(request))
    number = request.GET.get("page", "1")
    page = int(number) if number.isascii() and number.isdecimal() and len(number) < 5 else 1
    context = {
        "form": form,
        "wanted": wanted,
        "kit": tables.list_kit(viewer, wanted, page=page),
        "page": page,
        "chosen": set(request.POST.getlist("devices")),
        "last_change": tables.get_last_change(viewer),
        "query": _make_query(request),
        "earlier": _make_query(request, page=page - 1) if page > 1 else "",
        "later": _make_query(request, page=page + 1),
    }
    return rendering.render_page(request, "kit/kit.html", context, status=422 if form.errors else 200)


def show_kit_by_place(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: a list for paper: place by place, each device with its state and when it is due."""
    of_group = viewer.is_keeper and request.GET.get("owner") != "mine"
    rows = due_devices.list_all_devices(viewer, DueFilter(of_group=of_group, mine=not of_group))
    places: dict[str, list[Any]] = {}
    for row in rows:
        places.setdefault(row.place, []).append((row, upkeep_wording.STATE_BADGES[row.state]))
    due = sum(row.state in due_devices.DUE_STATES for row in rows)
    context = {
        "places": list(places.items()),
        "of_group": of_group,
        "count": len(rows),
        "due": due,
        "made_on": timezone.localdate(),
    }
    return rendering.render_page(request, "kit/places.html", context)


def download_kit(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the table as CSV, every row that fits the filters, as the page that takes it back reads it."""
    rows = tables.iterate_kit(viewer, _read_filter(request))
    lines = table_text.format_csv_table(
        ([_format_value(row[name]) for name in tables.COLUMNS] for row in rows), tables.COLUMNS
    )
    response = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="kit.csv"'
    response["X-Content-Type-Options"] = "nosniff"
    return response  # type: ignore[return-value]


def show_table_form(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: where a CSV is pasted. POST: show what it would do; with the fingerprint of that, do it."""
    of_group = viewer.is_keeper and request.POST.get("of_group") == "yes"
    context: dict[str, Any] = {"columns": kit_csv.COLUMNS, "of_group": of_group, "plan": None, "faults": ()}
    if request.method != "POST":
        return rendering.render_page(request, "kit/table.html", {**context, "form": TableForm()})
    try:
        text = _read_table(request)
        context["text"] = text
        if request.POST.get("do") == "apply":
            _, count = kit_tables.apply_table(
                by=viewer, text=text, fingerprint=request.POST.get("fingerprint", ""), of_group=of_group
            )
            messages.success(request, f"{count} device{'' if count == 1 else 's'} written.")
            return HttpResponseRedirect(reverse("pages:kit"))
        plan = kit_tables.plan_table(by=viewer, text=text, of_group=of_group)
        context["plan"], context["faults"] = plan, plan.faults
    except BenchnightError as error:
        if error.kind == "forbidden":
            raise
        context["faults"] = error.errors
    # nothing typed gets lost: the form shows the text again, also that of a file
    context["form"] = TableForm(initial={"table": context.get("text", request.POST.get("table", ""))})
    return rendering.render_page(request, "kit/table.html", context, status=422 if context["faults"] else 200)


def _read_table(request: HttpRequest) -> str:
    """Return the text of the file, or else what was pasted, with plain line ends."""
    sent = request.FILES.get("file")
    if sent is not None:
        if (sent.size or 0) > MOST_CSV_BYTES:
            raise BenchnightError("kit.table", "This file is too large for a table of kit.", kind="too_large")
        return kit_csv.decode_table(sent.read())
    return request.POST.get("table", "").replace("\r\n", "\n")


def _take_step(request: HttpRequest, viewer: Viewer, wanted: KitFilter, form: StepForm) -> int:
    every = request.POST.get("which") == "all"
    chosen = tables.list_kit_keys(viewer, wanted) if every else request.POST.getlist("devices")
    _, count = kit_changes.change_devices(
        by=viewer, chosen=chosen, changes=_read_step(form.cleaned_data["step"], form.cleaned_data["text"])
    )
    return count


def _read_step(step: str, text: str) -> dict[str, Any]:
    today = timezone.localdate()
    plain = " ".join(text.split())
    if step == "due" and not plain:
        raise BenchnightError("due.reason", "Say why they are due, such as storm.", field="due_reason")
    return {
        "place": {"place": plain},
        "due": {"due_event": "other", "due_reason": plain},
        "retire": {"retired_on": today},
        "unretire": {"retired_on": None},
    }[step]


def _undo(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    done = kit_changes.undo_change(by=viewer, change=request.POST.get("change", ""))
    messages.success(request, f"Undone for {done.undone} device{'' if done.undone == 1 else 's'}.")
    if done.kept:
        messages.warning(request, f"Changed since, and left as they are: {', '.join(done.kept[:20])}.")
    return HttpResponseRedirect(_make_address(request))


def _read_filter(request: HttpRequest) -> KitFilter:
    owner = request.GET.get("owner", "")
    return KitFilter(
        text=request.GET.get("q", "").replace("\x00", "").strip()[:64],
        owner=owner if owner in ("mine", "group") else "",
        place=request.GET["place"].replace("\x00", "")[:120] if "place" in request.GET else None,
        retired=request.GET.get("retired") == "yes",
    )


def _make_query(request: HttpRequest, **changes: object) -> str:
    kept = {name: request.GET[name] for name in ("q", "owner", "place", "retired") if name in request.GET}
    return urlencode({**kept, **changes})


def _make_address(request: HttpRequest) -> str:
    query = _make_query(request)
    return f"{reverse('pages:kit')}{f'?{query}' if query else ''}"


def _format_value(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value
