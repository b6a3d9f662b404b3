"""After a storm: marks many devices as due at once, by a filter or one by one; undoes it in one step."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import cautions, device_filters, form_handling, rendering, upkeep_wording
from measurements.pages.layout.state_renewal import read_renewed
from measurements.pages.upkeep.forms import DueForm
from measurements.selectors.upkeep import due_devices, marking
from measurements.selectors.upkeep.device_filters import DueFilter
from measurements.services.devices import due_marks


def show_due_form(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: choose devices. POST: mark them, mark all that fit, take marks back, or undo one action."""
    policy.check_operator(viewer)
    form = DueForm(request.POST if request.method == "POST" else None)
    wanted = device_filters.read_filters(request)
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, _mark_or_take_back(request, viewer, form, wanted))
        except BenchnightError as error:
            if error.kind == "not_found" and error.code != "due.no_batch":
                raise
            form_handling.add_error_to_form(form, error)
        else:
            return HttpResponseRedirect(f"{reverse('pages:devices')}?state=due")
    return _render_due_form(request, viewer, form, wanted)


def _render_due_form(request: HttpRequest, viewer: Viewer, form: DueForm, wanted: DueFilter) -> HttpResponse:
    page, chosen = device_filters.read_page_number(request), request.POST.getlist("devices")
    found = read_renewed(viewer, lambda: due_devices.list_devices_by_urgency(viewer, wanted, page=page))
    context = {
        "form": form,
        "wanted": wanted,
        "kept_words": device_filters.list_kept_words(request, *device_filters.FILTER_WORDS[1:]),
        "chosen": device_filters.list_chosen_filters(request, wanted),
        "state": upkeep_wording.get_state_badge(wanted.state) if wanted.state not in ("", "due") else None,
        "devices": [
            (row, upkeep_wording.get_state_badge(row.state), row.key in chosen) for row in found.rows
        ],
        "total": found.total,
        "narrowed": wanted != DueFilter(),
        "batches": marking.list_mark_batches(viewer),
        "cautions": cautions.list_cautions("due"),
        **device_filters.build_page_links(request, page, found.total, due_devices.PAGE_SIZE),
    }
    return rendering.render_page(request, "upkeep/due.html", context, status=422 if form.errors else 200)


def _mark_or_take_back(request: HttpRequest, viewer: Viewer, form: DueForm, wanted: DueFilter) -> str:
    """Do what the pressed button asks for; return the sentence that says what was done."""
    do, chosen = request.POST.get("do"), request.POST.getlist("devices")
    if do == "undo":
        count = due_marks.undo_marks(by=viewer, batch=request.POST.get("batch", ""))
        return f"Marks taken back: {count}."
    if do == "clear":
        due_marks.clear_due_marks(by=viewer, devices_marked=chosen)
        return "The marks are taken back."
    every = do == "mark_all"
    if every:
        chosen = marking.list_keys_to_mark(viewer, wanted)
        _check_count(request.POST.get("count", ""), len(chosen))
    marked = due_marks.mark_devices_due(
        by=viewer,
        devices_marked=chosen,
        reason=form.cleaned_data["reason"],
        event=form.cleaned_data["event"],
        most=due_marks.MOST_OF_FILTER if every else due_marks.MOST_AT_ONCE,
    )
    return f"Marked as due: {marked.count}. The page for marking takes them back in one step."


def _check_count(shown: str, now: int) -> None:
    """Refuse to mark other devices than the page counted. Raises BenchnightError `due.count_changed`."""
    if shown != str(now):
        raise BenchnightError(
            "due.count_changed",
            f"{now} devices fit now, not {shown or 'the number shown'}. Look again, then mark them.",
            kind="conflict",
            field="devices",
        )
