"""Django's settings, put together from the environment. Start reading at `environment.SETTINGS`."""

from __future__ import annotations

import sys
from typing import Any

from deploy import databases, environment, logs, mail, rest, security

_given = environment.read_environment()
ROOT = environment.ROOT

# ---- Benchnight's own settings, under the names of their variables -----------------------------
BENCHNIGHT_VAR = _given["VAR"].resolve()
BENCHNIGHT_SITE = _given["SITE"]
BENCHNIGHT_TLS = _given["TLS"]
BENCHNIGHT_SECOND_FACTOR_FOR = environment.choose_second_factor_roles(_given)
BENCHNIGHT_PROXIES = _given["PROXIES"]
BENCHNIGHT_PROCESSES = environment.count_processes(_given)
BENCHNIGHT_GROUP_NAME = _given["GROUP_NAME"]
BENCHNIGHT_DATA_TERMS = _given["DATA_TERMS"]
BENCHNIGHT_REGION = _given["REGION"]
BENCHNIGHT_MIN_CONTRIBUTORS = _given["MIN_CONTRIBUTORS"]
BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS = _given["PUBLIC_MIN_CONTRIBUTORS"]
BENCHNIGHT_MIN_JOINERS = _given["MIN_JOINERS"]
BENCHNIGHT_DETAIL_MIN_CONTRIBUTORS = _given["DETAIL_MIN_CONTRIBUTORS"]
BENCHNIGHT_MAIL_DUE_TO = _given["MAIL_DUE_TO"]
BENCHNIGHT_PUBLIC_ORIGINS = _given["PUBLIC_ORIGINS"]
BENCHNIGHT_TOKEN_ORIGINS = _given["TOKEN_ORIGINS"]
BENCHNIGHT_BACKUP_KEYS = _given["BACKUP_KEYS"]
BENCHNIGHT_ANONYMOUS_PER_MINUTE = _given["ANONYMOUS_PER_MINUTE"]
BENCHNIGHT_TOKEN_PER_MINUTE = _given["TOKEN_PER_MINUTE"]
BENCHNIGHT_ANALYSE_PER_MINUTE = _given["ANALYSE_PER_MINUTE"]
BENCHNIGHT_DRAWINGS_PER_MINUTE = _given["DRAWINGS_PER_MINUTE"]
BENCHNIGHT_SIGN_IN_PER_MINUTE = _given["SIGN_IN_PER_MINUTE"]
BENCHNIGHT_UPLOADS_PER_HOUR = _given["UPLOADS_PER_HOUR"]
BENCHNIGHT_CLAIMS_PER_HOUR = _given["CLAIMS_PER_HOUR"]
BENCHNIGHT_MEMBER_BYTES = _given["MEMBER_BYTES"]
BENCHNIGHT_SWEEP_BYTES = _given["SWEEP_BYTES"]
BENCHNIGHT_SWEEP_POINTS = _given["SWEEP_POINTS"]
BENCHNIGHT_SMALL_JSON_BYTES = _given["SMALL_JSON_BYTES"]
BENCHNIGHT_BODY_BYTES = _given["BODY_BYTES"]
BENCHNIGHT_INTAKE_BODY_BYTES = _given["INTAKE_BODY_BYTES"]
BENCHNIGHT_INTAKE_ENTRIES = _given["INTAKE_ENTRIES"]
BENCHNIGHT_INTAKE_UNPACKED_BYTES = _given["INTAKE_UNPACKED_BYTES"]
BENCHNIGHT_INTAKE_RATIO = _given["INTAKE_RATIO"]

# ---- who we are and where --------------------------------------------------------------------
DEBUG = _given["DEBUG"]
ALLOWED_HOSTS = _given["HOSTS"]
SECRET_KEY = security.load_secret_key(
    _given["SECRET_KEY"], is_embedded=not _given["DATABASE_URL"], var=BENCHNIGHT_VAR
)
ROOT_URLCONF = "deploy.urls"
WSGI_APPLICATION = "deploy.wsgi.application"
# how a database is described by its URL: `manage.py transfer` is given one
DATABASE_OF = databases.parse_database_url
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "csp",
    "rest_framework",
    "knox",
    "drf_spectacular",
    "django_tasks",
    "django_tasks_db",
    "measurements.apps.MeasurementsConfig",
    "api.apps.ApiConfig",
]

MIDDLEWARE = [
    "deploy.middleware.ClientAddressMiddleware",
    "deploy.compression.PageCompressionMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "deploy.middleware.SessionAgeMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "deploy.middleware.GroupZoneMiddleware",
    # last, because its refusal is a page that shows who is signed in; none of the above reads a body
    "deploy.middleware.BodyLimitMiddleware",
    "deploy.middleware.DatabaseAwayMiddleware",
]

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": sorted((ROOT / "measurements" / "pages").glob("*/templates")),
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                # the frame of the site, also around the page of the API's description
                "measurements.pages.layout.rendering.build_layout_context",
            ],
            "builtins": ["measurements.pages.template_tags"],
        },
    },
]

# ---- storage ---------------------------------------------------------------------------------
_database_url = environment.choose_database_url(_given, sys.argv)
DATABASES = {
    "default": databases.parse_database_url(_database_url)
    if _database_url
    else databases.build_embedded_settings(BENCHNIGHT_VAR)
}
# whom `manage.py grant_rights` gives the rights that serving takes; empty where one role does everything
BENCHNIGHT_SERVICE_ROLE = (
    databases.parse_database_url(_given["DATABASE_URL"])["USER"] if _given["DATABASE_OWNER_URL"] else ""
)
# background tasks: workers (manage.py db_worker) on PostgreSQL, a thread of the one process on SQLite
TASKS = {
    "default": {
        "BACKEND": "django_tasks_db.DatabaseBackend"
        if _given["DATABASE_URL"].startswith("postgres")
        else "deploy.background.ThreadBackend"
    }
}
# replies that everybody gets alike, in each process: at most 100 of 160 kB (`evidence/public_replies.py`)
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "TIMEOUT": 3600,
        "OPTIONS": {"MAX_ENTRIES": 100},
    },
    # reference data and settings, in each process (`models/read_once.py`)
    "catalogue": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "LOCATION": "catalogue",
        "TIMEOUT": 3600,
        "OPTIONS": {"MAX_ENTRIES": 200},
    },
    # drawn pictures of releases, for all processes: half a megabyte each at most
    "pictures": {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": BENCHNIGHT_VAR / "pictures",
        "TIMEOUT": 7 * 24 * 3600,
        "OPTIONS": {"MAX_ENTRIES": 500},
    },
}
DATA_UPLOAD_MAX_MEMORY_SIZE = _given["JSON_BYTES"]
DATA_UPLOAD_MAX_NUMBER_FIELDS = 200
DATA_UPLOAD_MAX_NUMBER_FILES = BENCHNIGHT_INTAKE_ENTRIES + 1
FILE_UPLOAD_PERMISSIONS = 0o600

# ---- static files: hashed names, compressed once, cached a year ------------------------------
STATIC_URL = "/static/"
STATIC_ROOT = BENCHNIGHT_VAR / "static"
STATICFILES_DIRS = [ROOT / "measurements" / "pages" / "static"]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "measurements.pages.layout.chart_bundle.ChartBundleFinder",
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
WHITENOISE_MAX_AGE = 60

# ---- accounts and security -------------------------------------------------------------------
AUTH_USER_MODEL = "measurements.Member"
PASSWORD_HASHERS = security.PASSWORD_HASHERS
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ["name"]},
    },
    {"NAME": "measurements.services.accounts.password_rules.LeakedPasswordValidator"},
    {"NAME": "measurements.services.accounts.password_rules.LocalWordsValidator"},
]
LOGIN_URL = "/sign-in/"
CSRF_FAILURE_VIEW = "measurements.pages.layout.error_pages.show_missing_csrf_token"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 14 * 24 * 3600  # unused; used, deploy.middleware ends it
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
# in the session: a cookie of their own would be one more to name, sign and keep private
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
CONTENT_SECURITY_POLICY = security.CONTENT_SECURITY_POLICY
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
globals().update(
    security.build_transport_settings(tls=BENCHNIGHT_TLS, proxies=BENCHNIGHT_PROXIES, hsts=_given["HSTS"])
)

# ---- mail: one list to the stewards, nothing else is sent -----------------------------------
globals().update(mail.parse_mail_url(_given["MAIL_URL"], sender=_given["MAIL_FROM"]))

# ---- REST, words, time and logs --------------------------------------------------------------
REST_FRAMEWORK = rest.REST_FRAMEWORK
SPECTACULAR_SETTINGS = rest.SPECTACULAR_SETTINGS
REST_KNOX = rest.REST_KNOX
KNOX_TOKEN_MODEL = rest.KNOX_TOKEN_MODEL
MIGRATION_MODULES = rest.MIGRATION_MODULES
LANGUAGE_CODE = "en"
USE_I18N = False
# the day and the hour on pages; the API and files say UTC
TIME_ZONE = _given["TIME_ZONE"]
USE_TZ = True
LOGGING = logs.build_logging_settings(_given["LOG_LEVEL"])
