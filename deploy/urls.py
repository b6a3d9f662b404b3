"""Every address of the site: the pages of health and figures, the REST door under /api/v1/, and the pages."""

from __future__ import annotations

from django.urls import include, path

from deploy import health, metrics

urlpatterns = [
    path("healthz", health.healthz, name="healthz"),
    path("metrics", metrics.metrics, name="metrics"),
    path("api/v1/", include("api.urls")),
    path("", include("measurements.pages.urls")),
]

handler400 = "measurements.pages.views.refusals.bad_request"
handler403 = "measurements.pages.views.refusals.forbidden"
handler404 = "measurements.pages.views.refusals.not_found"
handler500 = "measurements.pages.views.refusals.broken"
