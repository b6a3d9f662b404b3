"""`manage.py mail_due`: mails the stewards which devices are due or unserviceable. A timer runs it."""

from __future__ import annotations

import smtplib
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from measurements.selectors.accounts import viewers
from measurements.selectors.reference import reference
from measurements.selectors.upkeep import due_devices
from measurements.selectors.upkeep.rows import DeviceStateRow


class Command(BaseCommand):
    help = "Mails which devices are due or unserviceable to the addresses in BENCHNIGHT_MAIL_DUE_TO."

    def handle(self, *_args: Any, **options: Any) -> None:
        said = _mail_due_devices()
        if options["verbosity"]:
            self.stdout.write(said)


def _mail_due_devices() -> str:
    """Send what there is to send; answers what became of it."""
    to = settings.BENCHNIGHT_MAIL_DUE_TO
    if not to:
        return "Nobody is to be told: BENCHNIGHT_MAIL_DUE_TO is empty"
    steward = viewers.find_first_steward()
    if steward is None:
        raise CommandError(
            "There is no steward yet whose list this could be: manage.py member NAME --role steward"
        )
    rows = due_devices.list_due_devices(steward)
    if not rows:
        return "Nothing is due: no mail"
    if not settings.EMAIL_HOST:
        raise CommandError(
            "BENCHNIGHT_MAIL_DUE_TO is set, but not BENCHNIGHT_MAIL_URL: say how mail is sent."
        )
    _send_messages([EmailMessage(_format_subject(rows), _format_text(rows), to=[address]) for address in to])
    return f"{_format_device_count(rows)} told to {len(to)} address{'es' if len(to) > 1 else ''}"


def _send_messages(messages: list[EmailMessage]) -> None:
    """One mail to each address: of several in one mail, the library passes over those that are refused."""
    refused = []
    try:
        with get_connection() as connection:
            for number, message in enumerate(messages, start=1):
                try:
                    connection.send_messages([message])
                except smtplib.SMTPRecipientsRefused:
                    refused.append(str(number))
    except (smtplib.SMTPException, OSError) as error:
        # not its text, which may repeat what was sent
        code = getattr(error, "smtp_code", None) or getattr(error, "strerror", None) or "no more is known"
        raise CommandError(
            f"The mail server of BENCHNIGHT_MAIL_URL failed ({type(error).__name__}: {code}). "
            "Not everybody got the mail."
        ) from error
    if refused:
        raise CommandError(
            f"The mail server refused {len(refused)} of {len(messages)} addresses of BENCHNIGHT_MAIL_DUE_TO "
            f"(number {', '.join(refused)}); the others got theirs."
        )


def _format_subject(rows: tuple[DeviceStateRow, ...]) -> str:
    return f"{reference.get_group_name()}: {_format_device_count(rows)} due or unserviceable"


def _format_text(rows: tuple[DeviceStateRow, ...]) -> str:
    """Return tag, owner, state and page of each: no place, no figure, no address that opens without signing
    in.
    """
    site = settings.BENCHNIGHT_SITE.rstrip("/")
    lines = []
    for row in rows:
        lines += [f"{row.tag} of {row.owner}: {row.state}"]
        lines += [f"  {site}{reverse('pages:device', kwargs={'key': row.key})}"]
    return "\n".join([*lines, "", f"All of them: {site}{reverse('pages:devices')}?state=due", ""])


def _format_device_count(rows: tuple[DeviceStateRow, ...]) -> str:
    return "1 device" if len(rows) == 1 else f"{len(rows)} devices"
