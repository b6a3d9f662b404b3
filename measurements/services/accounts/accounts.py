"""Accounts: made by a command or a steward, entered by a one-time link or a password."""

from __future__ import annotations

import re
import secrets
from datetime import timedelta

from django.contrib.auth import password_validation
from django.contrib.auth.hashers import make_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, FieldError
from measurements.models import Member, SignInLink
from measurements.services.operations import audit, secret_hashes

NAME_PATTERN = re.compile(r"^[\w][\w .\-]{0,62}[\w]$|^[\w]$")

LINK_HOURS = 24


def ensure_member(*, name: str, role: str | None = None, by: Viewer | None = None) -> tuple[int, bool]:
    """Make the account, or give the one there is another role; answers its id and whether it is new.

    Raises BenchnightError `account.name`, `account.role`.
    """
    check_account_name(name)
    if role is not None and role not in Member.Role.values:
        raise BenchnightError(
            "account.role", f"Choose one of: {', '.join(Member.Role.values)}.", field="role"
        )
    with transaction.atomic():
        member, created = Member.objects.get_or_create(
            name=name, defaults={"role": role or Member.Role.MEMBER, "password": make_password(None)}
        )
        if created or (role is not None and member.role != role):
            member.role = role or member.role
            member.save(update_fields=["role"])
            audit.record_action(
                by=by, action="account.ensure", subject=name, role=member.role, created=created
            )
    return member.pk, created


def has_account(*, name: str) -> bool:
    """Tell whether there is an account of this name."""
    return Member.objects.filter(name=name).exists()


def check_account_name(name: str) -> None:
    """Raise BenchnightError `account.name` for what cannot be an account's name."""
    if not NAME_PATTERN.fullmatch(name):
        raise BenchnightError(
            "account.name",
            "A name is 1 to 64 letters, digits, spaces, dots, dashes or underscores; no space at its ends.",
            field="name",
        )


def issue_sign_in_link(*, name: str, by: Viewer | None = None) -> str:
    """Make a one-time sign-in link for the account; answer its secret, which is not kept.

    It ends every link of the account that was not used yet, whoever and whatever made that.
    Raises BenchnightError `account.not_found`.
    """
    member = Member.objects.filter(name=name).first()
    if member is None:
        raise BenchnightError("account.not_found", f"There is no account {name!r}.", kind="not_found")
    secret = secrets.token_urlsafe(24)
    with transaction.atomic():
        # two that are made at once wait for each other here, so that one of them is left
        Member.objects.select_for_update().get(pk=member.pk)
        SignInLink.objects.filter(member=member, used_at=None).delete()
        SignInLink.objects.create(
            member=member,
            secret_sha256=secret_hashes.hash_secret(secret),
            expires_at=timezone.now() + timedelta(hours=LINK_HOURS),
            made_on_server=by is None,
        )
        audit.record_action(by=by, action="account.issue_link", subject=member.name)
    return secret


def redeem_sign_in_link(*, secret: str) -> int:
    """Use up a one-time link and answer the id of its account.

    Raises BenchnightError `account.link_spent` when it is unknown, used, expired or the account suspended.
    """
    now = timezone.now()
    with transaction.atomic():
        links = SignInLink.objects.filter(
            secret_sha256__in=secret_hashes.list_hashes(secret),
            used_at=None,
            expires_at__gt=now,
            member__is_active=True,
        )
        link = links.select_related("member").first()
        # the conditional UPDATE decides between two who hold the same link
        if link is None or not SignInLink.objects.filter(pk=link.pk, used_at=None).update(used_at=now):
            raise BenchnightError(
                "account.link_spent",
                "This sign-in link was used already, is too old or was never one of ours. Ask for a new one.",
                kind="forbidden",
            )
        audit.record_action(by=None, action="account.redeem_link", subject=link.member.name)
    return link.member_id


def was_link_made_on_server(*, secret: str) -> bool:
    """Tell whether a command made this link: such a link opens the account without its second factor."""
    return SignInLink.objects.filter(
        secret_sha256__in=secret_hashes.list_hashes(secret), made_on_server=True
    ).exists()


def authenticate_member(*, name: str, password: str) -> int:
    """Find the id of the account that `name` and `password` open.

    Raises BenchnightError `account.wrong_sign_in`, the same for every reason, after the same work.
    """
    member = Member.objects.filter(name=name).first()
    opened = (member or Member(password=make_password(None))).check_password(password)
    if member is None or not opened or not member.is_active:
        raise BenchnightError(
            "account.wrong_sign_in",
            "Name and password do not go together. Try again, or ask a steward for a one-time link.",
            kind="forbidden",
        )
    return member.pk


def has_password(viewer: Viewer) -> bool:
    """Tell whether the viewer's account has a password, beside one-time links."""
    member = Member.objects.filter(pk=viewer.member_id).first()
    return member is not None and member.has_usable_password()


def check_current_password(*, by: Viewer, password: str) -> None:
    """Raise BenchnightError `account.present_password` where this is not the viewer's own password."""
    policy.check_signed_in(by)
    if not Member.objects.get(pk=by.member_id).check_password(password):
        raise BenchnightError(
            "account.present_password", "This is not the account's present password.", field="present"
        )


def set_password(*, by: Viewer, password: str) -> None:
    """Give the viewer's own account a new password; every other session of it ends.

    The door has made sure who asks. Raises BenchnightError `account.password` with what is weak about it.
    """
    policy.check_signed_in(by)
    member = Member.objects.get(pk=by.member_id)
    try:
        password_validation.validate_password(password, member)
    except ValidationError as error:
        faults = tuple(FieldError("account.password", text, "password") for text in error.messages)
        raise BenchnightError(
            "account.password", " ".join(error.messages), field="password", errors=faults
        ) from error
    with transaction.atomic():
        member.set_password(password)
        member.save(update_fields=["password"])
        audit.record_action(by=by, action="account.set_password", subject=member.name)
