"""Reads every BENCHNIGHT_ variable once, checks it, and says in plain words what is wrong with it.

`SETTINGS` is the catalogue: `deploy/SETTINGS.md` documents the same names and a test compares the two.
Nothing else in the project reads the environment; the rest uses `django.conf.settings`.
"""

from __future__ import annotations

import os
import re
import zoneinfo
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from environs import Env, EnvError
from marshmallow import ValidationError
from marshmallow.validate import URL, Email, Length, OneOf, Range

ROOT = Path(__file__).resolve().parent.parent
MEBIBYTE = 1024 * 1024


@dataclass(frozen=True)
class Setting:
    """One variable: `kind` is a method name of environs.Env; `check` a validator or None."""

    name: str
    kind: str
    default: Any
    check: Callable[[Any], Any] | None = None

    @property
    def variable(self) -> str:
        return f"BENCHNIGHT_{self.name}"


_count = Range(min=1)


def _check_origins(given: list[str]) -> None:
    """Refuse what no browser sends as Origin: scheme, host and port, no slash at the end (RFC 6454)."""
    for each in given:
        if each != "*" and not re.fullmatch(r"https?://[a-z0-9.-]+(:[0-9]{1,5})?", each):
            raise ValidationError(f"{each} is no origin such as https://bench.example.")


def _check_addresses(given: list[str]) -> None:
    for each in given:
        Email()(each)


def _check_time_zone(name: str) -> None:
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValidationError("Give a name of the IANA list, such as Europe/Lisbon.") from error


FACTOR_ROLES = ("member", "operator", "steward")


def _check_factor_roles(given: list[str]) -> None:
    if given not in (["auto"], ["nobody"]) and not set(given) <= set(FACTOR_ROLES):
        raise ValidationError("Give auto, nobody, or roles out of: member, operator, steward.")


SETTINGS: tuple[Setting, ...] = (
    # where things are and who may reach them
    Setting("DATABASE_URL", "str", ""),
    Setting("DATABASE_OWNER_URL", "str", ""),
    Setting("VAR", "path", ROOT / "var"),
    Setting("SECRET_KEY", "str", ""),
    Setting("HOSTS", "list", ["127.0.0.1", "localhost", "[::1]"], Length(min=1)),
    Setting("SITE", "str", "http://127.0.0.1:8000", URL(schemes={"http", "https"}, require_tld=False)),
    Setting("TLS", "bool", False),
    Setting("SECOND_FACTOR_FOR", "list", ["auto"], _check_factor_roles),
    Setting("HSTS", "str", "host", OneOf(["host", "subdomains", "preload"])),
    Setting("PROXIES", "int", 0, Range(min=0, max=5)),
    Setting("DEBUG", "bool", False),
    Setting("WORKERS", "int", 0, Range(min=0, max=64)),
    Setting("LOG_LEVEL", "str", "INFO", OneOf(["DEBUG", "INFO", "WARNING", "ERROR"])),
    # the group and its rules
    Setting("GROUP_NAME", "str", "Benchnight", Length(min=1, max=80)),
    Setting("DATA_TERMS", "str", "", Length(max=400)),
    Setting("REGION", "int", 2, OneOf([1, 2, 3])),
    Setting("TIME_ZONE", "str", "UTC", _check_time_zone),
    Setting("MIN_CONTRIBUTORS", "int", 3, Range(min=2)),
    Setting("PUBLIC_MIN_CONTRIBUTORS", "int", 5, Range(min=2)),
    Setting("MIN_JOINERS", "int", 3, Range(min=3)),
    Setting("DETAIL_MIN_CONTRIBUTORS", "int", 10, Range(min=5)),
    # whom to tell by mail, and how
    Setting("MAIL_URL", "str", ""),
    Setting("MAIL_FROM", "str", "benchnight@localhost", Email()),
    Setting("MAIL_DUE_TO", "list", [], _check_addresses),
    # public keys that backups are encrypted to
    Setting("BACKUP_KEYS", "list", []),
    # which other sites' scripts may read in a browser: what is public, and with a token
    Setting("PUBLIC_ORIGINS", "list", ["*"], _check_origins),
    Setting("TOKEN_ORIGINS", "list", [], _check_origins),
    # limits on how often
    Setting("ANONYMOUS_PER_MINUTE", "int", 60, _count),
    Setting("TOKEN_PER_MINUTE", "int", 300, _count),
    Setting("ANALYSE_PER_MINUTE", "int", 20, _count),
    Setting("DRAWINGS_PER_MINUTE", "int", 120, _count),
    Setting("SIGN_IN_PER_MINUTE", "int", 5, _count),
    Setting("UPLOADS_PER_HOUR", "int", 60, _count),
    Setting("CLAIMS_PER_HOUR", "int", 10, _count),
    # limits on how much
    Setting("MEMBER_BYTES", "int", 500 * MEBIBYTE, _count),
    Setting("SWEEP_BYTES", "int", 8 * MEBIBYTE, Range(min=1, max=8 * MEBIBYTE)),
    Setting("SWEEP_POINTS", "int", 50_000, Range(min=1, max=50_000)),
    Setting("JSON_BYTES", "int", 2 * MEBIBYTE, _count),
    Setting("SMALL_JSON_BYTES", "int", 64 * 1024, _count),
    Setting("BODY_BYTES", "int", 9 * MEBIBYTE, _count),
    Setting("INTAKE_BODY_BYTES", "int", 60 * MEBIBYTE, _count),
    Setting("INTAKE_ENTRIES", "int", 500, _count),
    Setting("INTAKE_UNPACKED_BYTES", "int", 100 * MEBIBYTE, _count),
    Setting("INTAKE_RATIO", "int", 50, _count),
)


# what a file may hold in place of the variable, which then has _FILE at its end: a container's secret, a
# credential of systemd
FROM_FILES = ("DATABASE_URL", "DATABASE_OWNER_URL", "SECRET_KEY", "MAIL_URL")
# commands that change tables
OWNER_COMMANDS = ("migrate", "grant_rights", "restore", "transfer")
OWNER_SCRIPTS = ("prepare.py",)


def read_environment() -> dict[str, Any]:
    """Read every setting by its name without the prefix.

    Raises ImproperlyConfigured naming the variable and what it accepts.
    """
    if "BENCHNIGHT_MIN_CHANGES" in os.environ:
        raise ImproperlyConfigured(
            "BENCHNIGHT_MIN_CHANGES is gone: a design's evidence now changes when enough people join it "
            "together. "
            "Remove it; BENCHNIGHT_MIN_JOINERS (3) takes its place, see deploy/SETTINGS.md."
        )
    env = Env()
    values: dict[str, Any] = {}
    for setting in SETTINGS:
        try:
            values[setting.name] = getattr(env, setting.kind)(
                setting.variable, default=setting.default, validate=setting.check
            )
        except EnvError as error:
            raise ImproperlyConfigured(
                f"{setting.variable} cannot be used: {error} See deploy/SETTINGS.md for what it accepts."
            ) from error
    values.update(_read_files())
    if values["DATABASE_OWNER_URL"] and not values["DATABASE_URL"].startswith("postgres"):
        raise ImproperlyConfigured(
            "BENCHNIGHT_DATABASE_OWNER_URL is for PostgreSQL: give BENCHNIGHT_DATABASE_URL too, with the "
            "role that serves."
        )
    if values["PUBLIC_MIN_CONTRIBUTORS"] < values["MIN_CONTRIBUTORS"]:
        raise ImproperlyConfigured(
            "BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS must not be below BENCHNIGHT_MIN_CONTRIBUTORS: "
            "the public would see what members may not."
        )
    if values["DETAIL_MIN_CONTRIBUTORS"] < values["PUBLIC_MIN_CONTRIBUTORS"]:
        raise ImproperlyConfigured(
            "BENCHNIGHT_DETAIL_MIN_CONTRIBUTORS must not be below BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS: "
            "percentiles would be shown of fewer people than a median."
        )
    return values


def _read_files() -> dict[str, str]:
    """Read the settings that are given by the name of a file; blanks at the ends do not count."""
    values = {}
    for name in FROM_FILES:
        variable = f"BENCHNIGHT_{name}"
        path = os.environ.get(f"{variable}_FILE", "")
        if not path:
            continue
        if os.environ.get(variable):
            raise ImproperlyConfigured(f"Give {variable} or {variable}_FILE, not both.")
        try:
            values[name] = Path(path).read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError) as error:
            # the error names the file, never what is in it
            raise ImproperlyConfigured(f"{variable}_FILE cannot be read: {path}.") from error
        if not values[name]:
            raise ImproperlyConfigured(f"{variable}_FILE is empty: {path}.")
    return values


def choose_database_url(given: Mapping[str, Any], arguments: Sequence[str]) -> str:
    """Choose the role by what was started: the owner of the tables only for what changes tables.

    arguments: as in `sys.argv`.
    """
    script, *rest = [Path(arguments[0]).name, *arguments[1:]] if arguments else [""]
    changes = script in OWNER_SCRIPTS or (script == "manage.py" and rest[:1] and rest[0] in OWNER_COMMANDS)
    owner: str = given["DATABASE_OWNER_URL"]
    return owner if owner and changes else str(given["DATABASE_URL"])


def choose_second_factor_roles(given: Mapping[str, Any]) -> tuple[str, ...]:
    """Choose the roles that need a second factor: with `auto` operators and stewards where there is TLS.

    Without TLS the server runs on somebody's own machine: browsers offer no passkey there, and a password
    that anybody on the way reads is not saved by a code that is read with it.
    """
    roles = given["SECOND_FACTOR_FOR"]
    if roles == ["auto"]:
        return ("operator", "steward") if given["TLS"] else ()
    return () if roles == ["nobody"] else tuple(roles)


def count_processes(given: Mapping[str, Any]) -> int:
    """Count the processes that serve: one on SQLite; else BENCHNIGHT_WORKERS, or one a processor."""
    if not given["DATABASE_URL"].startswith("postgres"):
        return 1
    return given["WORKERS"] or os.cpu_count() or 1
