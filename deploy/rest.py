"""Settings of the REST libraries; the room `api` decides what stands here."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

REST_FRAMEWORK: dict[str, Any] = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["knox.auth.TokenAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
}

SPECTACULAR_SETTINGS: dict[str, Any] = {
    "TITLE": "Benchnight",
    "VERSION": "1.0.0",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
}

REST_KNOX: dict[str, Any] = {
    "TOKEN_TTL": timedelta(days=90),
    "AUTH_HEADER_PREFIX": "Token",
    "AUTO_REFRESH": False,
}
