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
