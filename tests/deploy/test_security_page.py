"""What deploy/SECURITY.md says in figures and words is what the code does."""

import re

from django.conf import settings

from deploy import middleware
from deploy.virtualenv import ROOT
from measurements.disclosure import field_classes
from measurements.pages.accounts import browser_sessions, reauthentication
from measurements.services.accounts import accounts, password_rules
from measurements.services.upkeep import photo_redrawing

PAGE = " ".join((ROOT / "deploy" / "SECURITY.md").read_text(encoding="utf-8").split())


def test_sessions_and_links():
    days = settings.SESSION_COOKIE_AGE // 86400
    assert (
        f"ends {middleware.MAX_SESSION_AGE.days} days after signing in, and after {days} days without use"
        in PAGE
    )
    assert f"after {accounts.LINK_HOURS} hours, with a newer one" in PAGE
    assert f"opened the session in the last {browser_sessions.LINK_SESSION_S // 60} minutes" in PAGE
    assert f"one of the last {reauthentication.LINK_PROOF_S // 60} minutes does" in PAGE


def test_passwords():
    listed = re.search(r"try here: (.+?), the group's name", PAGE)[1].split(", ")
    assert {word.casefold() for word in listed} == set(password_rules.LOCAL_WORDS)
    rules = {
        rule["NAME"].rsplit(".", 1)[1]: rule.get("OPTIONS", {}) for rule in settings.AUTH_PASSWORD_VALIDATORS
    }
    assert f"At least {rules['MinimumLengthValidator']['min_length']} characters" in PAGE
    assert {"CommonPasswordValidator", "LeakedPasswordValidator", "LocalWordsValidator"} <= set(rules)


def test_sizes_of_files():
    mebibyte = 1024 * 1024
    sweep, body = settings.BENCHNIGHT_SWEEP_BYTES // mebibyte, settings.BENCHNIGHT_BODY_BYTES // mebibyte
    assert f"{sweep} MiB a file, {body} MiB a request" in PAGE
    whole, entries = settings.BENCHNIGHT_INTAKE_BODY_BYTES // mebibyte, settings.BENCHNIGHT_INTAKE_ENTRIES
    out, times = settings.BENCHNIGHT_INTAKE_UNPACKED_BYTES // mebibyte, settings.BENCHNIGHT_INTAKE_RATIO
    assert f"{whole} MiB, {entries} files, {out} MiB unpacked and {times} times the packed size" in PAGE
    jpeg, other = photo_redrawing.MOST_PIXELS_JPEG // 10**6, photo_redrawing.MOST_PIXELS // 10**6
    assert f"{photo_redrawing.MOST_BYTES // mebibyte} MiB; {jpeg} million pixels (JPEG), else {other}" in PAGE


def test_every_class_of_data_is_there():
    section = PAGE.split("## Classes of data")[1].split("## Files")[0]
    assert [name for name in field_classes.CLASS_NAMES if f"| {name} |" not in section] == []
