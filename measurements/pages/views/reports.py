"""A device's full report, as a page that prints well and as PDF."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from measurements.disclosure.circles import Viewer
from measurements.pages import door, report, report_pdf


def page(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the report as a page."""
    return door.render(request, "report.html", {"report": report.of_device(viewer, key)})


def pdf(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the report as PDF; the file's name says no more than the address did."""
    found = report.of_device(viewer, key)
    content = report_pdf.draw(found, viewer, group_name=settings.BENCHNIGHT_GROUP_NAME)
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="report-{key}.pdf"'
    response["X-Content-Type-Options"] = "nosniff"
    return response
