"""Every address of the site: the pages of health and figures, the REST door under /api/v1/, and the pages."""

from __future__ import annotations

from django.urls import include, path, re_path

from api.resources.about import NotFoundView
from deploy import monitoring

urlpatterns = [
    path("healthz", monitoring.show_health, name="healthz"),
    path("metrics", monitoring.show_metrics, name="metrics"),
    path("api/v1/", include("api.urls")),
    re_path(r"^api(/.*)?$", NotFoundView.as_view(), name="nothing_of_api"),
    path("", include("measurements.pages.urls")),
]

handler400 = "measurements.pages.layout.error_pages.show_bad_request"
handler403 = "measurements.pages.layout.error_pages.show_forbidden"
handler404 = "measurements.pages.layout.error_pages.show_not_found"
handler500 = "measurements.pages.layout.error_pages.show_server_error"
