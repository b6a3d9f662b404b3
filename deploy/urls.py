"""Every address of the site: the health page, the REST door under /api/v1/, and the pages."""

from __future__ import annotations

from importlib.util import find_spec

from django.urls import include, path

from deploy import health

urlpatterns = [path("healthz", health.healthz, name="healthz")]
# until both doors exist the others must be able to run
if find_spec("api.urls"):
    urlpatterns.append(path("api/v1/", include("api.urls")))
if find_spec("measurements.pages.urls"):
    urlpatterns.append(path("", include("measurements.pages.urls")))

handler400 = "measurements.pages.views.refusals.bad_request"
handler403 = "measurements.pages.views.refusals.forbidden"
handler404 = "measurements.pages.views.refusals.not_found"
handler500 = "measurements.pages.views.refusals.broken"
