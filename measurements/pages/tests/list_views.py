"""The list of tests: the recent ones, by kind, device, night, state and flag, in pages by number."""

from __future__ import annotations

from dataclasses import dataclass

from django import forms
from django.http import HttpRequest, HttpResponse

from measurements.disclosure.viewers import Viewer
from measurements.pages.guide.contents import FLAG_HELP
from measurements.pages.layout import numbered_pages, rendering, wording
from measurements.pages.layout.wording import KINDS, Badge
from measurements.pages.tests import presenters
from measurements.selectors.tests import filtered_tests
from measurements.selectors.tests import tests as tests_selectors
from measurements.selectors.tests.filtered_tests import TestFilters
from measurements.selectors.tests.tests import TestRow

PAGE_SIZE = 25
STATE_WORDS = {
    "counts": "counts as evidence",
    "left_out": "left out of evidence",
    "published": "in the current release",
    "waiting": "waits for an answer or the check standard",
    "excluded": "left out by a steward",
}
ORDER_WORDS = {
    "-recorded_at": "last recorded first",
    "recorded_at": "first recorded first",
    "-measured_on": "last measured first",
    "measured_on": "first measured first",
}


class TestListForm(forms.Form):
    """The filters of the list. device and night come by links from rows, and stay in the form."""

    __test__ = False

    kind = forms.ChoiceField(required=False, choices=[("", "all kinds"), *KINDS.items()], label="Kind")
    state = forms.ChoiceField(required=False, choices=[("", "all"), *STATE_WORDS.items()], label="State")
    flag = forms.ChoiceField(
        required=False,
        choices=[("", "any or none"), *((code, FLAG_HELP[code].title) for code in filtered_tests.FLAGS)],
        label="Flag",
    )
    order = forms.ChoiceField(required=False, choices=list(ORDER_WORDS.items()), label="Order")
    device = forms.RegexField(r"^[a-z0-9]{12}$", required=False, widget=forms.HiddenInput)
    night = forms.RegexField(r"^[a-z0-9]{12}$", required=False, widget=forms.HiddenInput)

    def get_filters(self) -> TestFilters:
        """Return the filters; a field that is not valid filters nothing."""
        given = {name: self.cleaned_data.get(name) or "" for name in self.fields}
        return TestFilters(**{**given, "order": given["order"] or filtered_tests.NEWEST_FIRST})


@dataclass(frozen=True)
class TestLine:
    """A test in the list. said, words: its verdict as badge and words. flags: titles of what is amiss."""

    __test__ = False

    row: TestRow
    kind: str
    said: Badge
    words: str
    state: str
    flags: tuple[str, ...]


def show_test_list(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the tests that the viewer may see, the last recorded first; filters and page in the address."""
    form = TestListForm(request.GET)
    valid = form.is_valid()
    asked = form.get_filters()
    number = numbered_pages.get_page_number(request)
    rows, count = tests_selectors.get_test_page(viewer, asked, first=(number - 1) * PAGE_SIZE, most=PAGE_SIZE)
    context = {
        "form": form,
        "lines": [_build_line(row) for row in rows],
        "count": count,
        "pages": numbered_pages.list_page_links(request, count, PAGE_SIZE),
        "filtered": asked != TestFilters(order=asked.order),
        "device": asked.device,
        "night": asked.night,
        "sees_others": viewer.is_operator,
    }
    return rendering.render_page(request, "tests/list.html", context, status=200 if valid else 400)


def _build_line(row: TestRow) -> TestLine:
    said, words = presenters.summarise_result(row.result)
    flags = dict.fromkeys(flag["code"] for flag in row.result["flags"] if flag["severity"] != "note")
    return TestLine(
        row=row,
        kind=wording.format_method(row.kind, row.method),
        said=said,
        words=words,
        state=_describe_state(row),
        flags=tuple(FLAG_HELP[code].title for code in flags),
    )


def _describe_state(row: TestRow) -> str:
    """Say the one state that matters most of a test."""
    if row.excluded_reason:
        return STATE_WORDS["excluded"]
    if row.waiting or row.waits_for_recipe:
        return STATE_WORDS["waiting"]
    if row.published:
        return STATE_WORDS["published"]
    return STATE_WORDS["counts" if row.evidence == "counts" else "left_out"]
