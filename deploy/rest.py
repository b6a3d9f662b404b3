"""Settings of the REST libraries; the room `api` decides what stands here."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

REST_FRAMEWORK: dict[str, Any] = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "api.http.authentication.TokenAuthentication",
        "api.http.authentication.ReadOnlySessionAuthentication",
    ],
    # who may do what is decided by `services` and `selectors`; `api.http.views` only asks for a sign-in
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.AllowAny"],
    "DEFAULT_RENDERER_CLASSES": ["api.http.renderers.Json"],
    "DEFAULT_PARSER_CLASSES": ["api.http.parsers.StrictJson"],
    "DEFAULT_CONTENT_NEGOTIATION_CLASS": "api.http.renderers.Negotiation",
    "DEFAULT_THROTTLE_CLASSES": [],
    "DEFAULT_METADATA_CLASS": None,
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "api.http.problems.convert_exception",
    "URL_FORMAT_OVERRIDE": "format",
    "DATETIME_FORMAT": "iso-8601",
    "STRICT_JSON": True,
    "COMPACT_JSON": True,
    "UNICODE_JSON": True,
}

SPECTACULAR_SETTINGS: dict[str, Any] = {
    "TITLE": "Benchnight",
    "VERSION": "1.0.0",
    "OAS_VERSION": "3.1.0",
    "DESCRIPTION": (
        "Bench tests of baluns, ununs and common-mode chokes, and what a group has found about designs.\n\n"
        "Physical fields carry their unit in the name. Times are UTC. Complex numbers are objects of `re` "
        "and `im`. A value that does not exist is `null`. Errors are problem details (RFC 9457). Lists have "
        "`results` and `next`, the address of the next page or `null`.\n\n"
        "The licence below is the software's. The data has terms of its own: `LICENCE.txt` of each release "
        "states them.\n\n"
        "A sweep at milliwatts proves nothing about power: no power rating follows from any figure here."
    ),
    # of the software; `api.schema.description.TERMS` says where the data's terms are
    "LICENSE": {"name": "MIT (the software)", "identifier": "MIT"},
    "SERVERS": [{"url": "/", "description": "This server"}],
    "TAGS": [
        {"name": "about", "description": "What this service is and how to talk to it."},
        {"name": "reference", "description": "Dated and sourced reference data."},
        {"name": "analysis", "description": "Compute from sweeps without storing anything."},
        {"name": "designs", "description": "Recipes, and what the evidence supports for them."},
        {"name": "evidence", "description": "Identity-free evidence and its numbered releases."},
        {"name": "devices", "description": "Your own devices."},
        {
            "name": "kit",
            "description": "Kit in many hands: hand-overs, loans, labels, and many devices at once.",
        },
        {"name": "tests", "description": "Your own tests, their files and their results."},
        {"name": "predictions", "description": "What a recipe should do, and which core this is."},
        {"name": "analysers", "description": "Your own analysers, and what checks say of them."},
        {"name": "nights", "description": "Club nights and their intakes, for those who run them."},
    ],
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
    "SORT_OPERATION_PARAMETERS": True,
    # the enum hook is left out: it names components after fields and collides without an error
    "POSTPROCESSING_HOOKS": ["api.schema.description.complete_description"],
    # checked by deploy/check with --fail-on-warn, where a warning is an error
    "ENABLE_DJANGO_DEPLOY_CHECK": False,
}

REST_KNOX: dict[str, Any] = {
    "TOKEN_TTL": timedelta(days=90),
    "AUTH_HEADER_PREFIX": "Token",
    "AUTO_REFRESH": False,
}

# the table of tokens is ours, because the library's own has no label
KNOX_TOKEN_MODEL = "api.AccessToken"  # noqa: S105  # a table, not a secret
# its migrations would make a table of its own beside ours, which nothing empties or reads
MIGRATION_MODULES = {"knox": None}
