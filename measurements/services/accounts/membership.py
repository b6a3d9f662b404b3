"""Stewards invite members, give roles, suspend, and end what an account is signed in with.

There is always a steward: no step takes the last one's role, or suspends or removes that account.
"""

from __future__ import annotations

from django.contrib.auth import SESSION_KEY
from django.contrib.auth.hashers import make_password
from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import Count, F

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import (
    AuditEntry,
    Contributor,
    Device,
    IntakeFile,
    Member,
    SignInLink,
    Test,
    token_table,
)
from measurements.services.accounts import accounts
from measurements.services.devices import contributors
from measurements.services.kit import loans
from measurements.services.operations import audit

ACCOUNT_DELETED = "account.delete"


def invite_member(*, by: Viewer, name: str, role: str) -> str:
    """Make an account and answer the secret of its one-time link, which is not kept.

    Raises BenchnightError `account.name`, `account.role`, `account.name_taken`.
    """
    policy.check_steward(by)
    plain = " ".join(name.split())
    accounts.check_account_name(plain)
    _check_role(role)
    with transaction.atomic():
        # a name of the log never means two people
        if AuditEntry.objects.filter(action=ACCOUNT_DELETED, subject__iexact=plain).exists():
            raise _build_name_error("An account of this name was deleted, and the log still names it")
        if Member.objects.filter(name__iexact=plain).exists():
            raise _build_name_error("There is an account of this name")
        Member.objects.create(name=plain, role=role, password=make_password(None))
        audit.record_action(by=by, action="account.invite", subject=plain, role=role)
        return accounts.issue_sign_in_link(name=plain, by=by)


def reissue_sign_in_link(*, by: Viewer, name: str) -> str:
    """Return another one-time link for an account, in place of those not used yet.

    Not for the steward's own: a session that was left open would make itself a new way in.
    Raises BenchnightError `account.not_found`, `account.suspended`, `account.own_link`.
    """
    member = _get_member(by, name)
    if member.pk == by.member_id:
        raise BenchnightError(
            "account.own_link",
            "A link for your own account is made by another steward, or on the server: manage.py member NAME",
            kind="conflict",
        )
    if not member.is_active:
        raise BenchnightError(
            "account.suspended", "This account is suspended; lift that first.", kind="conflict"
        )
    return accounts.issue_sign_in_link(name=member.name, by=by)


def change_member_role(*, by: Viewer, name: str, role: str) -> None:
    """Give an account another role, at once.

    Raises BenchnightError `account.role`, `account.last_steward`.
    """
    member = _get_member(by, name)
    _check_role(role)
    with transaction.atomic():
        if role != Member.Role.STEWARD:
            check_steward_remains(without=member)
        before = member.role
        Member.objects.filter(pk=member.pk).update(role=role)
        audit.record_action(
            by=by, action="account.change_role", subject=member.name, before=before, after=role
        )


def set_kit_keeper(*, by: Viewer, name: str, keeps_kit: bool) -> None:
    """Give an account the right to see and edit the group's kit, or take it away, at once."""
    member = _get_member(by, name)
    with transaction.atomic():
        Member.objects.filter(pk=member.pk).update(keeps_kit=keeps_kit)
        action = "account.give_kit" if keeps_kit else "account.take_kit"
        audit.record_action(by=by, action=action, subject=member.name)


def suspend_member(*, by: Viewer, name: str) -> None:
    """Shut an account at once: its sessions and tokens end; its devices and evidence stay.

    Raises BenchnightError `account.last_steward`, `account.suspended_already`.
    """
    member = _get_member(by, name)
    with transaction.atomic():
        check_steward_remains(without=member)
        if not Member.objects.filter(pk=member.pk, is_active=True).update(is_active=False):
            raise BenchnightError(
                "account.suspended_already", "This account is suspended already.", kind="conflict"
            )
        _end_sign_ins(member)
        audit.record_action(by=by, action="account.suspend", subject=member.name)


def unsuspend_member(*, by: Viewer, name: str) -> None:
    """Open a suspended account again: its password works, its old sessions and tokens do not."""
    member = _get_member(by, name)
    with transaction.atomic():
        Member.objects.filter(pk=member.pk).update(is_active=True)
        audit.record_action(by=by, action="account.unsuspend", subject=member.name)


def revoke_sign_ins(*, by: Viewer, name: str) -> None:
    """End every session, token and unused link of an account; its password stays."""
    member = _get_member(by, name)
    with transaction.atomic():
        _end_sign_ins(member)
        audit.record_action(by=by, action="account.revoke", subject=member.name)


def sign_out_everywhere(*, by: Viewer) -> None:
    """End every session and unused link of the viewer's own account; tokens are revoked by themselves."""
    policy.check_signed_in(by)
    with transaction.atomic():
        Member.objects.filter(pk=by.member_id).update(sessions_ended=F("sessions_ended") + 1)
        SignInLink.objects.filter(member=by.member_id, used_at=None).delete()
        audit.record_action(by=by, action="account.sign_out_everywhere", subject=by.name)


def end_session(*, by: Viewer, key: str) -> None:
    """End one of the viewer's own sessions. key: see `selectors.accounts.credentials`.

    Raises BenchnightError `account.no_such_session`.
    """
    policy.check_signed_in(by)
    with transaction.atomic():
        found = Session.objects.filter(session_key=key).first()
        if found is None or found.get_decoded().get(SESSION_KEY) != str(by.member_id):
            raise BenchnightError(
                "account.no_such_session", "That one has ended already.", kind="not_found", field="session"
            )
        found.delete()
        audit.record_action(by=by, action="account.end_session", subject=by.name)


def check_steward_remains(*, without: Member) -> None:
    """Raise BenchnightError `account.last_steward` where nobody else could do a steward's work.

    Call inside the transaction that takes the steward away. The rows are locked, so that of two stewards
    who suspend each other one waits; SQLite has one writer anyway.
    """
    stewards = Member.objects.select_for_update().filter(role=Member.Role.STEWARD, is_active=True)
    known = set(stewards.order_by("pk").values_list("pk", flat=True))
    if known == {without.pk}:
        raise BenchnightError(
            "account.last_steward",
            "This is the only steward. Make somebody else a steward first.",
            kind="conflict",
        )


def _end_sign_ins(member: Member) -> None:
    Member.objects.filter(pk=member.pk).update(sessions_ended=F("sessions_ended") + 1)
    token_table.get_token_manager().filter(user=member).delete()
    SignInLink.objects.filter(member=member, used_at=None).delete()


def _get_member(by: Viewer, name: str) -> Member:
    policy.check_steward(by)
    found = Member.objects.filter(name=name).first()
    if found is None:
        raise BenchnightError("account.not_found", "There is no account of this name.", kind="not_found")
    return found


def _check_role(role: str) -> None:
    if role not in Member.Role.values:
        raise BenchnightError(
            "account.role", f"Choose one of: {', '.join(Member.Role.values)}.", field="role"
        )


def _build_name_error(why: str) -> BenchnightError:
    return BenchnightError("account.name_taken", f"{why}; choose another.", kind="conflict", field="name")


# A member deletes the own account: everything that is theirs goes with it.
#
# Devices go with their tests, files, inspections and photos, at once; the evidence of them goes with the next
# release. What stays: releases that others copied, and the audit log, whose lines hold the account's name at
# the time and no figure.

WITHDRAWN_NAME = "(withdrawn)"


def delete_account(*, by: Viewer, name: str, password: str = "") -> int:
    """Delete the viewer's own account; answers how many devices went with it.

    name: the account's name, typed again. password: asked for where the account has one.
    Raises BenchnightError `account.name_differs`, `account.password_differs`, `account.last_steward`.
    """
    policy.check_signed_in(by)
    member = Member.objects.get(pk=by.member_id)
    if " ".join(name.split()) != member.name:
        raise BenchnightError(
            "account.name_differs", "Type the account's name as it stands above.", field="name"
        )
    if member.has_usable_password() and not member.check_password(password):
        raise BenchnightError(
            "account.password_differs", "This is not the account's password.", field="password"
        )
    with transaction.atomic():
        check_steward_remains(without=member)
        counts = _count_belongings(member)
        # before the account goes: the line names it as long as it has a name
        audit.record_action(by=by, action=ACCOUNT_DELETED, subject=member.name, **counts)
        own = Test.objects.filter(device__contributor__member=member)
        IntakeFile.objects.filter(test__in=own).update(
            name=WITHDRAWN_NAME, assignment={}, raw=b"", raw_sha256="", reason=""
        )
        own.delete()
        Device.objects.filter(contributor__member=member).delete()
        loans.forget_borrower(member)
        for leaver in Contributor.objects.filter(member=member):
            contributors.forget_leaver(leaver)
        member.delete()
    return counts["devices"]


def _count_belongings(member: Member) -> dict[str, int]:
    devices = Device.objects.filter(contributor__member=member)
    return {
        "devices": devices.count(),
        "tests": devices.aggregate(tests=Count("tests"))["tests"],
    }
